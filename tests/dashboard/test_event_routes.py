"""Events over HTTP: kept once, refused in words."""

import pytest

from dashboard.commands import load_samples
from dashboard.server import create_app
from tracker.record import open_record


@pytest.fixture
def bench(tmp_path):
    """Return a client, its record and the number of its first job."""
    with open_record(tmp_path / "events.sqlite") as record:
        number = load_samples(record)[0]
        yield create_app(record).server.test_client(), record, number


GOOD = {"feature": "pin", "after_piece": "40", "event": "dressing", "client_id": "one"}


def test_an_event_sent_twice_is_kept_once(bench):
    client, record, number = bench
    before = len(record.events(number))
    first = client.post(f"/api/jobs/{number}/events", json=GOOD)
    again = client.post(f"/api/jobs/{number}/events", json=GOOD)
    assert (first.status_code, again.status_code) == (200, 200)
    assert first.json == again.json
    assert len(record.events(number)) == before + 1


@pytest.mark.parametrize(
    ("change", "status", "words"),
    [
        ({"feature": "none"}, 404, "no feature"),
        ({"event": "sneeze"}, 400, "no event"),
        ({"client_id": ""}, 400, "client_id is missing"),
        ({"amount": "much"}, 400, "amount is"),
        ({"amount": True}, 400, "amount is"),
    ],
    ids=str,
)
def test_what_makes_no_sense_is_refused(bench, change, status, words):
    client, record, number = bench
    before = len(record.events(number))
    answer = client.post(f"/api/jobs/{number}/events", json=GOOD | change)
    assert answer.status_code == status
    assert words in answer.json["error"]
    assert len(record.events(number)) == before


def test_other_sites_and_unknown_jobs_are_refused(bench):
    client, _, number = bench
    assert client.post(f"/api/jobs/{number}/events", json=GOOD, headers={"Origin": "http://evil"}).status_code == 403
    assert client.post("/api/jobs/987654/events", json=GOOD).status_code == 404
    assert client.post(f"/api/jobs/{number}/events", data="x").status_code == 415
