"""Rows about the record: one reading acknowledged, a million imported, a page with a million behind it."""

from __future__ import annotations

import functools
import itertools
import shutil
import sqlite3
import subprocess
import uuid
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
from comparison import SAMPLE, Row

if TYPE_CHECKING:
    from tracker.record import Record

MANY, FEW = 1_000_000, 100


def kept_rows(folder: Path, rng: np.random.Generator) -> list[Row]:
    """Return the rows that need a record; it is written below ``folder``."""
    return [_acknowledged(folder, rng), _imported(folder, rng), *_pages(folder, rng)]


def _acknowledged(folder: Path, rng: np.random.Generator) -> Row:
    from tracker.record import open_record

    record = open_record(str(folder / "bench.sqlite"))
    number = record.add_job((SAMPLE / "job.toml").read_text(encoding="utf-8")).id
    bare = sqlite3.connect(folder / "bare.sqlite", isolation_level=None)
    bare.executescript(
        "PRAGMA journal_mode=WAL; PRAGMA synchronous=FULL; CREATE TABLE r (id INTEGER PRIMARY KEY, typed TEXT) STRICT;"
    )
    turn = itertools.count()

    def one() -> object:
        piece, digit = str(next(turn) % 12 + 1), rng.integers(0, 9)
        return record.add_reading(number, "bore", piece, f"0.6254{digit}", client_id=uuid.uuid4().hex)

    def floor() -> object:
        bare.execute("BEGIN IMMEDIATE")
        bare.execute("INSERT INTO r (typed) VALUES ('0.6254')")
        return bare.execute("COMMIT")

    return Row(
        "100 readings acknowledged one by one (SQLite, full sync)",
        "100 bare INSERT and COMMIT",
        2,
        lambda: [one() for _ in range(100)],
        lambda: [floor() for _ in range(100)],
        7,
        "where it misses: the ways to the disk are the same two; the rest is reading the text, the repeat number and"
        " two SHA-256, so that a fast disk shows it most",
    )


def write_readings(path: Path, number: int, rng: np.random.Generator, pieces: int = 20_000) -> None:
    """Write a CSV of batches in which every piece is read twice at two positions."""
    size = np.repeat(rng.normal(0.62535, 0.0001, -(-number // 4)), 4)[:number] + rng.normal(0, 0.00002, number)
    with path.open("w", encoding="utf-8") as file:
        file.write("batch,piece,position,value,operator,gauge\n")
        for i, value in enumerate(size.tolist()):
            place = "top" if i % 4 < 2 else "bottom"
            file.write(f"b{i // (4 * pieces)},{i // 4 % pieces + 1},{place},{value:.5f},bench 2,bore gauge\n")


def _imported(folder: Path, rng: np.random.Generator) -> Row:
    from tracker import load_job
    from tracker.readings import iter_readings
    from tracker.record import open_record

    csv, job, turn = folder / "bore.csv", load_job(SAMPLE), itertools.count()
    there = shutil.which("sqlite3")

    def fresh(name: str) -> Path:
        path = folder / f"{name}{next(turn)}.sqlite"
        for old in folder.glob(f"{name}*"):
            old.unlink()
        return path

    def ours() -> object:
        if not csv.exists():
            write_readings(csv, MANY, rng)
        with open_record(str(fresh("imported"))) as record:
            return record.add_readings(record.add_job(job.text).id, iter_readings(csv, job))

    def theirs() -> object:
        command = ["sqlite3", str(fresh("shell")), f".import --csv {csv} readings"]
        return subprocess.run(command, check=True, capture_output=True)

    return Row(
        "1,000,000 readings of a CSV checked and kept in SQLite",
        "sqlite3 .import of the file" if there else "sqlite3 (not installed, not compared)",
        3,
        ours,
        theirs if there else None,
        3,
        "by profile in processor seconds, the shell 1.05: insert of 31 columns with two indexes, three foreign keys and"
        " the checks 3.6, commit 0.4, reading and asking what is suspect 2.6 (in a thread beside it), a mark a row 1.2,"
        " columns made plain 0.7. Tried: many rows a statement (6.2 to 3.6 s), each different value read and written"
        " once, the next part read meanwhile; a bare insert of these rows alone takes 2.5 with no index at all",
    )


def _pages(folder: Path, rng: np.random.Generator) -> list[Row]:
    from dashboard.parts.answers import Answers
    from dashboard.server import rendered

    home = folder / "pages"
    home.mkdir()

    @functools.cache
    def asked(number: int) -> Answers:
        return Answers(_record_of(home, number, rng))

    def shown(number: int, page: str) -> Callable[[], object]:
        return lambda: rendered(asked(number), f"/{page}", "?job=1")

    return [
        Row(
            f"page {page}, {MANY:,} readings in its job", f"the same page, {FEW} readings", 2, shown(MANY, page), few, 7
        )
        for page in ("batch", "fit", "wear")
        for few in (shown(FEW, page),)
    ]


def _record_of(home: Path, number: int, rng: np.random.Generator) -> Record:
    from tracker import load_job
    from tracker.readings import iter_readings, read_readings
    from tracker.record import open_record

    folder, job = home / str(number), load_job(SAMPLE)
    folder.mkdir()
    csv = folder / "bore.csv"
    write_readings(csv, number, rng, pieces=20_000)
    record = open_record(str(folder / "pages.sqlite"))
    kept = record.add_job(job.text).id
    record.add_readings(kept, iter_readings(csv, job))
    record.add_readings(kept, read_readings(SAMPLE / "shank.csv", job))
    return record
