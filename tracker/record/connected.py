"""What every part of an open record shares: its connections, and the turns that writers take."""

from __future__ import annotations

import contextlib
import threading
from collections.abc import Iterator
from pathlib import Path
from types import TracebackType
from typing import Self

from sqlalchemy import Connection, Engine
from sqlalchemy.engine import URL

from tracker.record import keeping
from tracker.record.chain import Ledger
from tracker.record.database import name_of, reading, writing
from tracker.record.faults import in_plain_words
from tracker.record.one_reading import Counter
from tracker.record.tallies import Tallies


class Connected:
    """An open record: its engine, and what is remembered between transactions."""

    def __init__(self, engine: Engine, *, copied_before: Path | None = None) -> None:
        self._engine = engine
        self._revisions = keeping.Revisions()
        self._counter = Counter(self._revisions)
        self._tallies = Tallies()
        self._turn = threading.Lock()
        self._last_seen: dict[str, float] = {}
        self._name = name_of(engine.url)
        self.copied_before = copied_before

    @property
    def url(self) -> URL:
        """The address of the record."""
        return self._engine.url

    @property
    def name(self) -> str:
        """The path, or the address without its password."""
        return self._name

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def close(self) -> None:
        """Give all connections back; what was acknowledged is on the disk already."""
        self._engine.dispose()

    @contextlib.contextmanager
    def _writing(self) -> Iterator[Ledger]:
        with self._turn, in_plain_words(self.name), writing(self._engine) as connection:
            yield Ledger(connection)

    @contextlib.contextmanager
    def _reading(self) -> Iterator[Connection]:
        with in_plain_words(self.name), reading(self._engine) as connection:
            yield connection
