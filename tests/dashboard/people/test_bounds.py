"""Requests that no page of ours sends: each is refused with a sentence, none ends in a fault of the server."""

import contextlib
import socket

import pytest

from dashboard.bounds import CALLBACKS, callback_fault
from dashboard.loopback import serving

TURN = "..room.children...mark.data.."


def turn(**more):
    """Return the body that a page sends to be drawn."""
    where = [{"id": "where", "property": name, "value": value} for name, value in (("pathname", "/"), ("search", ""))]
    outputs = [{"id": "room", "property": "children"}, {"id": "mark", "property": "data"}]
    return {"output": TURN, "outputs": outputs, "inputs": where, "changedPropIds": ["where.pathname"]} | more


def test_a_page_is_drawn(shop):
    answer = shop.browser("reads").post(CALLBACKS, json=turn())
    assert answer.status_code == 200
    assert "room" in answer.json["response"]


OTHERS = {
    "no inputs": turn(inputs=[]),
    "inputs of another": turn(inputs=[{"id": "x", "property": "y", "value": ""}] * 2),
    "inputs that are none": turn(inputs=[5, None]),
    "a path that is an object": turn(
        inputs=[
            {"id": "where", "property": "pathname", "value": {"a": 1}},
            {"id": "where", "property": "search", "value": []},
        ]
    ),
    "state where there is none": turn(state=[{"id": "mark", "property": "data", "value": 1}]),
    "no outputs": turn(outputs=None),
    "outputs that are none": turn(outputs=["room", "mark"]),
    "changed is a number": turn(changedPropIds=5),
    "an output that is not there": turn(output="room.children"),
    "two outputs as a list": turn(output=["room.children"]),
}


@pytest.mark.parametrize("kind", OTHERS)
@pytest.mark.parametrize("role", ["reads", "administers"])
def test_a_callback_that_no_page_sends_is_refused(shop, role, kind):
    answer = shop.browser(role).post(CALLBACKS, json=OTHERS[kind])
    assert answer.status_code in (400, 403), answer.data
    assert answer.json["error"]


@pytest.mark.parametrize(
    "path", [CALLBACKS, "/api/jobs/1/readings", "/api/jobs/1/events", "/api/job-check", "/api/people"]
)
@pytest.mark.parametrize("data", ["[" * 100_000, '{"a":' * 100_000, "nope", '{"amount": NaN}', "", "1" * 5000])
def test_a_body_that_cannot_be_read_is_refused(shop, path, data):
    answer = shop.browser("administers").post(path, data=data, headers={"Content-Type": "application/json"})
    assert answer.status_code == 400, answer.data
    assert answer.json["error"]


def test_a_number_that_is_none_is_kept_by_nobody(shop):
    for amount in ("NaN", "Infinity", "-Infinity", "1e999", "1" * 400):
        body = f'{{"feature": "shank", "after_piece": "1", "event": "dressing", "client_id": "a", "amount": {amount}}}'
        answer = shop.browser("logs").post(
            "/api/jobs/1/events", data=body, headers={"Content-Type": "application/json"}
        )
        assert answer.status_code == 400, (amount, answer.data)
    assert shop.record.events(1) == []


@pytest.mark.parametrize("number", [2**31, 2**63, 10**30])
def test_a_number_larger_than_a_record_counts_is_of_nothing(shop, number):
    client = shop.browser("administers")
    for path in (f"/api/jobs/{number}/log", f"/exports/{number}.csv", f"/api/jobs/{number}/form"):
        assert client.get(path).status_code == 404, path
    for path in (f"/api/jobs/{number}/readings", f"/api/readings/{number}/strike", f"/api/readings/{number}/keep"):
        assert client.post(path, json={"reason": "x"}).status_code in (404, 405), path


@pytest.mark.parametrize("path", ["/api/nothing", "/pictures/..%2fx.svg", "/exports/1.csv/x", "/assets//etc/passwd"])
def test_nothing_is_at_an_address_that_is_none(shop, path):
    answer = shop.browser("reads").get(path)
    assert answer.status_code == 404
    assert answer.json["error"]


@pytest.mark.parametrize("path", ["dash/dash.py", "os/path.py", "dash/..%2f..%2fetc/passwd", "nothing/x.js"])
def test_only_the_files_of_pages_are_given_out(shop, path):
    assert shop.browser().get(f"/_dash-component-suites/{path}").status_code == 404


def test_what_an_old_page_left_out_is_no_fault():
    known = {"a.b": {"inputs": [{"id": "x", "property": "y"}], "state": [], "output": ["one"]}}
    body = {"output": "a.b", "inputs": [{"id": "x", "property": "y"}], "outputs": [{"id": "a", "property": "b"}]}
    assert callback_fault(body, known) is None


def test_a_reading_that_is_not_there_is_no_fault_of_the_record(shop):
    client = shop.browser("logs")
    for path in ("/api/readings/99/strike", "/api/readings/99/keep", "/api/jobs/1/readings/99/change"):
        answer = client.post(path, json={"reason": "gauge slipped", "text": "0.6252"})
        assert (answer.status_code, "99" in answer.json["error"]) == (404, True), path


def test_many_silent_connections_keep_nobody_out():
    """Thirty browsers keep six connections each, and a hundred was the server's own limit."""

    def ready(_, start):
        start("200 OK", [("Content-Length", "2")])
        return [b"ok"]

    half = b"POST / HTTP/1.1\r\nHost: localhost\r\nContent-Length: 9\r\n\r\nx"
    with serving(ready) as address, contextlib.ExitStack() as stack:
        here = ("127.0.0.1", int(address.rpartition(":")[2]))
        for _ in range(180):
            silent = stack.enter_context(socket.create_connection(here, 5))
            silent.sendall(half)
        asked = stack.enter_context(socket.create_connection(here, 5))
        asked.sendall(b"GET / HTTP/1.1\r\nHost: localhost\r\n\r\n")
        assert asked.recv(100).startswith(b"HTTP/1.1 200")
