"""Jobs over HTTP: made, changed, brought in, taken out; refused in words, and nothing kept that was not shown."""

import io
import json
from pathlib import Path

import pytest

from dashboard.commands import load_samples
from dashboard.job_routes import EXPORTS, LARGEST_UPLOAD
from dashboard.parts.brought import MOST_FILES, safe_name
from dashboard.server import create_app
from tracker.errors import ReadingsError
from tracker.record import open_record

SAMPLES = Path(__file__).parents[2] / "sample_readings"
OWN = {"X-Own-Page": "1"}
TEXT = (
    '[job]\nname = "nest"\nunit = "in"\n[features.shank]\nkind = "external"\nnominal = 0.6255\n'
    "lower = 0.6250\nupper = 0.6260\n"
)


@pytest.fixture
def bench(tmp_path):
    """Return a client and its record, empty."""
    with open_record(tmp_path / "jobs.sqlite") as record:
        yield create_app(record).server.test_client(), record


def files(*pairs):
    return [(io.BytesIO(content if isinstance(content, bytes) else content.encode()), name) for name, content in pairs]


def brought(client, *pairs, job="", headers=OWN):
    return client.post(
        "/api/brought",
        data={"job": job, "files": files(*pairs)},
        content_type="multipart/form-data",
        headers=headers,
    )


def filled(client):
    form = client.get("/api/job-form").json["form"]
    form["job"]["name"] = "nest"
    form["features"] = [form["features"][1] | {"name": "shank", "nominal": ".6255", "lower": ".6250", "upper": ".6260"}]
    form["fits"], form["gauges"] = [], []
    return form


# -- made and changed


def test_a_job_from_a_form_is_kept_once_however_often_it_is_sent(bench):
    client, record = bench
    body = {"form": filled(client), "client_id": "one", "by": "bench 2"}
    first, again = client.post("/api/jobs", json=body), client.post("/api/jobs", json=body)
    assert first.status_code == 200
    assert (first.json["job"], first.json["made"], again.json["made"]) == (1, True, False)
    job = record.job(1)
    assert (job.name, job.unit, job.features["shank"].upper, job.assurance) == ("nest", "in", 0.626, 0.95)
    assert record.jobs()[0].by == "bench 2"


def test_a_check_keeps_nothing_and_says_what_was_understood(bench):
    client, record = bench
    said = client.post("/api/job-check", json={"form": filled(client)}).json
    assert said["faults"] == []
    assert said["said"] == ["shank, external: from 0.6250 to 0.6260 in, 10.0 tenths apart; aim 0.6255."]
    assert "nominal = 0.6255" in said["text"]
    assert record.jobs() == []


def test_every_fault_of_a_form_is_told_and_nothing_is_kept(bench):
    client, record = bench
    form = filled(client)
    form["job"]["name"] = ""
    form["features"].append(form["features"][0] | {"nominal": "abc"})
    form["features"].append(form["features"][0] | {"name": ""})
    answer = client.post("/api/jobs", json={"form": form, "client_id": "two"})
    assert answer.status_code == 400
    places = {(fault["section"], fault["row"], fault["field"]) for fault in answer.json["faults"]}
    assert {("job", None, "name"), ("features", 1, "name"), ("features", 2, "name")} <= places
    assert record.jobs() == []


def test_a_change_is_a_revision_and_batches_keep_theirs(bench):
    client, record = bench
    record.add_job(TEXT)
    record.add_reading(1, "shank", "1", ".6255", client_id="a")
    shown = client.get("/api/jobs/1/form").json
    assert (shown["revision"], shown["latest"]) == (1, 1)
    shown["form"]["features"][0]["upper"] = ".6258"
    body = {"form": shown["form"], "base": shown["text"], "revision": 1, "by": "bench 2"}
    answer = client.post("/api/jobs/1/revisions", json=body)
    assert (answer.status_code, answer.json["revision"]) == (200, 2)
    assert (record.job(1).features["shank"].upper, record.job(1, 1).features["shank"].upper) == (0.6258, 0.626)
    assert [batch.revision for batch in record.batches(1)] == [1]
    old = client.get("/api/jobs/1/form?revision=1").json
    assert (old["revision"], old["latest"], old["form"]["features"][0]["upper"]) == (1, 2, "0.6260")
    late = client.post("/api/jobs/1/revisions", json=body)
    assert late.status_code == 409
    assert "revision 2 of this job was kept meanwhile" in late.json["error"]


def test_a_revision_cannot_take_away_what_was_measured_nor_the_unit(bench):
    client, record = bench
    record.add_job(TEXT)
    record.add_reading(1, "shank", "1", ".6255", client_id="a")
    for old, new, words in (("shank", "pin", "no feature shank"), ('"in"', '"mm"', "keeps its unit")):
        answer = client.post("/api/jobs/1/revisions", json={"text": TEXT.replace(old, new), "revision": 1})
        assert answer.status_code == 400
        assert words in answer.json["error"]
    assert record.jobs()[0].revision == 1


def test_the_form_shows_a_text_and_says_where_it_is_not_toml(bench):
    client, _ = bench
    found = client.post("/api/job-form", json={"text": TEXT})
    assert found.json["form"]["features"][0]["upper"] == "0.6260"
    wrong = client.post("/api/job-form", json={"text": "[job"})
    assert wrong.status_code == 400
    assert "not TOML" in wrong.json["error"]


@pytest.mark.parametrize(
    "body",
    [
        {},
        {"text": 7},
        {"text": "x\x00"},
        {"text": "x" * 200_001},
        {"form": []},
        {"form": {"job": {"name": 7}}},
        {"form": {"job": {"name": "x" * 201}}},
        {"form": {"job": {"name": "two\nlines"}}},
        {"form": {"features": {}}},
        {"form": {"features": ["bore"]}},
        {"form": {"features": [{}] * 61}},
        {"form": {}, "base": "[job"},
        {"form": {}, "base": 7},
        [],
    ],
    ids=lambda body: str(body)[:40],
)
def test_what_is_no_job_is_refused_in_words(bench, body):
    client, record = bench
    for path in ("/api/job-check", "/api/jobs"):
        answer = client.post(path, json=body)
        assert answer.status_code == 400
        assert answer.json["error"]
    assert record.jobs() == []


def test_other_sites_are_refused_everywhere(bench):
    client, record = bench
    record.add_job(TEXT)
    evil = {"Origin": "http://evil.example"}
    for path in (
        "/api/job-check",
        "/api/job-form",
        "/api/jobs",
        "/api/jobs/1/revisions",
        "/api/brought/x/keep",
        "/api/brought/x/drop",
    ):
        assert client.post(path, json={"text": TEXT, "client_id": "x", "revision": 1}, headers=evil).status_code == 403
        assert client.post(path, data="x").status_code == 415
    assert brought(client, ("job.toml", TEXT), headers=OWN | evil).status_code == 403
    assert brought(client, ("job.toml", TEXT), headers={}).status_code == 403
    assert (len(record.jobs()), record.jobs()[0].revision) == (1, 1)


def test_unknown_jobs_and_revisions_are_said(bench):
    client, record = bench
    record.add_job(TEXT)
    assert client.get("/api/jobs/7/form").status_code == 404
    assert client.get("/api/jobs/1/form?revision=2").status_code == 404
    assert client.get("/api/jobs/1/form?revision=-1").status_code == 404
    assert client.post("/api/jobs/7/revisions", json={"text": TEXT, "revision": 1}).status_code == 404
    assert client.get("/exports/7.csv").status_code == 404


# -- brought in


def test_a_folder_is_shown_first_and_kept_on_a_second_word(bench):
    client, record = bench
    folder = SAMPLES / "rest_buttons"
    pairs = [(path.name, path.read_bytes()) for path in folder.iterdir() if path.is_file()]
    shown = brought(client, *pairs)
    assert shown.status_code == 200
    said = shown.json
    assert (said["good"], said["suspect"], said["refused"], said["event_count"]) == (120, 0, 0, 1)
    assert any("bores.csv" in words for words in said["understood"])
    assert record.jobs() == []
    first = client.post(f"/api/brought/{said['token']}/keep", json={"by": "bench 2"})
    again = client.post(f"/api/brought/{said['token']}/keep", json={"by": "bench 2"})
    assert (first.json, again.json) == ({"job": 1}, {"job": 1})
    info = record.jobs()[0]
    assert (len(record.jobs()), info.readings, len(record.events(1))) == (1, 120, 1)


def test_bad_rows_do_not_take_the_good_ones_down_and_can_be_saved(bench):
    client, record = bench
    rows = "feature,piece,value,note\nshank,1,.6255,\nshank,2,abc,=1+1\nbore,3,.62,\nshank,4,15.888,\n"
    said = brought(client, ("job.toml", TEXT), ("more.csv", rows)).json
    assert (said["good"], said["suspect"], said["refused"]) == (1, 1, 2)
    assert any("more.csv, row 3" in words for words in said["refusals"])
    assert "25.4" in said["suspects"][0]
    saved = client.get(said["refused_files"][0]["href"])
    assert saved.status_code == 200
    assert saved.headers["Content-Disposition"].startswith("attachment")
    lines = saved.text.splitlines()
    assert len(lines) == 3
    assert "'=1+1" in lines[1]
    client.post(f"/api/brought/{said['token']}/keep", json={})
    info = record.jobs()[0]
    assert (info.readings, info.waiting) == (1, 1)


def test_readings_of_a_job_that_is_there(bench):
    client, record = bench
    record.add_job(TEXT)
    said = brought(client, ("shank.csv", "piece,value\n1,.6255\n2,.6256\n"), job="1").json
    assert (said["good"], said["job"]["number"], said["twin"]) == (2, 1, None)
    client.post(f"/api/brought/{said['token']}/keep", json={})
    assert (len(record.jobs()), record.jobs()[0].readings) == (1, 2)
    twice = brought(client, ("shank.csv", "piece,value\n1,.6255\n2,.6256\n"), job="1").json
    client.post(f"/api/brought/{twice['token']}/keep", json={})
    assert record.jobs()[0].readings == 2


def test_a_job_of_the_same_name_is_said(bench):
    client, record = bench
    record.add_job(TEXT)
    assert brought(client, ("job.toml", TEXT)).json["twin"] == {"number": 1, "name": "nest"}
    other = brought(client, ("job.toml", TEXT.replace("0.6260", "0.6261")), ("a.csv", "feature,piece,value\n"), job="1")
    assert any("differs from nest" in words for words in other.json["remarks"])


def test_what_is_dropped_is_gone_and_an_unknown_one_is_said(bench):
    client, record = bench
    token = brought(client, ("job.toml", TEXT)).json["token"]
    assert client.post(f"/api/brought/{token}/drop", json={}).status_code == 200
    answer = client.post(f"/api/brought/{token}/keep", json={})
    assert answer.status_code == 404
    assert "bring them in again" in answer.json["error"]
    assert client.get(f"/brought/{token}/refused-1.csv").status_code == 404
    assert record.jobs() == []


@pytest.mark.parametrize(
    ("pairs", "words"),
    [
        ([("shank.csv", "piece,value\n1,.6255\n")], "no job.toml"),
        ([("job.toml", b"\xff\xfe")], "not UTF-8"),
        ([("job.toml", "[job")], "not TOML"),
        ([("job.toml", '[job]\nname = "x"\n')], "no unit"),
        ([("job.toml", TEXT), ("job.toml", TEXT)], "there twice"),
        ([("job.toml", TEXT), ("a.csv", "x"), ("A.CSV", "x")], "there twice"),
        ([("photo.exe", "x")], "no file can be read"),
        ([("job.toml", TEXT), ("events.csv", "feature,after_piece,event\nshank,1,sneeze\n")], "sneeze"),
        ([], "no file can be read"),
        ([("job.toml", TEXT)] + [(f"{number}.csv", "x") for number in range(MOST_FILES)], "more than"),
    ],
    ids=lambda value: value if isinstance(value, str) else "",
)
def test_what_cannot_be_brought_in_is_refused_in_words(bench, pairs, words):
    client, record = bench
    answer = brought(client, *pairs)
    assert answer.status_code == 400
    assert words in answer.json["error"]
    assert record.jobs() == []


def test_a_broken_readings_file_is_refused_and_the_others_are_read(bench):
    client, _ = bench
    said = brought(client, ("job.toml", TEXT), ("a.csv", "feature,piece,value\nshank,1,.6255\n"), ("b.xlsx", b"PK no"))
    assert said.status_code == 200
    assert said.json["good"] == 1
    assert any("b.xlsx" in words for words in said.json["refusals"])


def test_more_than_the_limit_is_refused(bench):
    client, record = bench
    answer = brought(client, ("job.toml", TEXT), ("big.csv", b"x" * (LARGEST_UPLOAD + 1)))
    assert answer.status_code == 413
    assert "20 MB" in answer.json["error"]
    answer.request.input_stream.close()
    assert record.jobs() == []


def test_more_than_any_other_request_may_hold_is_read(bench):
    client, _ = bench
    answer = brought(client, ("job.toml", TEXT), ("odd.xlsx", b"x" * 3_000_000))
    assert answer.status_code == 200
    assert answer.json["refused"] == 1
    answer.request.input_stream.close()


@pytest.mark.parametrize("number", ["x", "-1", "1.5", "9" * 13, "²"])
def test_a_job_number_that_is_none_is_refused(bench, number):
    client, _ = bench
    assert brought(client, ("a.csv", "x"), job=number).status_code == 400
    assert brought(client, ("a.csv", "x"), job="77").status_code == 404


@pytest.mark.parametrize(
    ("sent", "written"),
    [
        ("../../etc/shank.csv", "shank.csv"),
        ("..\\..\\shank.csv", "shank.csv"),
        ("/etc/passwd.csv", "passwd.csv"),
        ("C:\\nest\\bores 1.CSV", "bores 1.csv"),
        ("a\x00b.csv", "a_b.csv"),
        (".hidden.csv", "hidden.csv"),
        ("nul.csv", "nul_.csv"),
        ("x" * 300 + ".csv", "x" * 80 + ".csv"),
        ("<script>.xlsx", "_script_.xlsx"),
        ("Bohrung ä.csv", "Bohrung ä.csv"),
    ],
    ids=lambda name: name[:20].replace("\x00", "0"),
)
def test_a_name_that_is_sent_is_never_a_path(sent, written):
    assert safe_name(sent) == written


@pytest.mark.parametrize("sent", ["", "..", "../", ".csv", "shank", "shank.exe", "a.csv/", "a.csv/.."])
def test_a_name_with_nothing_left_is_refused(sent):
    with pytest.raises(ReadingsError):
        safe_name(sent)


def test_nothing_is_written_beside_its_folder(bench, tmp_path):
    client, _ = bench
    outside = tmp_path / "outside"
    outside.mkdir()
    before = sorted(path.name for path in tmp_path.iterdir())
    said = brought(
        client, ("../../../job.toml", TEXT), (f"../../..{outside}/evil.csv", "feature,piece,value\nshank,1,.6255\n")
    )
    assert said.json["files"] == ["evil.csv"]
    assert sorted(path.name for path in tmp_path.iterdir()) == before
    assert not (outside / "evil.csv").exists()


# -- taken out


def test_readings_are_taken_out_in_every_form_and_read_again(bench):
    client, record = bench
    record.add_job(TEXT)
    record.add_reading(1, "shank", "1", ".6255", client_id="a", note="=HYPERLINK(1)")
    kept = record.add_reading(1, "shank", "2", ".6256", client_id="b")
    record.strike(kept.id, "misread")
    for ending in EXPORTS:
        if ending == "parquet":
            pytest.importorskip("pyarrow")
        answer = client.get(f"/exports/1.{ending}")
        assert answer.status_code == 200
        assert f"nest readings.{ending}" in answer.headers["Content-Disposition"]
        assert len(answer.data) > 50
    text = client.get("/exports/1.csv").text
    assert "'=HYPERLINK(1)" in text
    assert ".6256" not in text
    assert "misread" in client.get("/exports/1.csv?struck=1").text
    assert [row["value"] for row in json.loads(client.get("/exports/1.json").text)] == [".6255"]
    assert client.get("/exports/1.toml").text == TEXT
    record.revise_job(1, TEXT.replace("0.6260", "0.6259"))
    assert client.get("/exports/1.toml?revision=1").text == TEXT
    assert client.get("/exports/1.exe").status_code == 404


def test_the_name_of_a_job_is_no_way_out_of_a_header(bench):
    client, record = bench
    record.add_job(TEXT.replace('"nest"', '"../n\\"e\\r\\nst/ä"'))
    answer = client.get("/exports/1.csv")
    assert answer.status_code == 200
    assert "/" not in answer.headers["Content-Disposition"].replace("UTF-8''", "")
    assert "\n" not in answer.headers["Content-Disposition"]


# -- the pages


def test_the_pages_stand_with_an_empty_record_and_with_nonsense(bench):
    from dashboard.parts.answers import Answers
    from dashboard.server import rendered

    _, record = bench
    answers = Answers(record)
    assert "new job" in str(rendered(answers, "/", "")[0])
    assert "job-form" in str(rendered(answers, "/new", "")[0])
    assert "bring-room" in str(rendered(answers, "/bring", "?job=9")[0])
    assert "No job is named" in str(rendered(answers, "/job", "")[0])
    assert "There is no such job" in str(rendered(answers, "/job", "?job=9")[0])


def test_the_page_of_a_job_says_its_revisions_and_what_each_batch_began_under(bench):
    from dashboard.parts.answers import Answers
    from dashboard.server import rendered

    _, record = bench
    record.add_job(TEXT)
    record.add_reading(1, "shank", "1", ".6255", client_id="a")
    record.revise_job(1, TEXT.replace("0.6260", "0.6259"))
    page = str(rendered(Answers(record), "/job", "?job=1")[0])
    assert "Revision 2 holds." in page
    assert "One batch, each under the revision it began with" in page
    assert "which holds no longer" in str(rendered(Answers(record), "/job", "?job=1&revision=1")[0])


def test_a_job_that_cannot_be_judged_can_still_be_changed(bench, monkeypatch):
    from dashboard.parts.answers import Answers
    from dashboard.server import rendered
    from tracker.errors import TrackerError

    _, record = bench
    record.add_job(TEXT)
    answers = Answers(record)

    def cannot(*_):
        raise TrackerError("no way")

    monkeypatch.setattr(answers, "of", cannot)
    assert "job-form" in str(rendered(answers, "/job", "?job=1")[0])


def test_the_sample_jobs_go_through_the_form(bench):
    client, record = bench
    for number in load_samples(record):
        shown = client.get(f"/api/jobs/{number}/form").json
        said = client.post("/api/job-check", json={"form": shown["form"], "base": shown["text"]}).json
        assert said["faults"] == []
