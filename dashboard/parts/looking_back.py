"""What the History page and its picture rest on: the summary of the record, its strands, and its worst batch."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from dashboard.figures.numbers import Numbers
from dashboard.figures.tapes import Wall, wall_of
from dashboard.parts.address import Address
from tracker.history import History, Standing, Strand, strands_of
from tracker.record import Record

STEPS = {"in": 0.0001, "mm": 0.001}


@dataclass(frozen=True, slots=True, kw_only=True)
class LookedBack:
    """The whole record, told apart by machine, part, tool, operator or month.

    Attributes
    ----------
    by : str
    history : History
    strands : tuple of Strand
    numbers : Numbers
        In the unit shown.
    worst : int or None
        Place in the history of the batch with the least Ppk; None where no capability is known.
    wall : Wall
    names : mapping
        Name of each job by its number.
    batches : int
        How many are measured.
    """

    by: str
    history: History
    strands: tuple[Strand, ...]
    numbers: Numbers
    worst: int | None
    wall: Wall
    names: Mapping[int, str]
    batches: int

    @property
    def told(self) -> int:
        """How many strands have batches enough to tell."""
        return sum(strand.told for strand in self.strands)

    @property
    def moved(self) -> tuple[Strand, ...]:
        """The strands that moved, the clearest first."""
        return tuple(strand for strand in self.strands if strand.moved)

    def begun(self, strand: Strand) -> str:
        """Return when the first batch after a strand's move was begun."""
        return str(self.history.about["begun"][self.history.batch[strand.at[strand.first]]])


class LookingBack:
    """The record as a whole, kept until something changes. Safe to share between threads."""

    def __init__(self, record: Record) -> None:
        self.record = record
        self._standing = Standing(record)
        self._kept: dict[tuple[str, str], tuple[int, LookedBack]] = {}

    def at(self, address: Address) -> LookedBack:
        """Return the history at an address: by what it names, else by machine where jobs name one, else by part.

        Raises
        ------
        HistoryError
            If nothing is measured yet.
        RecordError
            If the record cannot be read.
        """
        mark, key = self.record.last_change(), (address.by, address.unit)
        kept = self._kept.get(key)
        if kept is not None and kept[0] == mark:
            return kept[1]
        found = self._look(address)
        self._kept[key] = (mark, found)
        return found

    def _look(self, address: Address) -> LookedBack:
        by = address.by or self._usual()
        found = self._standing.history(by)
        strands = strands_of(found, by)
        infos = self.record.jobs()
        unit = address.unit or infos[0].unit
        numbers = Numbers(unit, STEPS[unit])
        able = np.flatnonzero(found.capable.known)
        worst = int(able[np.argmin(found.capable.ppk[able])]) if able.size else None
        return LookedBack(
            by=by,
            history=found,
            strands=strands,
            numbers=numbers,
            worst=worst,
            wall=wall_of(found, strands, numbers, worst),
            batches=int(np.unique(found.batch).size),
            names={info.id: info.name for info in infos},
        )

    def _usual(self) -> str:
        found = self._standing.history("machine")
        return "machine" if bool((found.about["machine"][found.batch] != "").any()) else "part"
