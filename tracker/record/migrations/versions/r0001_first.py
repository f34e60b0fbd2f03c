"""The first form of the record: tables as they were, and the triggers that keep rows as they are.

The tables are written out here and not taken from `schema`, which goes on to change.
"""

from __future__ import annotations

from typing import Any

from alembic import op
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

revision = "0001"
down_revision = None
branch_labels = None
depends_on = None

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

WORDS = "rows of the record are only ever added; strike a reading out instead"


def upgrade() -> None:
    connection = op.get_bind()
    metadata.create_all(connection)
    if connection.dialect.name == "sqlite":
        for table in metadata.tables:
            for act in ("UPDATE", "DELETE"):
                connection.exec_driver_sql(
                    f"CREATE TRIGGER keep_{table}_{act.lower()} BEFORE {act} ON {table}"
                    f" BEGIN SELECT RAISE(ABORT, '{WORDS}'); END"
                )
        return
    connection.exec_driver_sql(
        "CREATE FUNCTION keep_rows() RETURNS trigger LANGUAGE plpgsql AS"
        f" $$ BEGIN RAISE EXCEPTION '{WORDS}' USING ERRCODE = 'integrity_constraint_violation'; END $$"
    )
    for table in metadata.tables:
        connection.exec_driver_sql(
            f"CREATE TRIGGER keep_{table} BEFORE UPDATE OR DELETE OR TRUNCATE ON {table}"
            " FOR EACH STATEMENT EXECUTE FUNCTION keep_rows()"
        )
