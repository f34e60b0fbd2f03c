"""Pages, pictures and sheets of batches at the edge: one piece, all alike, one side only, equal means, none at all."""

import html
import json
import re

import pytest

from dashboard.parts.answers import Answers
from dashboard.parts.pictures import PICTURES
from dashboard.server import PAGES, create_app, rendered
from dashboard.sheets.shelf import SHEETS
from tracker.job import load_job
from tracker.readings import read_readings
from tracker.record import open_record

JOB = """
[job]
name = "Nest, odd batches"
unit = "in"
[features.bore]
kind = "internal"
lower = 0.5000
upper = 0.5008
[features.pin]
kind = "external"
lower = 0.5004
upper = 0.5012
[fits.f]
internal = "bore"
external = "pin"
gap = [-0.0010, -0.0002]
"""
BATCHES = {
    "nothing": ("", ""),
    "one piece a side": ("1,1,.5004", "1,1,.5010"),
    "one side only": ("1,1,.50041\n2,1,.50055\n3,1,.50047", ""),
    "all alike": ("1,1,.5004\n2,1,.5004\n3,1,.5004", "1,1,.5010\n2,1,.5010\n3,1,.5010"),
    "equal means, repeats that differ": ("1,1,.5015\n1,2,.5010\n2,1,.5010\n2,2,.5015", "1,1,.5010\n2,1,.5012"),
    "known from one side": ("1,1,goes .5002\n2,1,goes .5002\n3,1,goes .5002", "1,1,.5010\n2,1,.5012\n3,1,.5011"),
}
NO_NUMBER = re.compile(r"(?<![\w.])[-+−]?(?:nan|inf|infinity)(?![\w])", re.IGNORECASE)


class _Encoder(json.JSONEncoder):
    def default(self, value):
        return value.to_plotly_json()


@pytest.fixture(scope="module", params=BATCHES)
def served(request, tmp_path_factory):
    """Return a client, the answers behind it and the number of the job."""
    folder = tmp_path_factory.mktemp("odd")
    (folder / "job.toml").write_text(JOB, encoding="utf-8")
    for name, rows in zip(("bore", "pin"), BATCHES[request.param]):
        if rows:
            (folder / f"{name}.csv").write_text(f"piece,repeat,value\n{rows}\n", encoding="utf-8")
    with open_record(folder / "odd.sqlite") as record:
        job = load_job(folder)
        number = record.add_job(job.text, "bench 2").id
        if any(BATCHES[request.param]):
            record.add_readings(number, read_readings(folder, job), "bench 2")
        app = create_app(record, bench="bench 2").server
        yield app.test_client(), Answers(record), number


def no_number_is_missing(text):
    assert NO_NUMBER.search(html.unescape(text)) is None, NO_NUMBER.search(html.unescape(text))


@pytest.mark.parametrize("feature", ["bore", "pin"])
@pytest.mark.parametrize("page", list(PAGES))
def test_every_page_has_something_to_say(served, page, feature):
    _, answers, number = served
    component, _ = rendered(answers, f"/{page}", f"?job={number}&feature={feature}")
    no_number_is_missing(json.dumps(component.to_plotly_json(), cls=_Encoder, ensure_ascii=False))


@pytest.mark.parametrize("feature", ["bore", "pin"])
@pytest.mark.parametrize("name", list(PICTURES))
def test_every_picture_is_drawn_or_not_there(served, name, feature):
    client, _, number = served
    answer = client.get(f"/pictures/{name}.svg?job={number}&feature={feature}&width=800")
    assert answer.status_code in (200, 404), answer.data
    no_number_is_missing(answer.get_data(as_text=True))


@pytest.mark.parametrize("feature", ["bore", "pin"])
@pytest.mark.parametrize("name", list(SHEETS))
def test_every_sheet_is_written_or_says_why_not(served, name, feature):
    client, _, number = served
    answer = client.get(f"/sheets/{name}.html?job={number}&feature={feature}&fit=f")
    assert answer.status_code in (200, 404), answer.data
    no_number_is_missing(answer.get_data(as_text=True))
