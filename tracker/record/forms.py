"""Which form (schema revision) a record has, and how it is brought forward."""

from __future__ import annotations

import contextlib
import datetime
import sqlite3
import time
from pathlib import Path

from sqlalchemy import Connection, Engine, inspect

from tracker.errors import RecordError, RecordTooNew
from tracker.record.database import BUSY_SECONDS, file_of, name_of, writing

FORMS = ("0001", "0002")
"""Every form there was, in order; the last is the present one. A test holds it against the steps."""


STEPS = Path(__file__).parent / "migrations"


def form_of(connection: Connection) -> str | None:
    """Return the form of a record, None where there is none yet.

    Raises
    ------
    RecordError
        If the database holds tables of something else.
    """
    names = set(inspect(connection).get_table_names())
    if "alembic_version" not in names:
        if names:
            raise RecordError(
                f"{name_of(connection.engine.url)} is a database, but not a record of this program"
                f" (it holds {', '.join(sorted(names)[:3])}); name another"
            )
        return None
    found = connection.exec_driver_sql("SELECT version_num FROM alembic_version").scalar_one_or_none()
    return None if found is None else str(found)


def known_form(connection: Connection) -> str:
    """Return the form of a record.

    Raises
    ------
    RecordTooNew
        If this program does not know it.
    RecordError
        If there is no record.
    """
    form = form_of(connection)
    where = name_of(connection.engine.url)
    if form is None:
        raise RecordError(f"there is no record at {where}; it is made when the first reading is logged")
    if form not in FORMS:
        raise RecordTooNew(
            f"the record {where} has form {form}, and this program knows forms up to {FORMS[-1]}:"
            " a newer program wrote it. Use that program, or update this one; nothing was changed."
        )
    return form


def bring_forward(engine: Engine, *, create: bool, now: datetime.datetime) -> Path | None:
    """Bring a record to the present form; a file is copied first.

    Returns
    -------
    pathlib.Path or None
        The copy that was taken before, None where nothing had to be copied.

    Raises
    ------
    RecordTooNew
        If a newer program wrote it.
    RecordError
        If there is no record and none is to be made.
    """
    with engine.connect() as connection:
        form = None if create and form_of(connection) is None else known_form(connection)
    if form == FORMS[-1]:
        return None
    copy = _copy_before(engine, form, now) if form is not None else None
    path = file_of(engine.url)
    if path is not None and form is None:
        _write_ahead(path)
    with writing(engine) as connection:
        if form_of(connection) != FORMS[-1]:  # another program may have done it while this one waited
            _step_forward(connection)
    return copy


def _write_ahead(path: Path) -> None:
    """Set the write-ahead journal: a property of the file from then on."""
    with contextlib.closing(sqlite3.connect(path, timeout=BUSY_SECONDS, isolation_level=None)) as file:
        for _ in range(200):
            try:
                file.execute("PRAGMA journal_mode=WAL")
                return
            except sqlite3.OperationalError as error:  # another program sets it at this moment
                if error.sqlite_errorname != "SQLITE_BUSY":
                    raise
                time.sleep(0.05)
    raise RecordError(f"the record {path} is kept locked by another program; close that program and try again")


def _step_forward(connection: Connection) -> None:
    from alembic import command
    from alembic.config import Config

    config = Config()
    config.set_main_option("script_location", str(STEPS).replace("%", "%%"))
    config.attributes["connection"] = connection
    command.upgrade(config, "head")


def _copy_before(engine: Engine, form: str, now: datetime.datetime) -> Path | None:
    path = file_of(engine.url)
    if path is None:
        return None
    from tracker.record.copies import copy_file

    target = path.with_name(f"{path.name}.form-{form}-{now:%Y%m%dT%H%M%S%f}.backup")
    copy_file(path, target)
    return target
