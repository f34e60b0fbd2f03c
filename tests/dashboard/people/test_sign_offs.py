"""Sheets that someone signs off: for the readings that were looked at, under the name of who is signed in."""

import json

import pytest

from dashboard.commands import SAMPLES
from dashboard.parts.answers import Answers
from dashboard.server import rendered
from tracker.job import load_job
from tracker.readings import read_readings


@pytest.fixture
def pressed(shop):
    """Return a shop with the sample job of rest buttons, and its number."""
    folder = SAMPLES / "rest_buttons"
    job = load_job(folder)
    number = shop.record.add_job(job.text, "lead").id
    shop.record.add_readings(number, read_readings(folder, job), "lead")
    return shop, number


def seen(shop, number):
    return Answers(shop.record).of(number).check.readings.fingerprint


def page_of(shop, number, role, path="/sheets", search="&sheet=bench", answers=None):
    import flask

    with shop.server.test_request_context(path):
        if role:
            flask.g.person = next(user for user in shop.record.users() if user.name == role)
        page, _ = rendered(answers or Answers(shop.record), path, f"?job={number}{search}")
        return json.dumps(page.to_plotly_json(), default=lambda item: item.to_plotly_json(), ensure_ascii=False)


def test_a_sheet_is_signed_off_and_says_so_until_the_readings_change(pressed):
    shop, number = pressed
    client = shop.browser("signs off")
    body = {"sheet": "bench", "fit": "button_in_plate", "fingerprint": seen(shop, number), "by": "someone"}
    answer = client.post(f"/api/jobs/{number}/sign-offs", json=body)
    assert answer.status_code == 200
    assert (answer.json["signed"]["by"], answer.json["signed"]["verdict"]) == ("signs off", "remake")
    sheet = client.get(f"/sheets/bench.html?job={number}&fit=button_in_plate").get_data(as_text=True)
    assert "Signed off by signs off" in sheet
    assert "as: remake." in sheet
    assert "no longer holds" not in sheet
    assert "Signed off by" not in client.get(f"/sheets/report.html?job={number}").get_data(as_text=True)
    assert "Signed off by signs off" in page_of(shop, number, "reads")
    assert '"sign it off"' not in page_of(shop, number, "signs off")
    assert '"sign it off"' in page_of(shop, number, "administers")
    shop.record.add_reading(number, "shank", "12", ".62571", client_id="late")
    sheet = client.get(f"/sheets/bench.html?job={number}&fit=button_in_plate").get_data(as_text=True)
    assert "It no longer holds: the readings have changed." in sheet
    assert "not as it is now" in page_of(shop, number, "reads")
    again = client.post(f"/api/jobs/{number}/sign-offs", json=body)
    assert again.status_code == 409
    assert len(shop.record.sign_offs(number)) == 1


def test_another_revision_ends_it_too(pressed):
    shop, number = pressed
    body = {"sheet": "report", "fingerprint": seen(shop, number)}
    assert shop.browser("administers").post(f"/api/jobs/{number}/sign-offs", json=body).status_code == 200
    text = shop.record.job_text(number)
    shop.record.revise_job(number, text + "\n# another word\n", "lead")
    sheet = shop.browser("reads").get(f"/sheets/report.html?job={number}").get_data(as_text=True)
    assert "It no longer holds: it was by revision 1 of the job." in sheet


@pytest.mark.parametrize(
    ("body", "status"),
    [
        ({"sheet": "bench"}, 400),
        ({"sheet": "none", "fingerprint": "x"}, 400),
        ({"sheet": "bench", "fit": "none", "fingerprint": "x"}, 400),
        ({"sheet": "report", "feature": "none", "fingerprint": "x"}, 400),
        ({"sheet": "bench", "fingerprint": "x"}, 409),
    ],
)
def test_what_cannot_be_signed_is_said(pressed, body, status):
    shop, number = pressed
    answer = shop.browser("signs off").post(f"/api/jobs/{number}/sign-offs", json=body)
    assert answer.status_code == status
    assert shop.browser("signs off").post("/api/jobs/99/sign-offs", json=body).status_code in (400, 404)
    assert shop.record.sign_offs(number) == []


def test_without_a_sign_in_nobody_signs(pressed, shop_of):
    from dashboard.people.door import Door

    shop, number = pressed
    client = shop_of(shop.record, Door()).browser()
    body = {"sheet": "bench", "fingerprint": seen(shop, number)}
    answer = client.post(f"/api/jobs/{number}/sign-offs", json=body)
    assert answer.status_code == 400
    assert "sign in first" in answer.json["error"]
    assert "Not signed off yet" not in page_of(shop, number, "")


def test_a_page_that_was_made_for_one_is_not_shown_to_another(pressed):
    shop, number = pressed
    answers = Answers(shop.record)
    for path, search, words in (("/sheets", "&sheet=bench", '"sign it off"'), ("/gauges", "", '"gauge-form"')):
        for role, there in (("signs off", True), ("reads", False), ("administers", True), ("logs", False)):
            text = page_of(shop, number, role, path, search, answers)
            assert (words in text) == there, (path, role)
            assert "You stand for it as" not in text or f"You stand for it as {role}:" in text
