"""The chain: SHA-256 over the rows in order, so that later tampering shows.

Every append adds one link in the same transaction. A link says which rows of which table it covers, holds the
SHA-256 of each of them (its marks, 32 bytes a row), and the digest of the link before together with all of this.
So an altered row no longer meets its mark, a removed or inserted one breaks the count, and altered marks break the
digest. Whoever rewrites the whole chain leaves no trace inside the record: keep the last digest (it stands on
every backup and on ``verify``) outside of it.
"""

from __future__ import annotations

import contextlib
import hashlib
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from sqlalchemy import Connection, Table, func, select

from tracker.errors import RecordError
from tracker.record.forms import known_form
from tracker.record.kinds import Proof
from tracker.record.schema import CHAINED, chain, chained_at

if TYPE_CHECKING:
    from tracker.record.coded import Coded

Row = tuple[Any, ...]

START = bytes(32)
BREAK = "\x1f"
CONTROL = "a text holds a control character (U+0000 or U+001F), which the record does not take; leave it out"
MOST = 4096
"""Rows that one link covers at most."""

AT_ONCE = 128
"""Rows that one statement inserts: what SQLite makes ready for a statement is then made ready seldom."""

_COUNT = {table.name: len(table.columns) - 1 for table in CHAINED}
_INSERT: dict[tuple[str, str], str] = {}


def mark(row: Iterable[Any], breaks: int) -> bytes:
    """Return the SHA-256 of one row as it is stored: its columns as text, parted by U+001F.

    Raises
    ------
    RecordError
        If a text of the row holds that character itself, or NUL.
    """
    text = BREAK.join(["" if item is None else item if item.__class__ is str else repr(item) for item in row])
    if text.count(BREAK) != breaks or "\0" in text:
        raise RecordError(CONTROL)
    return hashlib.sha256(text.encode()).digest()


def marks_of(columns: Sequence[Coded]) -> list[bytes]:
    """Return the mark of every row of a table given as columns: the same as `mark`, many at once.

    Raises
    ------
    RecordError
        As `mark`.
    """
    from tracker.record.coded import texts_joined

    rows = texts_joined(columns, _text, BREAK)
    whole = "".join(rows)
    if whole.count(BREAK) != len(rows) * (len(columns) - 1) or "\0" in whole:
        raise RecordError(CONTROL)
    sha256 = hashlib.sha256
    return [sha256(row.encode()).digest() for row in rows]


def _text(value: Any) -> str:
    return "" if value is None else value if value.__class__ is str else repr(value)


def link(before: bytes, table: str, first: int, last: int, marks: bytes) -> bytes:
    """Return the digest of a link."""
    head = f"{table}{BREAK}{first}{BREAK}{last}{BREAK}".encode()
    return hashlib.sha256(before + head + marks).digest()


def insert_statement(dialect: str, table: Table) -> str:
    """Return the INSERT of a whole row in the driver's own form."""
    key = (dialect, table.name)
    if key not in _INSERT:
        sign = "?" if dialect == "sqlite" else "%s"
        names = ", ".join(f'"{column.name}"' for column in table.columns)
        _INSERT[key] = f"INSERT INTO {table.name} ({names}) VALUES ({', '.join([sign] * len(table.columns))})"
    return _INSERT[key]


def next_link(
    dialect: str, number: int, before: bytes, table: Table, row: Row
) -> tuple[str, tuple[int, str, int, int, bytes, bytes]]:
    """Return the statement and the values of the link over one row, which follows on link ``number``."""
    marks = mark(row, _COUNT[table.name])
    digest = link(before, table.name, row[0], row[0], marks)
    return insert_statement(dialect, chain), (number + 1, table.name, row[0], row[0], marks, digest)


def insert_rows(connection: Connection, table: Table, rows: list[Row]) -> None:
    """Insert whole rows as they are, without a link: for copies, which bring their chain with them."""
    if connection.dialect.name == "sqlite":
        connection.exec_driver_sql(insert_statement("sqlite", table), rows if len(rows) > 1 else rows[0])
        return
    names = ", ".join(f'"{column.name}"' for column in table.columns)
    cursor: Any = connection.connection.cursor()
    with cursor, cursor.copy(f"COPY {table.name} ({names}) FROM STDIN") as copy:
        for row in rows:
            copy.write_row(row)


class Ledger:
    """Appends rows within one transaction; holds the head of the chain while it lasts."""

    def __init__(self, connection: Connection) -> None:
        self.connection = connection
        head = connection.exec_driver_sql("SELECT id, digest FROM chain ORDER BY id DESC LIMIT 1").first()
        self._link, self._digest = (0, START) if head is None else (int(head[0]), bytes(head[1]))
        self._last: dict[str, int] = {}

    @property
    def head(self) -> tuple[int, bytes]:
        """The number and the digest of the last link."""
        return self._link, self._digest

    def next_id(self, table: Table) -> int:
        """Return the id that the next row of a table gets."""
        last = self._last.get(table.name)
        if last is None:
            found = self.connection.exec_driver_sql(f"SELECT max(id) FROM {table.name}").scalar()
            last = self._last[table.name] = int(found or 0)
        return last + 1

    def append(self, table: Table, rows: Sequence[Row]) -> int:
        """Insert rows (without their id) and link them; return the id of the first."""
        first = self.next_id(table)
        for start in range(0, len(rows), MOST):
            part = [(first + start + i, *row) for i, row in enumerate(rows[start : start + MOST])]
            breaks = _COUNT[table.name]
            marks = b"".join([mark(row, breaks) for row in part])
            insert_rows(self.connection, table, part)
            self._add_link(table.name, part[0][0], part[-1][0], marks)
        self._last[table.name] = first + len(rows) - 1
        return first

    def append_columns(self, table: Table, columns: Sequence[Coded]) -> int:
        """Insert many rows given as columns (without the id) and link them; return the id of the first."""
        from tracker.record.coded import Coded

        first, size = self.next_id(table), len(columns[0])
        whole = [Coded.of_run(first, size), *columns]
        marks = marks_of(whole)
        self._insert_columns(table, whole)
        for start in range(0, size, MOST):
            stop = min(start + MOST, size)
            self._add_link(table.name, first + start, first + stop - 1, b"".join(marks[start:stop]))
        self._last[table.name] = first + size - 1
        return first

    def _insert_columns(self, table: Table, columns: Sequence[Coded]) -> None:
        """Insert rows given as columns; on SQLite many a statement, what is the same in all of them given once."""
        if self.connection.dialect.name != "sqlite":
            insert_rows(self.connection, table, list(zip(*(column.listed() for column in columns))))
            return
        from tracker.record.coded import RowsOfStatements

        head = insert_statement("sqlite", table).partition(" VALUES ")[0]
        cursor: Any = self.connection.connection.cursor()
        with contextlib.closing(cursor):
            for statement, values in RowsOfStatements(columns).of(head, AT_ONCE):
                cursor.execute(statement, values)

    def _add_link(self, table: str, first: int, last: int, marks: bytes) -> None:
        self._digest = link(self._digest, table, first, last, marks)
        self._link += 1
        row = (self._link, table, first, last, marks, self._digest)
        self.connection.exec_driver_sql(insert_statement(self.connection.dialect.name, chain), row)


@dataclass(frozen=True, slots=True)
class Break:
    """The first place where the chain does not hold."""

    table: str
    row: int | None
    words: str


def head(connection: Connection) -> tuple[int, str]:
    """Return the number of links and the last digest, as hexadecimal digits."""
    found = connection.execute(select(chain.c.id, chain.c.digest).order_by(chain.c.id.desc()).limit(1)).first()
    return (0, START.hex()) if found is None else (int(found[0]), bytes(found[1]).hex())


def first_break(connection: Connection) -> Break | None:
    """Walk the whole chain in order; return where it first does not hold, or None."""
    tables = {table.name: table for table in chained_at(known_form(connection))}
    walks = {name: _Walk(connection, table) for name, table in tables.items()}
    before = START
    links = connection.execution_options(yield_per=64).execute(select(chain).order_by(chain.c.id))
    with contextlib.closing(links):
        for number, found in enumerate(links, 1):
            if found.id != number:
                return Break("chain", number, f"link {number} of the chain was removed or its number changed")
            if found.table_name not in tables:
                return Break("chain", number, f"link {number} names a table {found.table_name!r} that does not exist")
            broken = walks[found.table_name].follow(found.first_id, found.last_id, bytes(found.marks))
            if broken is not None:
                return broken
            after = link(before, found.table_name, found.first_id, found.last_id, bytes(found.marks))
            if after != bytes(found.digest):
                return Break(
                    found.table_name,
                    found.first_id,
                    f"link {number} of the chain, over {found.table_name} {found.first_id} to {found.last_id},"
                    " was altered",
                )
            before = after
    for name, walk in walks.items():
        extra = walk.beyond()
        if extra is not None:
            return Break(name, extra, f"row {extra} of {name} was inserted without a link of the chain")
    return None


class _Walk:
    """Reads the rows of one table in order of id, beside the links that cover them."""

    def __init__(self, connection: Connection, table: Table) -> None:
        self.connection = connection
        self.table = table
        self.at = 0

    def follow(self, first: int, last: int, marks: bytes) -> Break | None:
        name, breaks = self.table.name, len(self.table.columns) - 1
        if first != self.at + 1 or len(marks) != 32 * (last - first + 1):
            return Break(name, first, f"the link over {name} {first} to {last} does not follow on row {self.at}")
        wanted = first
        for row in self._rows(first, last):
            if row[0] != wanted:
                return Break(name, wanted, f"row {wanted} of {name} was removed")
            start = 32 * (wanted - first)
            if mark(row, breaks) != marks[start : start + 32]:
                return Break(name, wanted, f"row {wanted} of {name} was altered")
            wanted += 1
        if wanted != last + 1:
            return Break(name, wanted, f"row {wanted} of {name} was removed")
        self.at = last
        return None

    def _rows(self, first: int, last: int) -> Iterator[Any]:
        key = self.table.c.id
        query = select(self.table).where(key.between(first, last)).order_by(key)
        return iter(self.connection.execute(query).all())

    def beyond(self) -> int | None:
        low = self.connection.execute(select(func.min(self.table.c.id)).where(self.table.c.id < 1)).scalar()
        if low is not None:
            return int(low)
        key = self.table.c.id
        found = self.connection.execute(select(func.min(key)).where(key > self.at)).scalar()
        return None if found is None else int(found)


def _missing_guard(connection: Connection) -> Break | None:
    """Return the first table whose rows may be changed because its triggers are gone."""
    if connection.dialect.name == "sqlite":
        found = connection.exec_driver_sql("SELECT tbl_name FROM sqlite_master WHERE type = 'trigger'").scalars().all()
        wanted = 2
    else:
        query = (
            "SELECT c.relname FROM pg_trigger t JOIN pg_class c ON c.oid = t.tgrelid"
            " WHERE NOT t.tgisinternal AND t.tgenabled <> 'D' AND c.relnamespace = current_schema()::regnamespace"
        )
        found = connection.exec_driver_sql(query).scalars().all()
        wanted = 1
    for table in (*chained_at(known_form(connection)), chain):
        if found.count(table.name) < wanted:
            return Break(table.name, None, f"every row holds, but the triggers that guard {table.name} were removed")
    return None


def proof(connection: Connection) -> Proof:
    """Return what walking the whole chain shows."""
    broken = first_break(connection) or _missing_guard(connection)
    links, digest = head(connection)
    count = connection.exec_driver_sql("SELECT count(*) FROM readings").scalar_one()
    return Proof(
        holds=broken is None,
        words="every row holds" if broken is None else broken.words,
        readings=int(count),
        links=links,
        digest=digest,
        table=None if broken is None else broken.table,
        row=None if broken is None else broken.row,
    )
