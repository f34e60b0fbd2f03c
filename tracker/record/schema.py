"""The tables of the record: one schema for SQLite and PostgreSQL, rows only ever added."""

from __future__ import annotations

from typing import Any

from sqlalchemy import (
    REAL,
    CheckConstraint,
    Column,
    Double,
    ForeignKey,
    Index,
    Integer,
    LargeBinary,
    MetaData,
    Table,
    Text,
    UniqueConstraint,
    text,
)

metadata = MetaData(
    naming_convention={
        "ix": "ix_%(table_name)s_%(column_0_N_name)s",
        "uq": "uq_%(table_name)s_%(column_0_N_name)s",
        "ck": "ck_%(table_name)s_%(constraint_name)s",
        "fk": "fk_%(table_name)s_%(column_0_N_name)s",
        "pk": "pk_%(table_name)s",
    }
)


def _id() -> Column[int]:
    return Column("id", Integer, primary_key=True, autoincrement=False)


def _text(name: str) -> Column[str]:
    return Column(name, Text, nullable=False)


def _number(name: str) -> Column[float]:
    return Column(name, Double().with_variant(REAL(), "sqlite"), nullable=True)


def _whole(name: str) -> Column[int]:
    return Column(name, Integer, nullable=False)


def _refers(name: str, to: str, *, optional: bool = False) -> Column[int]:
    return Column(name, Integer, ForeignKey(f"{to}.id"), nullable=optional)


def _client() -> Column[str]:
    """Return the id that the sender made: sent twice, kept once."""
    return Column("client_id", Text, nullable=True, unique=True)


def _kept() -> tuple[Column[str], Column[str]]:
    """Return who kept a row, and when (UTC, as text)."""
    return _text("kept_by"), _text("kept_at")


def _table(name: str, *columns: Column[Any] | Index | UniqueConstraint | CheckConstraint) -> Table:
    return Table(name, metadata, *columns, sqlite_strict=True)


jobs = _table("jobs", _id(), _text("unit"), _client(), *_kept())

job_revisions = _table(
    "job_revisions",
    _id(),
    _refers("job_id", "jobs"),
    _whole("number"),
    _text("name"),
    _text("text"),
    _text("sha256"),
    *_kept(),
    UniqueConstraint("job_id", "number"),
)

batches = _table(
    "batches",
    _id(),
    _refers("job_id", "jobs"),
    _text("feature"),
    _text("batch"),
    _refers("revision_id", "job_revisions"),
    *_kept(),
    UniqueConstraint("job_id", "feature", "batch"),
)

imports = _table(
    "imports",
    _id(),
    _refers("job_id", "jobs"),
    _text("files"),
    _whole("good"),
    _whole("suspect"),
    _whole("refused"),
    *_kept(),
)

readings = _table(
    "readings",
    _id(),
    _refers("batch_id", "batches"),
    _refers("revision_id", "job_revisions"),
    _refers("import_id", "imports", optional=True),
    _text("piece"),
    _text("position"),
    _whole("repeat"),
    _text("kind"),
    _text("typed"),
    _text("unit"),
    _text("exact"),
    _number("value"),
    _number("low"),
    _number("high"),
    _number("step"),
    _number("mm"),
    _text("applied"),
    _text("gauge"),
    _text("operator"),
    _text("note"),
    _text("time"),
    _number("temperature"),
    _text("suspect"),
    _whole("held"),
    _text("question"),
    _text("suggestion"),
    _text("file"),
    _whole("row"),
    Column("client_id", Text, nullable=True),
    *_kept(),
    CheckConstraint("kind IN ('absolute', 'comparator', 'go_no_go')", name="kind"),
    CheckConstraint("repeat >= 1", name="repeat"),
    CheckConstraint("held IN (0, 1)", name="held"),
    Index("ix_readings_place", "batch_id", "piece", "position"),
    Index("ix_readings_batch", "batch_id", "id"),
    Index("ix_readings_held", "id", sqlite_where=text("held = 1"), postgresql_where=text("held = 1")),
    Index(
        "ix_readings_client_id",
        "client_id",
        unique=True,
        sqlite_where=text("client_id IS NOT NULL"),
        postgresql_where=text("client_id IS NOT NULL"),
    ),
)

confirmations = _table(
    "confirmations",
    _id(),
    Column("reading_id", Integer, ForeignKey("readings.id"), nullable=False, unique=True),
    *_kept(),
)

strike_outs = _table(
    "strike_outs",
    _id(),
    Column("reading_id", Integer, ForeignKey("readings.id"), nullable=False, unique=True),
    _text("reason"),
    *_kept(),
)

events = _table(
    "events",
    _id(),
    _refers("job_id", "jobs"),
    _text("feature"),
    _text("after_piece"),
    _text("event"),
    _text("batch"),
    _number("amount"),
    _text("note"),
    _client(),
    *_kept(),
    Index(None, "job_id"),
)

baselines = _table(
    "baselines",
    _id(),
    _refers("job_id", "jobs"),
    _text("feature"),
    _text("chart"),
    _number("centre"),
    _number("sd"),
    _whole("pieces"),
    _text("first_piece"),
    _text("last_piece"),
    _text("note"),
    *_kept(),
    Index(None, "job_id"),
)

gauges = _table(
    "gauges",
    _id(),
    _text("name"),
    _text("serial"),
    _text("unit"),
    _number("resolution"),
    _number("calibration"),
    _number("correction"),
    _text("calibrated"),
    _text("due"),
    _text("note"),
    *_kept(),
    Index(None, "name"),
)

chain = _table(
    "chain",
    _id(),
    _text("table_name"),
    _whole("first_id"),
    _whole("last_id"),
    Column("marks", LargeBinary, nullable=False),
    Column("digest", LargeBinary, nullable=False),
)

users = _table(
    "users",
    _id(),
    _text("name"),
    _text("role"),
    _text("password"),
    _whole("disabled"),
    *_kept(),
    CheckConstraint("role IN ('reads', 'logs', 'signs off', 'administers')", name="role"),
    CheckConstraint("disabled IN (0, 1)", name="disabled"),
    Index(None, "name"),
)

tokens = _table(
    "tokens",
    _id(),
    _text("name"),
    _text("role"),
    _text("digest"),
    _whole("revoked"),
    *_kept(),
    CheckConstraint("role IN ('reads', 'logs', 'signs off', 'administers')", name="role"),
    CheckConstraint("revoked IN (0, 1)", name="revoked"),
    Index(None, "name"),
    Index(None, "digest"),
)

sign_offs = _table(
    "sign_offs",
    _id(),
    _refers("job_id", "jobs"),
    _refers("revision_id", "job_revisions"),
    _text("sheet"),
    _text("subject"),
    _text("fingerprint"),
    _text("verdict"),
    _text("note"),
    *_kept(),
    Index(None, "job_id"),
)

sessions = _table(
    "sessions",
    Column("digest", Text, primary_key=True),
    _text("name"),
    _text("begun"),
    _text("ends"),
    Index(None, "name"),
)
"""Who is signed in at this moment. No part of the chain: these rows go when someone signs out."""

token_uses = _table("token_uses", Column("name", Text, primary_key=True), _text("used"))
"""When a token was last seen. No part of the chain: the row is set anew."""

CHAINED = (
    jobs,
    job_revisions,
    batches,
    imports,
    readings,
    confirmations,
    strike_outs,
    events,
    baselines,
    gauges,
    users,
    tokens,
    sign_offs,
)
"""The tables whose rows are links of the chain."""

SINCE = {"users": "0002", "tokens": "0002", "sign_offs": "0002"}
"""The form of the record that a chained table came with; the others were there from the first."""


def chained_at(form: str) -> tuple[Table, ...]:
    """Return the chained tables that a record of a form has."""
    return tuple(table for table in CHAINED if SINCE.get(table.name, form) <= form)
