"""`open_record`, and `restore`, which puts a copy in its place."""

from __future__ import annotations

import datetime
from pathlib import Path

from tracker.errors import RecordError
from tracker.record import copies
from tracker.record.database import connect, file_of, locate, name_of
from tracker.record.faults import in_plain_words
from tracker.record.forms import bring_forward
from tracker.record.kinds import Copy
from tracker.record.record import Moment, Progress, Record


def open_record(
    url_or_path: str | Path, *, create: bool = True, busy_seconds: float = 10.0, now: Moment = None
) -> Record:
    """Open a record, making it or bringing it to the present form where needed.

    Parameters
    ----------
    url_or_path : str or pathlib.Path
        A file, ``sqlite:///file``, or ``postgresql+psycopg://user@host/name``.
    create : bool
        Whether a record that is not there yet is made.
    busy_seconds : float
        How long to wait for another program that holds it.
    now : datetime.datetime, optional
        This moment.

    Returns
    -------
    Record
        Close it, or use it in ``with``.

    Raises
    ------
    RecordTooNew
        If a newer program wrote it; nothing is changed.
    RecordDamaged
        If the file is no longer whole.
    RecordError
        If it cannot be opened.
    """
    url = locate(url_or_path)
    path = file_of(url)
    if path is not None and not path.exists():
        if not create:
            raise RecordError(f"there is no record at {path}; name another with --record, or log a reading first")
        try:
            path.parent.mkdir(parents=True, exist_ok=True)
        except OSError as error:
            raise RecordError(f"the folder {path.parent} cannot be made: {error.strerror}") from error
    engine = connect(url, busy_seconds=busy_seconds)
    try:
        with in_plain_words(name_of(url)):
            copy = bring_forward(engine, create=create, now=now or datetime.datetime.now())
    except BaseException:
        engine.dispose()
        raise
    return Record(engine, copied_before=copy)


def restore(copy: str | Path, url_or_path: str | Path, *, progress: Progress | None = None, now: Moment = None) -> Copy:
    """Put a copy that `Record.backup` wrote in place of a record.

    The copy is verified first. A record file that is there is kept beside it (``.before-restore-``); a database on a
    server must be new, as rows are never removed. Programs that have the record open should be started again.

    Raises
    ------
    RecordDamaged
        If the copy does not hold; nothing is changed.
    RecordTooNew
        If a newer program wrote it.
    RecordError
        If it cannot be put back.
    """
    engine = connect(locate(url_or_path))
    try:
        with in_plain_words(name_of(engine.url)):
            moment = now or datetime.datetime.now()
            return copies.put_back(engine, Path(copy), now=moment, progress=progress)
    finally:
        engine.dispose()
