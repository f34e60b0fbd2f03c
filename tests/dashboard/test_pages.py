"""Pages are laid out from results; every state has something to say, and the address holds all of it."""

import datetime
import json
import math
import re
from html import unescape

import pytest
from click.testing import CliRunner
from dash import html

from dashboard.parts.address import Address, read_address
from dashboard.parts.answers import Answers
from dashboard.parts.badge import GO, STOP, WORK, form_of
from dashboard.server import PAGES, create_app, page_at, rendered
from dashboard.sheets.shelf import SHEETS, make_sheet
from tracker.cli.entrance import tenthwise
from tracker.record import open_record

WHEN = datetime.datetime(2026, 11, 25, 14, 5)
JOBS = ["rest_buttons", "guide_pins", "coupling_pins"]


def words_of(component) -> str:
    """Return all text of a component, as it would be sent to the browser."""
    return json.dumps(component.to_plotly_json(), cls=_Encoder, ensure_ascii=False)


class _Encoder(json.JSONEncoder):
    def default(self, value):
        return value.to_plotly_json()


@pytest.mark.parametrize("unit", ["", "in", "mm"])
@pytest.mark.parametrize("job", JOBS)
@pytest.mark.parametrize("page", [name for name in PAGES if name != "log"])
def test_each_page_asks_and_answers(answers, numbers_of, page, job, unit):
    found, address, _ = page_at(answers, Address(page=page, job=numbers_of[job], unit=unit))
    assert found.question.endswith("?")
    assert found.answer.endswith(".")
    assert address.job == numbers_of[job]
    component, mark = rendered(answers, f"/{page}", address.query)
    assert mark == answers.mark()
    text = words_of(component)
    assert found.job in text
    assert "nan" not in text.lower().replace("nance", "").replace("\\u", "")


def test_the_list_of_jobs_shows_each_verdict(answers, numbers_of):
    component, _ = rendered(answers, "/", "")
    text = words_of(component)
    for number in numbers_of.values():
        answer = answers.of(number)
        assert answer.check.job in text
        assert all(fit.verdict.word in text for fit in answer.check.fits)


def test_pages_and_results_give_the_same_numbers(answers, numbers_of):
    answer = answers.of(numbers_of["rest_buttons"])
    text = words_of(rendered(answers, "/fit", f"?job={numbers_of['rest_buttons']}")[0])
    fit, numbers = answer.check.fits[0], answer.numbers("bore", "shank")
    for row in fit.pairs:
        assert numbers.off(row.gap) in text
        assert numbers.size(row.internal_size)[-2:] in text


PLAIN = """[job]
name = "odd"
unit = "in"
[features.bore]
kind = "internal"
nominal = 0.625
lower = 0.6250
upper = 0.6257
[features.shank]
kind = "external"
nominal = 0.6255
[fits.one]
internal = "bore"
external = "shank"
gap = [-0.0009, -0.0003]
"""


@pytest.fixture
def odd(tmp_path):
    """Return judged jobs of a record with one job and no readings, and its number."""
    with open_record(tmp_path / "odd.sqlite") as record:
        number = record.add_job(PLAIN, client_id="odd").id
        yield Answers(record), number


@pytest.mark.parametrize("count", [0, 1, 2, 60])
@pytest.mark.parametrize("page", [name for name in PAGES if name != "log"])
def test_any_number_of_pieces_gives_a_page(odd, page, count):
    answers, number = odd
    for index in range(count):
        for feature, size in (("bore", 0.6253), ("shank", 0.6259)):
            text = f"{size + 0.00001 * (index * 7 % 11):.5f}"
            answers.record.add_reading(number, feature, str(index + 1), text, client_id=f"{feature} {index}")
    for feature in ("bore", "shank"):
        found, _, _ = page_at(answers, Address(page=page, job=number, feature=feature))
        assert found.answer
        assert found.body


def test_one_side_alone_says_what_is_missing(odd):
    answers, number = odd
    answers.record.add_reading(number, "bore", "1", "0.6253", client_id="1")
    found, _, _ = page_at(answers, Address(page="fit", job=number))
    assert found.word == "cannot say"
    assert "no shank is measured" in found.answer


def test_gap_limits_that_overstress_a_part_are_no_press_on_any_page_or_sheet(tmp_path):
    """Every pair is within its limits, in any order, and the plate does not stand that: all say what check says."""
    press = "press = { length = 0.375, outer = 1.0, outer_yield = 20000 }"
    with open_record(tmp_path / "odd.sqlite") as record:
        number = record.add_job(f"{PLAIN}{press}\n", client_id="odd").id
        for index in range(6):
            for feature, size in (("bore", 0.6252), ("shank", 0.6258)):
                text = f"{size + 0.00001 * (index * 5 % 6):.5f}"
                record.add_reading(number, feature, str(index + 1), text, client_id=f"{feature} {index}")
        answers = Answers(record)
        answer = answers.of(number)
        fit = answer.check.fits[0]
        assert fit.pairing.good == 6
        assert fit.do_not_press
        done = CliRunner().invoke(tenthwise, ["check", str(number), "--record", str(tmp_path / "odd.sqlite")])
        assert done.exit_code == 2
        assert "Do not press: " in done.output
        assert "PRESS AS THEY COME" not in done.output
        for page in ("fit", "plan"):
            found, _, _ = page_at(answers, Address(page=page, job=number))
            assert found.answer == "Do not press: a part yields."
            assert found.word == "cannot say"
            assert fit.verdict.reason in found.reasons
        for page in ("", *(name for name in PAGES if name != "log")):
            text = words_of(rendered(answers, f"/{page}", f"?job={number}")[0])
            assert "press as they come" not in text
            assert "Any order is sure enough" not in text
            if page in ("", "fit", "plan"):
                assert "Do not press: with 36 of 36 pairs the outer part passes its strength" in text
        for sheet in SHEETS:
            if sheet == "closures":
                continue
            text = re.sub(r"<[^>]+>", " ", make_sheet(answer, sheet, by="", when=WHEN).document())
            text = " ".join(unescape(text).replace("\N{MINUS SIGN}", "-").split())
            assert "Any shank into any bore" not in text
            assert "lbf" not in text.replace("lbf·in", "")
            if sheet != "set-up":
                assert fit.verdict.action in text


@pytest.mark.parametrize("unit", ["", "mm"])
def test_pieces_known_from_one_side_only_are_refused_on_every_page_and_sheet(odd, unit):
    """A pin that goes bounds a bore from below only: no page offers a pair, a size or a cut that rests on it."""
    answers, number = odd
    for index in range(6):
        for feature, text in (("bore", "goes .6252"), ("shank", "0.6259")):
            answers.record.add_reading(number, feature, str(index + 1), text, client_id=f"{feature} {index}")
    said = "known from one side only"
    for page in (name for name in PAGES if name != "log"):
        found, _, _ = page_at(answers, Address(page=page, job=number, feature="bore", unit=unit))
        assert found.answer
        assert "Yes" not in found.answer
        if page not in ("gauges", "sheets"):  # a gauge is not judged by the sizes it gave
            text = f"{found.answer} {' '.join(found.reasons)} {words_of(html.Div(found.body))}"
            assert said in text, page
            assert "no bore is measured" not in text.lower(), page
    fit, _, _ = page_at(answers, Address(page="fit", job=number, unit=unit))
    assert fit.word == "measure better"
    answer = answers.of(number, unit)
    for name in ("bench", "labels", "report", "set-up"):
        feature = "bore" if name == "set-up" else ""
        sheet = make_sheet(answer, name, feature=feature, by="bench 2", when=datetime.datetime(2026, 11, 25))
        assert said in unescape(sheet.document()), name


def test_a_new_reading_changes_the_answer(odd):
    answers, number = odd
    before = answers.of(number)
    assert answers.of(number) is before
    answers.record.add_reading(number, "bore", "1", "0.6253", client_id="1")
    assert answers.of(number).check.readings.good == before.check.readings.good + 1


def test_a_job_that_is_not_there_is_said(answers):
    component, _ = rendered(answers, "/fit", "?job=987654")
    assert "This page cannot be shown." in words_of(component)


def test_an_empty_record_says_how_to_begin(tmp_path):
    with open_record(tmp_path / "new.sqlite") as record:
        for path in ("/", "/fit", "/wear"):
            assert "The record is empty" in words_of(rendered(Answers(record), path, "")[0])


@pytest.mark.parametrize(
    "address",
    [Address(), Address(page="fit", job=3, fit="a & b", unit="mm"), Address(page="wear", job=1, feature="é=?")],
    ids=str,
)
def test_an_address_is_read_as_it_was_written(address):
    path, _, query = address.href.partition("?")
    assert read_address(path, f"?{query}" if query else "") == address


@pytest.mark.parametrize("search", ["?job=x", "?job=-1", "?job=1e9", "?job=" + "9" * 40, "?unit=furlong", "?%ff=&&&"])
def test_an_address_that_makes_no_sense_is_passed_over(search):
    assert read_address("/fit", search) == Address(page="fit")


def test_every_verdict_word_has_a_form():
    from tracker.decide import verdicts

    words = {"press as they come", "pair", "sort", "rework", "remake", "measure better", "cannot say"}
    assert words <= {*GO, *WORK, *STOP}
    assert form_of("pair") == "go"
    assert form_of("rework") == "work"
    assert form_of("remake") == "stop"
    assert verdicts is not None


@pytest.fixture
def client(record):
    """Return a client that speaks to the app without a network."""
    return create_app(record).server.test_client()


def test_health_answers_ok(client):
    found = client.get("/health")
    assert (found.status_code, found.text) == (200, "ok")


def test_health_says_when_the_record_cannot_be_read(tmp_path):
    with open_record(tmp_path / "gone.sqlite") as record:
        there = create_app(record).server.test_client()
        path = tmp_path / "gone.sqlite"
        record.close()
        path.write_bytes(b"no database at all" * 100)
        assert there.get("/health").status_code == 503


def test_every_answer_is_guarded(client):
    for path in ("/", "/health", "/theme.css", "/nothing", "/pictures/none.svg"):
        headers = client.get(path).headers
        policy = headers["Content-Security-Policy"]
        assert "default-src 'none'" in policy
        assert "unsafe-eval" not in policy
        assert "'unsafe-inline'" not in policy.partition("script-src")[2]
        assert headers["X-Content-Type-Options"] == "nosniff"
        assert headers["X-Frame-Options"] == "DENY"
        assert headers["Cross-Origin-Resource-Policy"] == "same-origin"


@pytest.mark.parametrize(
    ("cookie", "attribute"), [("dark", ' data-theme="dark"'), ("light", ' data-theme="light"'), ('"><script>', "")]
)
def test_the_first_paint_is_in_the_chosen_theme(client, cookie, attribute):
    client.set_cookie("tenthwise-theme", cookie)
    assert f'<html lang="en"{attribute}>' in client.get("/").text


def test_pictures_are_served_at_a_width(client, numbers_of):
    number = numbers_of["rest_buttons"]
    found = client.get(f"/pictures/batches.svg?job={number}&width=640")
    assert found.mimetype == "image/svg+xml"
    assert 'width="640"' in found.text
    assert client.get("/pictures/batches.svg?job=987654&width=640").status_code == 404
    assert client.get(f"/pictures/none.svg?job={number}").status_code == 404
    assert client.get(f"/pictures/batches.svg?job={number}&width=wide").status_code == 400
    assert 'width="2000"' in client.get(f"/pictures/batches.svg?job={number}&width=999999").text


def test_a_page_asks_nothing_of_the_network(client):
    text = client.get("/").text
    assert "http://" not in text.replace("http://localhost", "")
    assert "https://" not in text


def test_a_job_is_judged_once_however_many_ask(odd):
    from concurrent.futures import ThreadPoolExecutor

    answers, number = odd
    answers.record.add_reading(number, "bore", "1", "0.6253", client_id="1")
    with ThreadPoolExecutor(8) as pool:
        found = list(pool.map(lambda _: answers.of(number), range(16)))
    assert len({id(answer) for answer in found}) == 1


def test_a_page_is_made_once_for_each_change_and_each_address(odd):
    found, number = odd
    made = []

    def make(answer, asked):
        made.append(asked)
        return len(made)

    first = found.of(number)
    assert [found.made(make, first, "a"), found.made(make, first, "a"), found.made(make, first, "b")] == [1, 1, 2]
    found.record.add_reading(number, "bore", "1", "0.6254", client_id="once more")
    assert found.made(make, found.of(number), "a") == 3
    assert made == ["a", "b", "a"]


def test_a_record_that_cannot_be_read_is_looked_at_again(tmp_path):
    path = tmp_path / "gone.sqlite"
    with open_record(path) as record:
        record.close()
        path.write_bytes(b"no database at all" * 100)
        component, mark = rendered(Answers(record), "/fit", "?job=1")
    assert mark == -1
    assert "This page cannot be shown." in words_of(component)


def test_pairs_that_need_work_are_listed_and_no_piece_twice(answers, numbers_of):
    number = numbers_of["rest_buttons"]
    fit = answers.of(number).check.fits[0]
    assert fit.verdict.word == "remake"
    text = words_of(rendered(answers, "/fit", f"?job={number}")[0])
    new = [item for item in fit.plan.pairs if item.way == "new external"]
    assert f"{len(new)} more pair" in text.lower().replace("two", "2").replace("one", "1").replace("three", "3")
    assert "press as is" not in text


def spans_of(component, name):
    """Return (left, width) in percent of the spans of a class in a component."""
    plain = json.loads(words_of(component))
    found = []

    def walk(node):
        if isinstance(node, dict):
            if node.get("className") == name:
                style = node["style"]
                found.append(tuple(float(style[key].rstrip("%")) for key in ("left", "width")))
            for value in node.values():
                walk(value)
        elif isinstance(node, list):
            for value in node:
                walk(value)

    walk(plain)
    return found


def test_what_all_pairs_share_is_a_sway_of_the_rails_and_no_part_of_a_whisker(answers, numbers_of):
    answer = answers.of(numbers_of["rest_buttons"])
    fit = answer.check.fits[0]
    inner, outer = (answer.check.feature(name).sizes for name in (fit.internal, fit.external))
    common = math.hypot(inner.common_uncertainty, outer.common_uncertainty)
    assert 0 < common < fit.pairs[0].uncertainty
    body = html.Div(page_at(answers, Address(page="fit", job=numbers_of["rest_buttons"]))[0].body)
    sways, whiskers = spans_of(body, "sway"), spans_of(body, "reach")
    assert len(sways) == 2 * len(fit.pairs)
    assert len(whiskers) == len(fit.pairs)
    assert {width for _, width in sways} == {sways[0][1]}
    per_length = sways[0][1] / (2 * 1.96 * common)
    for row, (left, width) in zip(fit.pairs, whiskers):
        assert width / per_length / (2 * 1.96) == pytest.approx(math.sqrt(row.uncertainty**2 - common**2), rel=0.01)
        assert (left + width / 2 - sways[0][0] - sways[0][1] / 2) / per_length == pytest.approx(
            row.gap - fit.gap_lower, rel=0.01
        )
    assert "it moves them together" in words_of(body)


def test_a_job_that_asks_for_no_fit_is_not_counted_as_waiting(answers, numbers_of):
    text = words_of(rendered(answers, "/", "")[0])
    assert "No fit is stated: four features by themselves." in text
    waiting = [name for name in numbers_of if answers.of(numbers_of[name]).check.fits]
    good = ("press as they come", "pair")
    go = sum(answers.of(numbers_of[name]).check.verdict.word in good for name in waiting)
    words = {1: "one", 2: "two", 3: "three", 4: "four", 5: "five"}
    rest = len(waiting) - go
    assert (
        f"{words[go].capitalize()} jobs go together, {words[rest]} {'needs' if rest == 1 else 'need'} work first."
        in text
    )


def test_the_new_pieces_of_a_plan_are_entered_before_the_next_batch(answers, numbers_of):
    """Two numbers, both counted from how the machine stands now: they do not come on top of one another."""
    text = words_of(rendered(answers, "/next", f"?job={numbers_of['rest_buttons']}&feature=shank")[0])
    (planned,) = answers.of(numbers_of["rest_buttons"]).check.fits[0].planned_cuts
    first, after = text.index("First, two new shanks of the plan"), text.index("For a batch after them")
    assert first < text.index(f"{planned.offset:+.4f}", first) < after
    assert "from how the machine stands now" in text[first:after]
    assert "on top of what is entered" not in text
    alone = words_of(rendered(answers, "/next", f"?job={numbers_of['guide_pins']}")[0])
    assert "of the plan" not in alone
