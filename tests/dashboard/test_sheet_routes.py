"""The sheets over HTTP: what is served, under which headers, and what is refused."""

from __future__ import annotations

import pytest

from dashboard import sheet_routes
from dashboard.server import create_app


@pytest.fixture(scope="module")
def client(record):
    """Return a client of the app over the sample record."""
    return create_app(record, bench="bench 2").server.test_client()


@pytest.fixture
def at(client, numbers_of):
    """Return a function: sheet, ending and more -> response, of the rest buttons."""
    return lambda name, ending, more="": client.get(f"/sheets/{name}.{ending}?job={numbers_of['rest_buttons']}{more}")


@pytest.mark.parametrize("name", ["bench", "set-up", "labels", "report"])
def test_a_sheet_is_served_for_the_page_and_as_a_file(at, name):
    part, whole = at(name, "part"), at(name, "html", "&file=1")
    assert part.status_code == whole.status_code == 200
    assert part.mimetype == whole.mimetype == "text/html"
    assert part.text.startswith("<style>")
    assert whole.text.startswith("<!DOCTYPE html>")
    assert whole.headers["Content-Disposition"].startswith('attachment; filename="leak-test-nest-rest-buttons-')
    assert "Content-Disposition" not in part.headers
    assert "bench 2" in whole.text


def test_a_pdf_is_served_when_it_can_be_made(at, monkeypatch):
    pytest.importorskip("weasyprint")
    found = at("set-up", "pdf", "&paper=letter")
    assert found.mimetype == "application/pdf"
    assert found.data.startswith(b"%PDF")
    monkeypatch.setattr(sheet_routes, "can_make_pdf", lambda: False)
    assert at("set-up", "pdf").status_code == 501


@pytest.mark.parametrize(
    ("name", "ending", "more"),
    [
        ("poster", "html", ""),
        ("bench", "docx", ""),
        ("bench", "html", "&paper=wall"),
        ("bench", "html", "&fit=nope"),
        ("report", "html", "&feature=../../etc/passwd"),
    ],
)
def test_what_is_not_there_is_refused_without_a_fault(at, name, ending, more):
    found = at(name, ending, more)
    assert found.status_code == 404
    assert found.mimetype == "text/plain"
    assert found.text.startswith("there is no")


@pytest.mark.parametrize("query", ["", "?job=9999", "?job=x", "?job=-1"])
def test_a_job_that_is_not_there_is_refused(client, query):
    found = client.get(f"/sheets/bench.html{query}")
    assert found.status_code == 404
    assert found.mimetype == "text/plain"


def test_a_sheet_comes_under_the_policy_that_lets_nothing_in(at):
    policy = at("bench", "html").headers["Content-Security-Policy"]
    assert "default-src 'none'" in policy
    assert "frame-ancestors 'none'" in policy
