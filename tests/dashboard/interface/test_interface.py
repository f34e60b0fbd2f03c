"""The interface for programs: tokens, readings in as JSON and CSV, jobs and verdicts out."""

import json
import re
from pathlib import Path

import pytest

from dashboard.interface.document import SCHEMAS, openapi_document
from tracker.errors import RecordError
from tracker.job import parse_job

READING = {"feature": "shank", "piece": "1", "value": ".6254", "client_id": "c1"}


def test_readings_are_kept_once_as_typed_under_the_name_of_the_token(cell):
    sent = [
        {"value": ".6254", "operator": "operator A", "time": "2026-09-07T14:06:00+02:00", "temperature": 20.5},
        {"value": "15.885 mm", "client_id": "c2", "note": "second turn"},
        {"value": "+0.4 thou", "client_id": "c3", "kind": "comparator"},
    ]
    answer = cell.send(*sent)
    assert answer.status_code == 200, answer.json
    assert {name: answer.json[name] for name in ("kept", "kept_before", "held", "refused")} == {
        "kept": 3,
        "kept_before": 0,
        "held": 0,
        "refused": 0,
    }
    again = cell.send(*sent)
    assert (again.status_code, again.json["kept_before"]) == (200, 3)
    assert [item["number"] for item in again.json["readings"]] == [item["number"] for item in answer.json["readings"]]
    entries = cell.record.since(cell.job, 0)
    assert [entry.typed for entry in entries] == [".6254", "15.885 mm", "+0.4 thou"]
    assert {entry.kept_by for entry in entries} == {"logs cell (token)"}
    assert entries[0].operator == "operator A"
    assert entries[0].time.startswith("2026-09-07T12:06") or "14:06" in entries[0].time


def test_a_number_keeps_the_digits_it_was_sent_with(cell):
    rows = [
        f'{{"feature": "shank", "piece": "{turn}", "value": {digits}, "client_id": "n{turn}"}}'
        for turn, digits in enumerate(("0.62540", "0.6254", "6.2540e-1", "0.625"), 1)
    ]
    body = f'{{"job": 1, "readings": [{", ".join(rows)}]}}'
    answer = cell.client().post("/api/v1/readings", data=body, content_type="application/json")
    assert answer.status_code == 200, answer.json
    assert [entry.typed for entry in cell.record.since(1, 0)] == ["0.62540", "0.6254", "0.62540", "0.625"]


def test_a_suspect_is_held_and_a_bad_one_takes_no_other_down(cell):
    cell.send(*[{"value": f".625{turn}", "piece": str(turn), "client_id": f"g{turn}"} for turn in range(8)])
    answer = cell.send(
        {"value": "15.88", "piece": "9", "client_id": "a"},
        {"value": "about six", "piece": "9", "client_id": "b"},
        {"feature": "shaft", "piece": "9", "client_id": "c"},
        {"value": ".6253", "piece": "9", "client_id": "d"},
    )
    assert answer.status_code == 422
    assert (answer.json["kept"], answer.json["held"], answer.json["refused"]) == (1, 1, 2)
    held = answer.json["readings"][0]
    assert (held["state"], held["client_id"]) == ("held", "a")
    assert held["question"]
    assert [item["where"] for item in answer.json["refusals"]] == ["client_id b", "client_id c"]
    assert "about six" in answer.json["refusals"][0]["error"]


CSV = "feature,piece,value\nshank,1,.6254\nshank,2,.6255\nshank,3,oops\n"


def test_a_csv_file_is_kept_row_by_row_and_once(cell):
    client = cell.client()
    first = client.post(f"/api/v1/readings?job={cell.job}&file=0412.csv", data=CSV, content_type="text/csv")
    assert (first.status_code, first.json["kept"], first.json["refused"]) == (422, 2, 1)
    assert first.json["refusals"][0]["where"] == "row 4"
    assert "oops" in first.json["refusals"][0]["error"]
    again = client.post(f"/api/v1/readings?job={cell.job}&file=0412.csv", data=CSV, content_type="text/csv")
    assert (again.json["kept"], again.json["kept_before"]) == (0, 2)
    entries = cell.record.since(cell.job, 0)
    assert [(entry.typed, entry.kept_by) for entry in entries] == [
        (".6254", "logs cell (token)"),
        (".6255", "logs cell (token)"),
    ]


@pytest.mark.parametrize(
    ("query", "data", "status"),
    [
        ("", CSV, 400),
        ("?job=1", CSV, 400),
        ("?job=x&file=a.csv", CSV, 400),
        ("?job=99&file=a.csv", CSV, 404),
        ("?job=1&file=a.csv", "", 400),
        ("?job=1&file=a.csv", b"\x00\xff\xfe", 400),
        ("?job=1&file=%00.csv", CSV, 400),
        ("?job=1&file=...", CSV, 400),
        ("?job=1&file=..%2f..%2fetc%2fshanks.csv", "feature,piece,value\nshank,1,.6254\n", 200),
    ],
)
def test_what_is_no_file_is_refused_and_a_name_is_never_a_path(cell, query, data, status):
    answer = cell.client().post(f"/api/v1/readings{query}", data=data, content_type="text/csv")
    assert answer.status_code == status, answer.json
    if status != 200:
        assert answer.json["error"]


@pytest.mark.parametrize(
    "change",
    [
        {"value": None},
        {"value": True},
        {"value": [".6254"]},
        {"value": ""},
        {"value": "1" * 65},
        {"value": 10**30},
        {"feature": 7},
        {"piece": ""},
        {"piece": " "},
        {"piece": "a\x1fb"},
        {"note": "x" * 201},
        {"client_id": "\ud800"},
        {"repeat": 0},
        {"repeat": 1.5},
        {"repeat": "1"},
        {"kind": "guess"},
        {"unit": "m"},
        {"time": "yesterday"},
        {"time": "2026-09-07T14:06:00"},
        {"time": "0001-01-01T00:00:00Z"},
        {"temperature": "20"},
        {"temperature": 1e9},
        {"by": "lead"},
    ],
)
def test_what_the_document_does_not_say_is_refused_whole(cell, change):
    body = json.dumps({"job": 1, "readings": [READING, READING | {"client_id": "c2"} | change]})
    answer = cell.client().post("/api/v1/readings", data=body, content_type="application/json")
    assert answer.status_code == 400
    assert "readings[1]" in answer.json["error"]
    assert cell.record.since(1, 0) == []


@pytest.mark.parametrize(
    "body",
    [
        "",
        "null",
        "[]",
        "{",
        "[" * 100_000,
        '{"job": NaN, "readings": []}',
        '{"job": 1, "readings": []}',
        '{"job": 1, "readings": [1]}',
        '{"job": true, "readings": [{}]}',
        '{"job": 1, "readings": [{}], "by": "x"}',
        b"\xff\xfe\x00",
    ],
)
def test_what_is_no_request_is_refused(cell, body):
    answer = cell.client().post("/api/v1/readings", data=body, content_type="application/json")
    assert answer.status_code == 400
    assert answer.json["error"]


def test_more_than_the_limits_is_refused(cell):
    many = [READING | {"client_id": f"c{turn}"} for turn in range(1001)]
    assert cell.client().post("/api/v1/readings", json={"job": 1, "readings": many}).status_code == 400
    large = cell.client().post("/api/v1/readings", data="x" * 2_100_000, content_type="application/json")
    assert large.status_code == 413
    assert large.json["error"]
    csv = cell.client().post("/api/v1/readings?job=1&file=a.csv", data="x" * 20_100_000, content_type="text/csv")
    assert csv.status_code == 413


def test_a_token_is_asked_for_and_its_role_holds(cell):
    nobody = cell.client("").get("/api/v1/jobs")
    assert nobody.status_code == 401
    assert nobody.headers["WWW-Authenticate"].startswith("Bearer")
    for header in ("", "Bearer", "Bearer x", "Basic abc", f"Basic {cell.tokens['logs']}", "Bearer " + "x" * 300):
        answer = cell.client("").get("/api/v1/jobs", headers={"Authorization": header})
        assert answer.status_code == 401
    assert cell.client("reads").get("/api/v1/jobs").status_code == 200
    refused = cell.send({}, role="reads")
    assert (refused.status_code, "logs" in refused.json["error"]) == (403, True)
    cell.record.revoke_token("logs cell")
    assert cell.send({}).status_code == 401
    assert cell.record.since(1, 0) == []


def test_a_session_is_no_token_and_a_token_is_no_session(cell):
    import datetime

    cell.record.add_user("lead", "administers", "four words at the bench")
    client = cell.server.test_client()
    client.set_cookie("tenthwise-session", cell.record.begin_session("lead", datetime.timedelta(hours=1)))
    assert client.get("/api/v1/jobs").status_code == 401
    answer = cell.client("logs").get("/api/people")
    assert answer.status_code in (401, 403)


def test_jobs_batches_verdicts_and_readings_come_out(cell):
    cell.send({}, {"client_id": "c2", "piece": "2", "value": ".6256"}, {"client_id": "c3", "piece": "2", "value": "9"})
    client = cell.client("reads")
    listed = client.get("/api/v1/jobs").json["jobs"]
    assert [(job["number"], job["name"], job["readings"], job["waiting"]) for job in listed] == [
        (1, "Leak-test nest, rest buttons", 2, 1)
    ]
    full = client.get("/api/v1/jobs/1").json
    assert [feature["name"] for feature in full["features"]] == ["bore", "shank"]
    assert (full["features"][0]["positions"], full["fits"]) == (["top", "bottom"], ["button_in_plate"])
    batches = client.get("/api/v1/jobs/1/batches").json["batches"]
    assert [(item["feature"], item["readings"]) for item in batches] == [("shank", 2)]
    verdicts = client.get("/api/v1/jobs/1/verdicts").json
    assert [item["word"] for item in verdicts["verdicts"]] == ["cannot say"]
    assert len(verdicts["fingerprint"]) >= 16
    first = client.get("/api/v1/jobs/1/readings?most=2").json
    assert ([item["number"] for item in first["readings"]], first["last"]) == ([1, 2], 2)
    rest = client.get("/api/v1/jobs/1/readings?after=2").json
    assert [(item["typed"], item["state"]) for item in rest["readings"]] == [("9", "held")]
    assert client.get("/api/v1/jobs/1/readings?after=3").json == {"job": 1, "last": 3, "readings": []}


@pytest.mark.parametrize(
    ("path", "status"),
    [
        ("/api/v1/jobs/99", 404),
        ("/api/v1/jobs/x", 404),
        ("/api/v1/jobs/0/batches", 404),
        ("/api/v1/jobs/99999999999999999999/verdicts", 404),
        ("/api/v1/jobs/1/readings?after=-1", 400),
        ("/api/v1/jobs/1/readings?most=1001", 400),
        ("/api/v1/jobs/1/readings?most=", 400),
        ("/api/v1/jobs/1/readings?mots=10", 400),
        ("/api/v1/jobs?job=1", 400),
        ("/api/v1/none", 404),
        ("/api/v1/jobs/1/none", 404),
    ],
)
def test_what_is_not_there_is_said_in_json(cell, path, status):
    answer = cell.client("reads").get(path)
    assert (answer.status_code, answer.mimetype) == (status, "application/json")
    assert answer.json["error"]


def test_a_wrong_method_or_kind_is_said_in_json(cell):
    wrong = cell.client().delete("/api/v1/jobs")
    assert (wrong.status_code, wrong.mimetype) == (405, "application/json")
    assert "GET" in wrong.headers["Allow"]
    kind = cell.client().post("/api/v1/readings", data="a", content_type="application/xml")
    assert kind.status_code == 415


def test_a_record_that_cannot_be_written_keeps_the_program_trying(cell, monkeypatch):
    def full(*_, **__):
        raise RecordError("the disk is full")

    monkeypatch.setattr(cell.record, "add_reading", full)
    answer = cell.send({})
    assert (answer.status_code, answer.json["error"]) == (503, "the disk is full")


def test_names_with_html_and_formulas_come_out_as_they_are_and_harmless(cell, tmp_path):
    cell.send({"piece": '=HYPERLINK("x")', "note": "<script>alert(1)</script>"})
    out = cell.client().get("/api/v1/jobs/1/readings")
    assert out.mimetype == "application/json"
    assert out.json["readings"][0]["piece"] == '=HYPERLINK("x")'
    cell.record.export(1, tmp_path / "out.csv")
    assert "\"'=HYPERLINK" in (tmp_path / "out.csv").read_text()


def test_the_document_names_every_route_and_every_reference_leads_somewhere(cell):
    document = cell.client("").get("/api/v1/openapi.json").json
    assert document == openapi_document()
    assert document["openapi"] == "3.1.0"
    served = {
        (rule.rule.removeprefix("/api/v1").replace("<", "{").replace(">", "}"), method.casefold())
        for rule in cell.server.url_map.iter_rules()
        if rule.endpoint.startswith("v1.") and rule.endpoint not in ("v1.document", "v1.nowhere")
        for method in rule.methods - {"HEAD", "OPTIONS"}
    }
    assert served == {(path, method) for path, item in document["paths"].items() for method in item}
    named = set(json.dumps(document).split('"#/components/schemas/')[1:])
    assert {name.partition('"')[0] for name in named} == set(SCHEMAS)


def test_the_limits_of_the_document_are_those_of_the_page(cell):
    from dashboard.interface import document
    from tracker.units import MM_PER

    assert set(document.UNITS) == set(MM_PER)
    assert parse_job(cell.record.job_text(1)).name
    from tracker.readings import read_entry

    for kind in document.KINDS:
        typed = {"absolute": ".6254", "comparator": "+1 thou", "go_no_go": "goes .6250 / not .6252"}[kind]
        assert read_entry(typed, unit="in", master=0.625).kind == kind


HELP = Path(__file__).parents[3] / "dashboard" / "help"


def test_the_examples_of_the_help_are_what_the_server_takes_and_says(cell):
    text = (HELP / "http.md").read_text(encoding="utf-8")
    body = re.search(r"-d '(\{.*?\})'\n", text, re.DOTALL)[1]
    answer = cell.client().post("/api/v1/readings", data=body, content_type="application/json").json
    shown = json.loads(re.search(r"```text\n(\{.*?\})\n```", text, re.DOTALL)[1])
    for said in (answer, shown):
        for item in said["readings"]:
            item["number"] = 0
    assert answer == shown
    assert [entry.typed for entry in cell.record.since(1, 0)] == ["0.62540", "15.886 mm"]


def test_the_help_names_every_key_status_and_address():
    text = (HELP / "http.md").read_text(encoding="utf-8")
    keys = re.search(r"\| key \| means \|\n\|---\|---\|\n(.*?)\n\n", text, re.DOTALL)[1]
    named = {name.strip() for line in keys.splitlines() for name in line.split("|")[1].split(",")}
    assert named == set(SCHEMAS["ReadingIn"]["properties"])
    document = openapi_document()
    for status in document["paths"]["/readings"]["post"]["responses"]:
        assert re.search(rf"\b{status}\b", text) or status == "421"
    for path in document["paths"]:
        assert "/api/v1" + path.replace("{job}", "1") in text


def test_of_very_many_refusals_the_first_are_told_and_all_are_counted(cell):
    rows = "feature,piece,value\n" + "nothing,1,0.5\n" * 1200
    answer = cell.client().post(f"/api/v1/readings?job={cell.job}&file=a.csv", data=rows, content_type="text/csv")
    assert answer.status_code == 422
    assert (answer.json["refused"], len(answer.json["refusals"])) == (1200, 1000)
