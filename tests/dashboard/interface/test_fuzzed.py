"""Requests made from the served document, put to a running app: no fault of the server, every answer as documented."""

import pytest
import schemathesis
from hypothesis import HealthCheck, given, settings
from schemathesis import GenerationMode
from schemathesis.checks import load_all_checks
from schemathesis.core.failures import FailureGroup
from schemathesis.specs.openapi.checks import positive_data_acceptance

from dashboard.interface import routes
from dashboard.interface.document import openapi_document
from dashboard.people.door import Door

load_all_checks()

JOB = """
[job]
name = "Leak-test nest, rest buttons"
unit = "in"

[features.shank]
kind = "external"
nominal = 0.6256
lower = 0.6250
upper = 0.6262
"""
REQUESTS = 80


@pytest.fixture(scope="module")
def cell(tmp_path_factory):
    from dashboard.server import create_app
    from tracker.record import open_record

    with open_record(tmp_path_factory.mktemp("fuzzed") / "shop.sqlite") as record:
        record.add_job(JOB, "lead")
        _, token = record.add_token("press cell", "logs")
        yield record, create_app(record, door=Door(sign_in=True)).server, token


OPERATIONS = [(path, method) for path, item in openapi_document()["paths"].items() for method in item]


@pytest.fixture(scope="module")
def document(cell):
    """Return the document as the running app serves it."""
    return schemathesis.openapi.from_wsgi("/api/v1/openapi.json", cell[1])


def about_what_is_there(case):
    """Let a request that is as documented be about the job and the feature that are there; the rest stays as drawn."""
    if isinstance(case.body, dict):
        case.body["job"] = 1
        for reading in case.body["readings"]:
            reading["feature"] = "shank"
    else:
        case.query = {**(case.query or {}), "job": 1, "file": "0412.csv"}


@pytest.mark.parametrize("mode", GenerationMode)
@pytest.mark.parametrize(("path", "method"), OPERATIONS)
def test_no_request_is_answered_otherwise_than_documented(document, cell, path, method, mode):
    record, _, token = cell
    operation = document[path][method.upper()]
    # what is a length cannot be said in a pattern, so a text that the document allows may be refused with 422
    known = [positive_data_acceptance] if method == "post" else []

    @settings(
        max_examples=REQUESTS, deadline=None, derandomize=True, suppress_health_check=list(HealthCheck), database=None
    )
    @given(case=operation.as_strategy(generation_mode=mode))
    def every(case):
        if mode is GenerationMode.POSITIVE and method == "post":
            about_what_is_there(case)
        answered = case.call_and_validate(headers={"Authorization": f"Bearer {token}"}, excluded_checks=known)
        seen.add(answered.status_code)

    seen = set()
    every()
    assert record.verify().holds
    assert seen & ({200, 422} if mode is GenerationMode.POSITIVE else {400, 401, 404, 405})


def test_an_answer_that_is_not_as_documented_is_found(document, cell, monkeypatch):
    _, _, token = cell
    case = document["/jobs"]["GET"].Case(headers={"Authorization": f"Bearer {token}"})
    case.call_and_validate()
    whole = routes._job
    for fault in ({"extra": 1}, {"revision": "1"}):
        monkeypatch.setattr(routes, "_job", lambda info, more=fault: whole(info) | more)
        with pytest.raises(FailureGroup):
            case.call_and_validate()
    monkeypatch.setattr(routes, "_job", lambda _: 1 / 0)
    with pytest.raises(ZeroDivisionError):
        case.call_and_validate()


def test_what_was_kept_meanwhile_is_whole(cell):
    record, _, _ = cell
    assert record.verify().holds
    assert all(entry.kept_by == "press cell (token)" for entry in record.since(1, 0))
