"""Kills a process of ours at random moments, over and over, and counts what was lost.

``python tests/faults/kill_runs.py 500`` prints the table; the status is 1 when anything acknowledged was lost, anything
half-written was seen, or a record did not open, verify and go on afterwards.
"""

import contextlib
import datetime
import os
import random
import shutil
import signal
import sys
import tempfile
import time
import traceback
from pathlib import Path

import numpy as np

from tracker.errors import TrackerError
from tracker.readings.imports import Import, readings_frame, refused_frame
from tracker.record import forms, open_record

JOB = """
[job]
name = "Leak-test nest, rest buttons"
unit = "in"

[features.bore]
kind = "internal"
nominal = 0.6250
"""
ROWS = 12_000
KNOWN = forms.FORMS
SECOND = f"""
from alembic import op
revision = "9002"
down_revision = "{KNOWN[-1]}"
branch_labels = None
depends_on = None


def upgrade():
    for number in range(60):
        op.execute(f"CREATE TABLE step_{{number}} (id INTEGER PRIMARY KEY, words TEXT)")
        op.execute(f"INSERT INTO step_{{number}} (words) SELECT typed FROM readings")
"""


def many():
    """An import of many readings."""
    piece = [str(i // 4 + 1) for i in range(ROWS)]
    size = [round(0.6254 + 0.00005 * (i % 7), 5) for i in range(ROWS)]
    columns = {
        "batch": [""] * ROWS,
        "feature": ["bore"] * ROWS,
        "piece": piece,
        "position": [("top", "bottom")[i % 2] for i in range(ROWS)],
        "repeat": [i // 2 % 2 + 1 for i in range(ROWS)],
        "kind": ["absolute"] * ROWS,
        "value": size,
        "low": size,
        "high": size,
        "step": [0.00005] * ROWS,
        "typed": [f"{item:.5f}" for item in size],
        "unit": ["in"] * ROWS,
        "time": [None] * ROWS,
        "temperature": [np.nan] * ROWS,
        "row": list(range(2, ROWS + 2)),
    }
    empty = {name: [""] * ROWS for name in ("applied", "gauge", "operator", "note", "suspect")}
    frame = readings_frame(columns | empty | {"file": ["bores.csv"] * ROWS})
    return Import(
        readings=frame, suspects=frame.iloc[:0].assign(question="", suggestion=""), refused=refused_frame([]), unit="in"
    )


MANY = many()


def say(pipe, words):
    os.write(pipe, f"{words}\n".encode())


def logging(folder, pipe):
    """Log one reading after another; every acknowledgement goes up the pipe, with strike-outs between."""
    with open_record(folder / "record.sqlite") as record:
        say(pipe, "ready")
        for i in range(10_000):
            kept = record.add_reading(1, "bore", str(i // 4), f".6254{i % 10}", client_id=f"k{os.getpid()}-{i}")
            say(pipe, f"kept {kept.id} k{os.getpid()}-{i}")
            if i % 7 == 6:
                record.strike(kept.id, "gauge slipped", "bench 2")
                say(pipe, f"struck {kept.id}")


def importing(folder, pipe):
    """Import many readings."""
    with open_record(folder / "record.sqlite") as record:
        say(pipe, "ready")
        record.add_readings(1, MANY)
        say(pipe, "imported")


def migrating(folder, pipe):
    """Bring a record forward by a step that was made for this."""
    step_forward(folder)
    say(pipe, "ready")
    open_record(folder / "record.sqlite").close()
    say(pipe, "migrated")


def making(folder, pipe):
    """Make a record where there is none."""
    say(pipe, "ready")
    with open_record(folder / "new.sqlite") as record:
        say(pipe, "made")
        record.add_job(JOB)
        say(pipe, "job")


def backing_up(folder, pipe):
    """Copy a record."""
    with open_record(folder / "record.sqlite") as record:
        say(pipe, "ready")
        for i in range(50):
            record.backup(folder / f"copy{i}.sqlite")
            say(pipe, f"copied {i}")


def step_forward(folder):
    """Let this process know one more form."""
    steps = folder / "steps"
    if not steps.exists():
        shutil.copytree(forms.STEPS, steps, ignore=shutil.ignore_patterns("__pycache__"))
        (steps / "versions" / "r9002_second.py").write_text(SECOND)
    forms.FORMS = (*KNOWN, "9002")
    forms.STEPS = steps


def check_logging(folder, said):
    with open_record(folder / "record.sqlite") as record:
        there = {entry.id: entry for entry in record.since(1, 0)}
        for words in said:
            kind, *rest = words.split()
            if kind == "kept":
                assert int(rest[0]) in there, f"acknowledged reading {rest[0]} is lost"
                i = int(rest[1].rpartition("-")[2])  # the very reading again, as a sender without an answer sends it
                again = record.add_reading(1, "bore", str(i // 4), f".6254{i % 10}", client_id=rest[1])
                assert again.duplicate and again.id == int(rest[0]), f"{rest[1]} was not known again"
            if kind == "struck":
                assert there[int(rest[0])].struck, f"acknowledged strike-out of {rest[0]} is lost"
        acknowledged = sum(words.startswith("kept") for words in said)
        assert len(there) - START in (acknowledged, acknowledged + 1), "more is there than was sent"


def check_importing(folder, said):
    with open_record(folder / "record.sqlite") as record:
        count = len(record.readings(1).readings) - START
        assert count in (0, ROWS), f"half an import is seen: {count} readings"
        assert count == ROWS or "imported" not in said, "an acknowledged import is lost"
        bulk = record.add_readings(1, MANY)
        assert bulk.kept == ROWS - count, "the import sent again was not kept once"
        assert len(record.readings(1).readings) == ROWS + START


def check_migrating(folder, said):
    step_forward(folder)
    with open_record(folder / "record.sqlite") as record:
        assert len(record.since(1, 0)) == START, "readings are lost"
    for copy in folder.glob("*.backup"):
        forms.FORMS = KNOWN
        with open_record(copy, create=False) as record:
            assert len(record.since(1, 0)) == START, "the copy before the migration is not whole"


def check_making(folder, said):
    with open_record(folder / "new.sqlite") as record:
        assert len(record.jobs()) == 1 or "job" not in said, "an acknowledged job is lost"
        if not record.jobs():
            record.add_job(JOB)
        record.add_reading(1, "bore", "1", ".6254", client_id="after")
        assert record.verify().holds


def check_backing_up(folder, said):
    for words in said:
        if words.startswith("copied"):
            assert (folder / f"copy{words.split()[1]}.sqlite").exists(), "an acknowledged copy is not there"
    for copy in folder.glob("copy*.sqlite"):
        with open_record(copy, create=False) as record:
            assert record.verify().holds, "a half copy lies under a copy's name"
            assert len(record.since(1, 0)) == START


START = 40
ENDLESS = {logging: 0.3, backing_up: 0.3}
CHECKS = {
    logging: check_logging,
    importing: check_importing,
    migrating: check_migrating,
    making: check_making,
    backing_up: check_backing_up,
}


def pattern(folder):
    """Make the record that every run begins with."""
    with open_record(folder / "record.sqlite") as record:
        record.add_job(JOB)
        for i in range(START):
            record.add_reading(1, "bore", str(i // 4), f".6254{i % 10}", client_id=f"start-{i}")
    return folder / "record.sqlite"


def one_run(work, source, folder, wait):
    """Start the work in a process of its own, kill it after a while; return what it said, if it was alive, how long."""
    shutil.copy(source, folder / "record.sqlite")
    out, into = os.pipe()
    child = os.fork()
    if child == 0:
        os.close(out)
        status = 0
        try:
            work(folder, into)
        except BaseException:  # noqa: BLE001 - a child that fails says so and ends
            traceback.print_exc()
            status = 7
        os._exit(status)
    os.close(into)
    said = b""
    while b"ready" not in said:
        part = os.read(out, 65536)
        if not part:
            break
        said += part
    began = time.perf_counter()
    if wait is not None:
        time.sleep(wait)
        with contextlib.suppress(ProcessLookupError):
            os.kill(child, signal.SIGKILL)
    _, status = os.waitpid(child, 0)
    took = time.perf_counter() - began
    while part := os.read(out, 65536):
        said += part
    os.close(out)
    if os.WIFEXITED(status) and os.WEXITSTATUS(status) != 0:
        raise AssertionError("the work itself failed; see above")
    return said.decode().split("\n")[:-1], os.WIFSIGNALED(status), took


def check(work, folder, said):
    """Look at what is there afterwards, and go on from it."""
    known, steps = forms.FORMS, forms.STEPS
    try:
        CHECKS[work](folder, said)
        if work is migrating:
            step_forward(folder)
        with open_record(folder / "record.sqlite") as record:
            record.add_reading(1, "bore", "1", ".6254", client_id="afterwards")
            proof = record.verify()
            assert proof.holds, proof.words
    finally:
        forms.FORMS, forms.STEPS = known, steps


def main(runs, seed):
    rng = random.Random(seed)
    table = {work.__name__: [0, 0, 0, 0] for work in CHECKS}
    faults = []
    memory = Path("/dev/shm")
    base = memory if memory.is_dir() and shutil.disk_usage(memory).free > 1e9 else None
    began = datetime.datetime.now()
    with tempfile.TemporaryDirectory(prefix="tenthwise-kill-", dir=base) as home:
        place = Path(home)
        (place / "pattern").mkdir()
        source = pattern(place / "pattern")
        longest = dict(ENDLESS)
        for work in sorted(CHECKS.keys() - ENDLESS.keys(), key=str):
            (place / work.__name__).mkdir()
            longest[work] = one_run(work, source, place / work.__name__, None)[2]
        print("at most", {work.__name__: round(wait, 3) for work, wait in longest.items()}, file=sys.stderr)
        for number in range(runs):
            work = list(CHECKS)[number % len(CHECKS)]
            folder = place / f"run{number}"
            folder.mkdir()
            row = table[work.__name__]
            row[0] += 1
            try:
                said, killed, _ = one_run(work, source, folder, rng.uniform(0, 1.15 * longest[work]))
                row[1] += killed
                row[2] += sum(words != "ready" for words in said)
                check(work, folder, said)
            except (AssertionError, TrackerError) as error:
                row[3] += 1
                faults.append(f"run {number} ({work.__name__}): {error}")
            shutil.rmtree(folder)
    print(f"{'while':<12}{'runs':>6}{'killed alive':>14}{'acknowledged':>14}{'faults':>8}")
    for name, row in table.items():
        print(f"{name.replace('_', ' '):<12}{row[0]:>6}{row[1]:>14}{row[2]:>14}{row[3]:>8}")
    print(f"{runs} runs in {(datetime.datetime.now() - began).total_seconds():.0f} s, seed {seed}")
    print("\n".join(faults) or "nothing acknowledged was lost, nothing half-written was seen")
    return 1 if faults else 0


if __name__ == "__main__":
    runs = int(sys.argv[1]) if len(sys.argv) > 1 else 15
    sys.exit(main(runs, int(sys.argv[2]) if len(sys.argv) > 2 else 20260914))
