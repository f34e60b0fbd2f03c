"""Where the record is, and how a connection to it is made."""

from __future__ import annotations

import contextlib
import os
import sqlite3
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, Engine, create_engine, event
from sqlalchemy.engine import URL, make_url
from sqlalchemy.exc import ArgumentError, NoSuchModuleError
from sqlalchemy.pool import QueuePool

from tracker.errors import RecordError, TrackerError

BUSY_SECONDS = 10.0
WRITERS_LOCK = 7_482_610_253  # any number of our own: the advisory lock that PostgreSQL writers take in turn
ACCEPTED = "a file such as shop.tenthwise, sqlite:///path, or postgresql+psycopg://user@host/name"


def default_record_path() -> Path:
    """Return where the record lies when none is named: the user's own data folder."""
    if sys.platform == "win32":
        base = os.environ.get("LOCALAPPDATA")
        folder = Path(base) if base else Path.home() / "AppData" / "Local"
    elif sys.platform == "darwin":
        folder = Path.home() / "Library" / "Application Support"
    else:
        base = os.environ.get("XDG_DATA_HOME")
        folder = Path(base) if base else Path.home() / ".local" / "share"
    return folder / "tenthwise" / "record.sqlite"


def locate(url_or_path: str | Path) -> URL:
    """Return the address that a path or a URL means.

    Raises
    ------
    RecordError
        If it is neither a path nor a URL of SQLite or PostgreSQL.
    """
    text = str(url_or_path).strip()
    if not text:
        raise RecordError(f"no record is named; accepted is {ACCEPTED}")
    if "://" not in text:
        return URL.create("sqlite", database=str(Path(text).expanduser().absolute()))
    try:
        url = make_url(text)
    except ArgumentError as error:
        raise RecordError(f"{text!r} is not the address of a record; accepted is {ACCEPTED}") from error
    if url.drivername in ("sqlite", "sqlite+pysqlite"):
        if not url.database or url.database == ":memory:":
            raise RecordError("a record in memory would be lost; accepted is sqlite:///path/to/file")
        return URL.create("sqlite", database=str(Path(url.database).expanduser().absolute()))
    if url.drivername in ("postgresql", "postgres", "postgresql+psycopg"):
        return url.set(drivername="postgresql+psycopg")
    raise RecordError(f"{url.drivername!r} is not a database for a record; accepted is {ACCEPTED}")


def file_of(url: URL) -> Path | None:
    """Return the file of a SQLite record, None for a server."""
    return Path(str(url.database)) if url.get_backend_name() == "sqlite" else None


def name_of(url: URL) -> str:
    """Return how a record is called in a message: its path, or its address without the password."""
    path = file_of(url)
    return str(path) if path is not None else url.render_as_string(hide_password=True)


def connect(url: URL, *, busy_seconds: float = BUSY_SECONDS, only_read: bool = False) -> Engine:
    """Return an engine for a record; nothing is opened yet.

    Raises
    ------
    RecordError
        If the driver for PostgreSQL is not installed.
    """
    if file_of(url) is not None:
        return _sqlite(url, busy_seconds, only_read)
    try:
        engine = create_engine(
            url,
            pool_pre_ping=True,
            pool_size=8,
            max_overflow=16,
            connect_args={"connect_timeout": int(busy_seconds), "application_name": "tenthwise"},
        )
    except (ModuleNotFoundError, NoSuchModuleError) as error:
        raise RecordError(
            "a record on PostgreSQL needs the psycopg driver; install it with: pip install 'tenthwise[postgres]'"
        ) from error

    @event.listens_for(engine, "connect")
    def settle(connection: Any, _record: Any) -> None:
        with connection.cursor() as cursor:
            cursor.execute(f"SET lock_timeout = {int(busy_seconds * 1000)}")
        connection.commit()

    return engine


def _sqlite(url: URL, busy_seconds: float, only_read: bool) -> Engine:
    engine = create_engine(
        url.update_query_dict({"mode": "ro", "uri": "true"}).set(database=f"file:{url.database}") if only_read else url,
        poolclass=QueuePool,
        pool_size=8,
        max_overflow=16,
        connect_args={"check_same_thread": False, "timeout": busy_seconds, "cached_statements": 256},
    )

    @event.listens_for(engine, "connect")
    def settle(connection: sqlite3.Connection, _record: Any) -> None:
        connection.isolation_level = None  # transactions begin where `writing` says so, never on their own
        connection.execute("PRAGMA synchronous=FULL")
        connection.execute("PRAGMA foreign_keys=ON")
        connection.execute("PRAGMA trusted_schema=OFF")
        connection.execute("PRAGMA cache_size=-65536")
        connection.execute("PRAGMA temp_store=MEMORY")
        connection.execute("PRAGMA wal_autocheckpoint=4000")

    @event.listens_for(engine, "begin")
    def begin(connection: Connection) -> None:
        way = "BEGIN IMMEDIATE" if connection.get_execution_options().get("writes") else "BEGIN"
        driver: Any = connection.connection.driver_connection
        driver.execute(way)

    return engine


@contextlib.contextmanager
def writing(engine: Engine) -> Iterator[Connection]:
    """Open a transaction that writes; writers take turns, and either all of it is kept or nothing."""
    with engine.connect().execution_options(writes=True) as connection, connection.begin():
        if connection.dialect.name == "postgresql":
            connection.exec_driver_sql(f"SELECT pg_advisory_xact_lock({WRITERS_LOCK})")
        yield connection


@contextlib.contextmanager
def writing_bare(engine: Engine) -> Iterator[Any]:
    """Open a transaction that writes, as `writing`, and give the driver's own cursor: the short way for one row."""
    pooled = engine.raw_connection()
    try:
        cursor = pooled.cursor()
        if engine.dialect.name == "sqlite":
            cursor.execute("BEGIN IMMEDIATE")
        else:
            cursor.execute(f"SELECT pg_advisory_xact_lock({WRITERS_LOCK})")
        yield cursor
        pooled.commit()
    except BaseException as error:
        if isinstance(error, sqlite3.Error | TrackerError):
            pooled.rollback()
        else:
            pooled.invalidate(error if isinstance(error, Exception) else None)
        raise
    finally:
        pooled.close()


@contextlib.contextmanager
def reading(engine: Engine) -> Iterator[Connection]:
    """Open a transaction that reads: all its queries see the same state."""
    with engine.connect() as connection:
        if connection.dialect.name == "postgresql":
            connection = connection.execution_options(isolation_level="REPEATABLE READ")
        with connection.begin():
            yield connection
