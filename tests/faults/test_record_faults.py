"""What happens to the record when the machine, the disk or the server fails: each fault is made for real."""

import contextlib
import datetime
import os
import shutil
import sqlite3
import subprocess
import sys
import textwrap
import threading
from pathlib import Path

import pytest
from sqlalchemy import create_engine

from tracker.errors import RecordDamaged, RecordError
from tracker.record import open_record

HERE = Path(__file__).parent


def run_alone(code, *arguments):
    """Run code in an interpreter of its own; return what it printed."""
    done = subprocess.run(
        [sys.executable, "-c", textwrap.dedent(code), *map(str, arguments)],
        capture_output=True,
        text=True,
        timeout=120,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    return done.stdout.splitlines()


@pytest.mark.slow
def test_killed_at_random_moments_nothing_acknowledged_is_lost():
    done = subprocess.run(
        [sys.executable, HERE / "kill_runs.py", "15"], capture_output=True, text=True, timeout=280, check=False
    )
    assert done.returncode == 0, done.stdout + done.stderr
    assert "nothing acknowledged was lost" in done.stdout
    killed = sum(int(line.split()[-3]) for line in done.stdout.splitlines()[1:6])
    assert killed >= 5, "too few were still alive when they were killed:\n" + done.stdout


FILL = """
import sys
from tracker.errors import RecordError
from tracker.record import open_record
{before}
with open_record(sys.argv[1]) as record:
    job = record.add_job(open(sys.argv[2]).read()).id
    {after}
    kept = 0
    try:
        for i in range(20000):
            record.add_reading(job, "bore", str(i), ".6254", client_id=str(i), note="n" * 300)
            kept += 1
    except RecordError as error:
        print(kept)
        print(error)
"""


def after_the_disk_was_full(path, said):
    kept, words = int(said[0]), said[1]
    assert 0 < kept < 20000
    assert "disk" in words
    assert "Nothing of this step was kept" in words
    with open_record(path) as record:
        assert len(record.since(1, 0)) == kept
        assert record.verify().holds
        return kept


@pytest.fixture
def job_file(tmp_path, job_text):
    (tmp_path / "job.toml").write_text(job_text)
    return tmp_path / "job.toml"


def test_a_full_disk_loses_nothing_and_says_so(tmp_path, job_file):
    small = tmp_path / "small"
    small.mkdir()
    mounted = subprocess.run(
        ["mount", "-t", "tmpfs", "-o", "size=3m", "tmpfs", small], capture_output=True, text=True, check=False
    )
    if mounted.returncode != 0:
        pytest.skip(
            f"a small disk cannot be mounted here ({mounted.stderr.strip()}); the limited file is tried instead"
        )
    try:
        said = run_alone(FILL.format(before="", after=""), small / "record.sqlite", job_file)
        for item in small.iterdir():
            shutil.copy(item, tmp_path)
        after_the_disk_was_full(tmp_path / "record.sqlite", said)
    finally:
        subprocess.run(["umount", small], check=True)


def test_a_file_that_may_not_grow_loses_nothing_and_says_so(tmp_path, job_file):
    limit = "import resource, signal; signal.signal(signal.SIGXFSZ, signal.SIG_IGN)"
    after = "resource.setrlimit(resource.RLIMIT_FSIZE, (1_000_000, 1_000_000))"
    path = tmp_path / "record.sqlite"
    said = run_alone(FILL.format(before=limit, after=after), path, job_file)
    after_the_disk_was_full(path, said)
    with open_record(path) as record:  # with room again, work goes on
        record.add_reading(1, "bore", "1", ".6254", client_id="later")


READ_ONLY = """
import os, sys
from tracker.errors import RecordError
from tracker.record import open_record
with open_record(sys.argv[1]) as record:
    job = record.add_job(open(sys.argv[2]).read()).id
    record.add_reading(job, "bore", "1", ".6254", client_id="a")
    record.readings(job)
os.chmod(sys.argv[1], 0o444)
os.chmod(os.path.dirname(sys.argv[1]), 0o555)
if os.geteuid() == 0:
    os.seteuid(65534)
try:
    with open_record(sys.argv[1]) as record:
        print("read", len(record.readings(job).readings))
        record.add_reading(job, "bore", "1", ".6254", client_id="b")
except RecordError as error:
    print(error)
"""


def test_a_read_only_file_is_said_plainly(job_file):
    import tempfile

    folder = Path(tempfile.mkdtemp())  # not under pytest's own folders, which others may not enter
    folder.chmod(0o755)
    shutil.copy(job_file, folder / "job.toml")
    (folder / "shop").mkdir()
    try:
        said = run_alone(READ_ONLY, folder / "shop" / "record.sqlite", folder / "job.toml")
        assert said[-1].startswith("the record ")
        assert "read-only" in said[-1] or "cannot be opened" in said[-1]
        (folder / "shop").chmod(0o755)
        (folder / "shop" / "record.sqlite").chmod(0o644)
        with open_record(folder / "shop" / "record.sqlite") as record:
            assert len(record.readings(1).readings) == 1
            record.add_reading(1, "bore", "1", ".6254", client_id="b")
            assert record.verify().holds
    finally:
        shutil.rmtree(folder)


def test_a_locked_file_is_waited_for_then_said_plainly(tmp_path, job_text):
    path = tmp_path / "record.sqlite"
    with open_record(path, busy_seconds=0.2) as record:
        job = record.add_job(job_text).id
        with contextlib.closing(sqlite3.connect(path, isolation_level=None)) as other:
            other.execute("BEGIN IMMEDIATE")
            with pytest.raises(RecordError, match="kept it locked"):
                record.add_reading(job, "bore", "1", ".6254", client_id="a")
            assert record.readings(job).readings.empty  # reading goes on meanwhile
            other.execute("ROLLBACK")
        assert not record.add_reading(job, "bore", "1", ".6254", client_id="a").duplicate


@pytest.mark.postgres
def test_a_server_that_another_keeps_locked_is_said_plainly(postgres_server, job_text):
    from tracker.record.database import WRITERS_LOCK

    url = postgres_server.new_database()
    with open_record(url, busy_seconds=1) as record:
        job = record.add_job(job_text).id
        engine = create_engine(url)
        with engine.begin() as other:
            other.exec_driver_sql(f"SELECT pg_advisory_xact_lock({WRITERS_LOCK})")
            with pytest.raises(RecordError, match="held by another program"):
                record.add_reading(job, "bore", "1", ".6254", client_id="a")
            assert record.readings(job).readings.empty
        engine.dispose()
        assert not record.add_reading(job, "bore", "1", ".6254", client_id="a").duplicate


def test_a_lock_that_is_let_go_in_time_is_waited_out(tmp_path, job_text):
    path = tmp_path / "record.sqlite"
    with open_record(path, busy_seconds=20) as record:
        job = record.add_job(job_text).id
        other = sqlite3.connect(path, isolation_level=None, check_same_thread=False)
        other.execute("BEGIN IMMEDIATE")
        timer = threading.Timer(0.5, lambda: other.execute("ROLLBACK"))
        timer.start()
        assert record.add_reading(job, "bore", "1", ".6254", client_id="a").id == 1
        timer.join()
        other.close()


def test_a_damaged_page_is_found_and_never_read_as_good(tmp_path, job_text):
    path = tmp_path / "record.sqlite"
    with open_record(path) as record:
        job = record.add_job(job_text).id
        for i in range(60):
            record.add_reading(job, "bore", str(i), ".6254", client_id=str(i), note="n" * 600)
    whole = path.read_bytes()
    pages = range(4096, len(whole), 4096)
    silent = []
    for start in pages:
        path.write_bytes(whole[:start] + os.urandom(4096) + whole[start + 4096 :])
        try:
            with open_record(path) as record:
                if record.verify().holds:
                    silent.append(start // 4096)
        except RecordDamaged as error:
            assert "damaged" in str(error)
        except RecordError as error:
            assert "record" in str(error)
    assert silent == []
    path.write_bytes(whole)
    with open_record(path) as record:
        assert record.verify().holds


@pytest.mark.parametrize("keep", [10, 5000, 40000])
def test_a_truncated_file_is_said_plainly(tmp_path, job_text, keep):
    path = tmp_path / "record.sqlite"
    with open_record(path) as record:
        job = record.add_job(job_text).id
        for i in range(30):
            record.add_reading(job, "bore", str(i), ".6254", client_id=str(i), note="n" * 600)
    path.write_bytes(path.read_bytes()[:keep])
    with pytest.raises(RecordDamaged, match="damaged"), open_record(path) as record:
        record.verify()


def test_a_clock_set_back_changes_no_order(record, job_text):
    job = record.add_job(job_text).id
    noon = datetime.datetime(2026, 9, 14, 12, 0, tzinfo=datetime.UTC)
    for i, hours in enumerate((0, 1, -30, -29, 2)):
        record.add_reading(
            job, "bore", f"p{i}", f".6254{i}", client_id=str(i), now=noon + datetime.timedelta(hours=hours)
        )
    assert record.readings(job).readings["piece"].tolist() == ["p0", "p1", "p2", "p3", "p4"]
    assert [entry.piece for entry in record.log_state(job, "bore").entries] == ["p4", "p3", "p2", "p1", "p0"]
    assert [entry.piece for entry in record.since(job, 2)] == ["p2", "p3", "p4"]
    assert record.verify().holds


WRITER = """
import sys
from tracker.record import open_record
url, bench = sys.argv[1:]
with open_record(url, busy_seconds=60) as record:
    for i in range(20):
        sent = {"client_id": f"{bench}-{i}", "operator": f"bench {bench}"}
        kept = record.add_reading(1, "bore", str(i), f".6254{i % 10}", **sent)
        print(kept.id, flush=True)
"""


@pytest.mark.slow
def test_eight_writers_at_once(url, job_text):
    with open_record(url) as record:
        job = record.add_job(job_text).id
    writers = [
        subprocess.Popen([sys.executable, "-c", WRITER, url, str(bench)], stdout=subprocess.PIPE, text=True)
        for bench in range(8)
    ]
    numbers = [int(line) for writer in writers for line in writer.communicate(timeout=200)[0].split()]
    assert [writer.returncode for writer in writers] == [0] * 8
    assert sorted(numbers) == list(range(1, 161))
    with open_record(url) as record:
        frame = record.readings(job).readings
        assert len(frame) == 160
        assert frame.groupby("piece")["repeat"].apply(sorted).map(lambda found: found == list(range(1, 9))).all()
        assert record.verify().holds


def test_eight_who_make_the_same_record_at_once(url, job_text):
    faults, jobs = [], []

    def make():
        try:
            with open_record(url) as record:
                jobs.append(record.add_job(job_text, client_id="the one").id)
        except RecordError as error:
            faults.append(error)

    threads = [threading.Thread(target=make) for _ in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert faults == []
    assert jobs == [1] * 8


@pytest.mark.postgres
def test_a_server_gone_and_back(new_server, job_text):
    server = new_server()
    try:
        url = server.new_database()
        with open_record(url) as record:
            job = record.add_job(job_text).id
            acknowledged, refused = [], []
            for i in range(40):
                if i == 15:
                    server.stop("immediate")
                if i == 20:
                    server.start()
                sent = {"client_id": f"r{i}"}
                try:
                    acknowledged.append(record.add_reading(job, "bore", str(i), ".6254", **sent).id)
                except RecordError as error:
                    assert "does not answer" in str(error), error
                    assert "\n" not in str(error)
                    refused.append(i)
            assert refused[0] == 15
            assert set(refused) <= set(range(15, 22))
            for i in refused:  # what the queue at the bench does: send again what was not acknowledged
                record.add_reading(job, "bore", str(i), ".6254", client_id=f"r{i}")
            assert sorted(record.readings(job).readings["piece"], key=int) == [str(i) for i in range(40)]
            assert set(acknowledged) <= {entry.id for entry in record.since(job, 0)}
            assert record.verify().holds
    finally:
        server.stop("immediate")
        shutil.rmtree(server.folder, ignore_errors=True)
