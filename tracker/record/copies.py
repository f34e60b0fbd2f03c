"""Copies of the record: taken while it is in use, verified after writing, put back only when they hold.

A copy is always one SQLite file, of a record on PostgreSQL too: the rows and the chain are the same on both.
"""

from __future__ import annotations

import contextlib
import datetime
import os
import sqlite3
from collections.abc import Callable, Iterator
from pathlib import Path

from sqlalchemy import Connection, Engine, Table, func, select

from tracker.errors import RecordDamaged, RecordError
from tracker.record import chain
from tracker.record.database import connect, file_of, locate, name_of, reading, writing
from tracker.record.faults import in_plain_words, said_plainly
from tracker.record.forms import bring_forward, known_form
from tracker.record.kinds import Copy, Proof
from tracker.record.schema import chain as links
from tracker.record.schema import chained_at

Progress = Callable[[int, int], None]

PAGES = 2048
ROWS = 8192


def back_up(engine: Engine, target: Path, *, now: datetime.datetime, progress: Progress | None = None) -> Copy:
    """Copy a record that may be in use into one file, and verify what was written.

    Raises
    ------
    RecordError
        If the copy cannot be written.
    RecordDamaged
        If the copy does not hold; it is not left behind.
    """
    source = file_of(engine.url)
    if source is not None and source.absolute() == target.absolute():
        raise RecordError(f"{target} is the record itself; name another file for the copy")
    if not target.parent.is_dir():
        raise RecordError(f"there is no folder {target.parent} for the copy; make it first")
    if source is not None:
        copy_file(source, target, progress)
    else:
        _copy_of_server(engine, target, now, progress)
    proof = verified(target)
    if not proof.holds:
        remove(target)
        raise RecordDamaged(f"the copy does not hold: {proof.words}; the record itself has to be looked at (verify)")
    return Copy(path=str(target), readings=proof.readings, links=proof.links, digest=proof.digest)


def _copy_of_server(engine: Engine, target: Path, now: datetime.datetime, progress: Progress | None) -> None:
    if target.exists():
        raise RecordError(f"{target} is there already; name another file for the copy, or move that one away")
    half = target.with_name(target.name + ".part")
    with _removed_unless_done(half):
        with _opened(half, create=True, now=now) as copy, reading(engine) as old, writing(copy) as new:
            copy_rows(old, new, progress)
        with contextlib.closing(sqlite3.connect(half)) as file:
            file.execute("PRAGMA journal_mode=DELETE")
        settle(half, target)


@contextlib.contextmanager
def _opened(path: Path, *, create: bool, now: datetime.datetime) -> Iterator[Engine]:
    engine = connect(locate(path))
    try:
        with in_plain_words(str(path)):
            bring_forward(engine, create=create, now=now)
            yield engine
    finally:
        engine.dispose()


def copy_rows(old: Connection, new: Connection, progress: Progress | None = None) -> None:
    """Copy every row of every table, the chain last, as they are."""
    tables: list[Table] = [*chained_at(known_form(old)), links]
    total = sum(int(old.execute(select(func.count()).select_from(table)).scalar_one()) for table in tables)
    done = 0
    for table in tables:
        rows = old.execution_options(yield_per=ROWS).execute(select(table).order_by(table.c.id))
        for part in rows.partitions(ROWS):
            chain.insert_rows(new, table, [tuple(row) for row in part])
            done += len(part)
            if progress is not None:
                progress(done, total)


def verified(path: Path) -> Proof:
    """Return whether a copy holds: its pages, and every row of it.

    Raises
    ------
    RecordDamaged
        If it is not a whole database.
    RecordError
        If it is not there, or is no record.
    RecordTooNew
        If a newer program wrote it.
    """
    if not path.is_file():
        raise RecordError(f"there is no copy at {path}; name the file that backup wrote")
    check_pages(path)
    engine = connect(locate(path), only_read=True)
    try:
        with in_plain_words(str(path)), reading(engine) as connection:
            known_form(connection)
            return chain.proof(connection)
    finally:
        engine.dispose()


def put_back(engine: Engine, copy: Path, *, now: datetime.datetime, progress: Progress | None = None) -> Copy:
    """Put a copy in place of a record; a damaged copy is refused, and what was there is kept beside it.

    Raises
    ------
    RecordDamaged
        If the copy does not hold; nothing is changed.
    RecordError
        If it cannot be put back.
    """
    proof = verified(copy)
    if not proof.holds:
        raise RecordDamaged(f"{copy} does not hold: {proof.words}. It was not put back; nothing was changed.")
    target = file_of(engine.url)
    if target is None:
        _into_server(engine, copy, now, progress)
    else:
        _into_file(target, copy, now)
    return Copy(path=name_of(engine.url), readings=proof.readings, links=proof.links, digest=proof.digest)


def _into_server(engine: Engine, copy: Path, now: datetime.datetime, progress: Progress | None) -> None:
    with in_plain_words(name_of(engine.url)):
        bring_forward(engine, create=True, now=now)
        source = connect(locate(copy), only_read=True)
        try:
            with reading(source) as old, writing(engine) as new:
                if new.execute(select(func.count()).select_from(links)).scalar_one():
                    raise RecordError(
                        f"{name_of(engine.url)} holds a record already, and its rows are never removed;"
                        " make a new database and restore into that"
                    )
                copy_rows(old, new, progress)
        finally:
            source.dispose()


def _into_file(target: Path, copy: Path, now: datetime.datetime) -> None:
    target.parent.mkdir(parents=True, exist_ok=True)
    aside = target.with_name(f"{target.name}.before-restore-{now:%Y%m%dT%H%M%S%f}")
    if target.exists():
        try:
            check_pages(target)
        except RecordDamaged:
            for end in ("", "-wal", "-shm"):
                damaged = target.with_name(target.name + end)
                if damaged.exists():
                    damaged.replace(aside.with_name(aside.name + end))
        else:
            copy_file(target, aside)
    half = target.with_name(target.name + ".part")
    with _removed_unless_done(half):
        copy_file(copy, half)
        _nobody_signed_in(half)
        if not target.exists():
            with contextlib.closing(sqlite3.connect(half)) as file:
                file.execute("PRAGMA journal_mode=WAL")
            settle(half, target)
            return
        try:  # others may have the file open: write into it, in one transaction, instead of changing it under them
            with (
                contextlib.closing(sqlite3.connect(half)) as new,
                contextlib.closing(sqlite3.connect(target, timeout=10)) as old,
            ):
                new.backup(old)
        except sqlite3.Error as error:
            raise said_plainly(error, str(target)) from error


def _nobody_signed_in(file: Path) -> None:
    """Forget who was signed in when the copy was taken: who has signed out since must not be in again."""
    with contextlib.closing(sqlite3.connect(file, isolation_level=None)) as opened:
        if opened.execute("SELECT 1 FROM sqlite_master WHERE name = 'sessions'").fetchone():
            opened.execute("DELETE FROM sessions")


def copy_file(source: Path, target: Path, progress: Progress | None = None) -> None:
    """Copy a SQLite record with the engine's online backup; whole under its name, or not there at all.

    Raises
    ------
    RecordError
        If the copy cannot be written, or does not hold together.
    """
    if target.exists():
        raise RecordError(f"{target} is there already; name another file for the copy, or move that one away")
    half = target.with_name(target.name + ".part")
    with _removed_unless_done(half):
        try:
            with (
                contextlib.closing(sqlite3.connect(f"file:{source}?mode=ro", uri=True, timeout=10)) as old,
                contextlib.closing(sqlite3.connect(half)) as new,
            ):
                told = None if progress is None else (lambda _s, left, all_pages: progress(all_pages - left, all_pages))
                old.backup(new, pages=PAGES, progress=told)
                new.execute("PRAGMA journal_mode=DELETE")
            check_pages(half)
        except sqlite3.Error as error:
            raise said_plainly(error, f"{source} (or its copy {target})") from error
        except OSError as error:
            raise RecordError(f"the copy {target} cannot be written: {error.strerror}") from error
        settle(half, target)


def check_pages(path: Path) -> None:
    """Refuse a file whose pages do not hold together.

    Raises
    ------
    RecordDamaged
    """
    try:
        with contextlib.closing(sqlite3.connect(f"file:{path}?mode=ro", uri=True, timeout=10)) as file:
            found = [row[0] for row in file.execute("PRAGMA integrity_check(3)")]
    except sqlite3.DatabaseError as error:
        raise RecordDamaged(f"{path} is damaged ({error}); it was not used") from error
    if found != ["ok"]:
        raise RecordDamaged(f"{path} is damaged ({'; '.join(found)}); it was not used")


def settle(half: Path, target: Path) -> None:
    """Put a finished file under its name, safely on the disk."""
    with half.open("rb+") as file:
        os.fsync(file.fileno())
    half.replace(target)
    if hasattr(os, "O_DIRECTORY"):
        folder = os.open(target.parent, os.O_RDONLY | os.O_DIRECTORY)
        try:
            os.fsync(folder)
        finally:
            os.close(folder)


@contextlib.contextmanager
def _removed_unless_done(half: Path) -> Iterator[None]:
    remove(half)
    try:
        yield
    finally:
        remove(half)


def remove(path: Path) -> None:
    """Remove a file and what SQLite keeps beside it, if they are there."""
    for name in (path, path.with_name(path.name + "-wal"), path.with_name(path.name + "-shm")):
        name.unlink(missing_ok=True)
    path.with_name(path.name + "-journal").unlink(missing_ok=True)
