"""People: users, tokens and sign-offs, whose rows stay as they are; who is signed in now, whose rows come and go.

The tables are written out here and not taken from `schema`, which goes on to change.
"""

from __future__ import annotations

from typing import Any

from alembic import op
from sqlalchemy import CheckConstraint, Column, Connection, ForeignKey, Integer, Text

revision = "0002"
down_revision = "0001"
branch_labels = None
depends_on = None

ROLES = "role IN ('reads', 'logs', 'signs off', 'administers')"
WORDS = "rows of the record are only ever added; strike a reading out instead"
KEPT_AS_THEY_ARE = ("users", "tokens", "sign_offs")


def _text(name: str) -> Column[str]:
    return Column(name, Text, nullable=False)


def _whole(name: str) -> Column[int]:
    return Column(name, Integer, nullable=False)


def _id() -> Column[int]:
    return Column("id", Integer, primary_key=True, autoincrement=False)


def _table(name: str, *columns: Column[Any] | CheckConstraint) -> None:
    op.create_table(name, *columns, sqlite_strict=True)


def upgrade() -> None:
    _table(
        "users",
        _id(),
        _text("name"),
        _text("role"),
        _text("password"),
        _whole("disabled"),
        _text("kept_by"),
        _text("kept_at"),
        CheckConstraint(ROLES, name="role"),
        CheckConstraint("disabled IN (0, 1)", name="disabled"),
    )
    op.create_index("ix_users_name", "users", ["name"])
    _table(
        "tokens",
        _id(),
        _text("name"),
        _text("role"),
        _text("digest"),
        _whole("revoked"),
        _text("kept_by"),
        _text("kept_at"),
        CheckConstraint(ROLES, name="role"),
        CheckConstraint("revoked IN (0, 1)", name="revoked"),
    )
    op.create_index("ix_tokens_name", "tokens", ["name"])
    op.create_index("ix_tokens_digest", "tokens", ["digest"])
    _table(
        "sign_offs",
        _id(),
        Column("job_id", Integer, ForeignKey("jobs.id", name="fk_sign_offs_job_id"), nullable=False),
        Column("revision_id", Integer, ForeignKey("job_revisions.id", name="fk_sign_offs_revision_id"), nullable=False),
        _text("sheet"),
        _text("subject"),
        _text("fingerprint"),
        _text("verdict"),
        _text("note"),
        _text("kept_by"),
        _text("kept_at"),
    )
    op.create_index("ix_sign_offs_job_id", "sign_offs", ["job_id"])
    _table("sessions", Column("digest", Text, primary_key=True), _text("name"), _text("begun"), _text("ends"))
    op.create_index("ix_sessions_name", "sessions", ["name"])
    _table("token_uses", Column("name", Text, primary_key=True), _text("used"))
    _guard(op.get_bind())


def _guard(connection: Connection) -> None:
    for table in KEPT_AS_THEY_ARE:
        if connection.dialect.name == "sqlite":
            for act in ("UPDATE", "DELETE"):
                connection.exec_driver_sql(
                    f"CREATE TRIGGER keep_{table}_{act.lower()} BEFORE {act} ON {table}"
                    f" BEGIN SELECT RAISE(ABORT, '{WORDS}'); END"
                )
        else:
            connection.exec_driver_sql(
                f"CREATE TRIGGER keep_{table} BEFORE UPDATE OR DELETE OR TRUNCATE ON {table}"
                " FOR EACH STATEMENT EXECUTE FUNCTION keep_rows()"
            )
