"""backup, restore, verify and export from the command line."""

import json
import sqlite3
from pathlib import Path

import pytest
from click.testing import CliRunner

from tracker.cli.entrance import tenthwise
from tracker.record import open_record

SAMPLES = Path(__file__).parents[3] / "sample_readings"


@pytest.fixture
def shop(tmp_path, job_text):
    with open_record(tmp_path / "shop.sqlite") as record:
        job = record.add_job(job_text).id
        for i in range(4):
            record.add_reading(job, "bore", str(i), f".6254{i}", client_id=str(i))
        record.strike(2, "gauge slipped", "bench 2")
    return tmp_path


def run(*arguments):
    return CliRunner().invoke(tenthwise, [str(item) for item in arguments])


def test_verify_says_yes_or_names_the_row(shop):
    good = run("verify", "--record", shop / "shop.sqlite")
    assert (good.exit_code, "every row holds" in good.output) == (0, True)
    with sqlite3.connect(shop / "shop.sqlite") as file:
        file.execute("DROP TRIGGER keep_readings_update")
        file.execute("UPDATE readings SET typed = '.6255' WHERE id = 3")
    file.close()
    bad = run("verify", "--record", shop / "shop.sqlite", "--json")
    assert bad.exit_code == 1
    answer = json.loads(bad.output)
    assert (answer["holds"], answer["table"], answer["row"]) == (False, "readings", 3)


def test_backup_then_restore(shop):
    done = run("backup", shop / "copy.sqlite", "--record", shop / "shop.sqlite", "--json")
    assert (done.exit_code, json.loads(done.output)["readings"]) == (0, 4)
    again = run("backup", shop / "copy.sqlite", "--record", shop / "shop.sqlite")
    assert (again.exit_code, "is there already" in again.output) == (2, True)
    assert run("restore", shop / "copy.sqlite", "--record", shop / "new.sqlite").exit_code == 0
    assert run("verify", "--record", shop / "new.sqlite").exit_code == 0
    (shop / "copy.sqlite").write_bytes(b"x" * 9000)
    refused = run("restore", shop / "copy.sqlite", "--record", shop / "new.sqlite")
    assert (refused.exit_code, "damaged" in refused.output) == (2, True)


def test_export_by_name_or_number(shop):
    by_number = run("export", "1", shop / "x.csv", "--record", shop / "shop.sqlite", "--json")
    assert json.loads(by_number.output) == {"job": 1, "file": str(shop / "x.csv"), "readings": 3}
    by_name = run(
        "export", "leak-test nest, rest buttons", shop / "y.csv", "--struck", "--record", shop / "shop.sqlite"
    )
    assert by_name.exit_code == 0
    assert "gauge slipped" in (shop / "y.csv").read_text()
    missing = run("export", "nothing", shop / "z.csv", "--record", shop / "shop.sqlite")
    assert (missing.exit_code, "there are: 1 Leak-test nest" in missing.output) == (2, True)


@pytest.mark.parametrize("name", ["backup", "restore", "verify", "export"])
def test_help_has_an_example_and_a_missing_record_is_said(name, shop):
    shown = run(name, "--help")
    assert (shown.exit_code, "Example: tenthwise" in shown.output) == (0, True)
    arguments = {"backup": ["c"], "restore": [shop / "none"], "verify": [], "export": ["1", "x.csv"]}[name]
    missing = run(name, *arguments, "--record", shop / "none.sqlite")
    assert (missing.exit_code, missing.output.startswith("tenthwise: there is no")) == (2, True)


@pytest.mark.postgres
def test_both_databases_give_the_same_answer_to_the_byte(tmp_path, postgres_server):
    answers = []
    for url in (tmp_path / "a.sqlite", postgres_server.new_database()):
        logged = run("log", SAMPLES / "rest_buttons", "--yes", "--record", url)
        assert logged.exit_code == 0, logged.output
        checked = run("check", "1", "--record", url, "--json")
        assert checked.exit_code == 1, checked.output
        answers.append(checked.output)
    assert answers[0] == answers[1]
    assert json.loads(answers[0])["verdict"]["word"]
