"""Copies of the record: taken while it is in use, verified after writing, put back only when they hold."""

from __future__ import annotations

import contextlib
import os
import sqlite3
from collections.abc import Callable, Iterator
from pathlib import Path

from tracker.errors import RecordDamaged, RecordError
from tracker.record.faults import said_plainly

PAGES = 2048


def copy_file(source: Path, target: Path, progress: Callable[[int, int], None] | None = None) -> None:
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
