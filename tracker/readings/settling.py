"""Every reading once: repeats that nobody numbered are numbered, what is there twice is kept once."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass, field
from typing import Any

import numpy as np
import pandas as pd

from tracker.readings.imports import Refusal

PLACE = ["batch", "feature", "piece", "position", "operator", "gauge"]
AMOUNT = ["kind", "value", "low", "high"]
Ints = np.ndarray[Any, np.dtype[np.int64]]
Hashes = np.ndarray[Any, np.dtype[np.uint64]]


@dataclass(slots=True)
class Settler:
    """Numbers repeats and finds what is there twice, over any number of parts.

    Between parts a hash of each place and repeat is kept, ten bytes a reading, so that memory stays small; two
    different readings are taken for one with a chance of about one in 10^12 among ten million.
    """

    numbered: HashTable = field(default_factory=lambda: HashTable())
    counted: HashTable = field(default_factory=lambda: HashTable())

    def settle(self, part: pd.DataFrame) -> tuple[pd.DataFrame, list[Refusal], int]:
        """Return a part with every repeat numbered and each reading once; what was refused; how many were twice.

        A stated repeat that is there already is a duplicate when it has the same value, and refused when it has
        another. A reading without a stated repeat is the next one of its place; it is a duplicate when one of the
        same place, time and value is in the same part.
        """
        if part.empty:
            return part, [], 0
        place, amount = _hash(part, PLACE), _hash(part, AMOUNT)
        repeat = part["repeat"].to_numpy().copy()
        stated = repeat > 0
        dropped = np.zeros(len(part), dtype=bool)
        timed = ~stated & part["time"].notna().to_numpy()
        if timed.any():
            key = _mixed(_mixed(place, amount), part["time"].to_numpy().astype("datetime64[us]").view(np.uint64))
            dropped[np.flatnonzero(timed)[_later(key[timed])]] = True
        free = ~stated & ~dropped
        if free.any():
            repeat[free] = self._next_repeats(place[free], place[stated], repeat[stated])
        key = _mixed(place, repeat.astype(np.uint64))
        check = (amount >> np.uint64(48)).astype(np.int64)
        refused: list[Refusal] = []
        rows = np.flatnonzero(stated)
        if rows.size:
            before = self.numbered.find(key[rows])
            first = _first_of(key[rows])
            again = (before >= 0) | (first != np.arange(rows.size))
            same = np.where(before >= 0, before == check[rows], amount[rows] == amount[rows[first]])
            dropped[rows[again]] = True
            for at in np.flatnonzero(again & ~same):
                earlier = None if before[at] >= 0 else int(rows[first[at]])
                refused.append(_conflict(part, int(rows[at]), earlier))
        kept = ~dropped
        self.numbered.add(key[kept], check[kept])
        settled = part.assign(repeat=repeat)
        result = settled if kept.all() else settled[kept].reset_index(drop=True)
        return result, refused, int(dropped.sum()) - len(refused)

    def _next_repeats(self, place: Hashes, stated_place: Hashes, stated_repeat: Ints) -> Ints:
        """Number readings of a place from the highest repeat it has so far."""
        unique, code = np.unique(place, return_inverse=True)
        highest = np.maximum(self.counted.find(unique), 0)
        if stated_place.size:
            at = np.searchsorted(unique, stated_place)
            at[at == unique.size] = 0
            known = unique[at] == stated_place
            np.maximum.at(highest, at[known], stated_repeat[known])
        order = np.argsort(code, kind="stable")
        ranked = code[order]
        start = np.flatnonzero(np.r_[True, ranked[1:] != ranked[:-1]])
        within = np.arange(ranked.size) - np.repeat(start, np.diff(np.r_[start, ranked.size]))
        number = np.empty(place.size, dtype=np.int64)
        number[order] = within + 1
        number += highest[code]
        self.counted.add(unique, highest + np.bincount(code))
        return number


@dataclass(slots=True)
class HashTable:
    """Sorted hashes with a small number each, in a few runs that grow by doubling; the newest run is asked first."""

    runs: list[tuple[Hashes, np.ndarray[Any, np.dtype[np.uint16]]]] = field(default_factory=list)

    def find(self, keys: Hashes) -> Ints:
        """Return the number of each key, -1 where it is not there."""
        found = np.full(keys.size, -1, dtype=np.int64)
        for held, numbers in reversed(self.runs):
            at = np.searchsorted(held, keys)
            at[at == held.size] = 0
            there = (held[at] == keys) & (found < 0)
            found[there] = numbers[at[there]]
        return found

    def add(self, keys: Hashes, numbers: Ints) -> None:
        """Put in keys with their numbers (0 to 65535)."""
        if keys.size == 0:
            return
        order = np.argsort(keys, kind="stable")
        run = (keys[order], np.minimum(numbers[order], 65_535).astype(np.uint16))
        while self.runs and self.runs[-1][0].size <= 2 * run[0].size:
            older = self.runs.pop()
            both = np.concatenate([run[0], older[0]])
            values = np.concatenate([run[1], older[1]])
            order = np.argsort(both, kind="stable")  # the newer comes first among equals
            both, values = both[order], values[order]
            first = np.r_[True, both[1:] != both[:-1]]
            run = (both[first], values[first])
        self.runs.append(run)


def saying_of(part: pd.DataFrame) -> bytes:
    """Return a fingerprint of what a table says, whatever its form: places, stated repeats, times and amounts."""
    mixed = _mixed(_hash(part, PLACE), _hash(part, AMOUNT))
    mixed = _mixed(mixed, part["repeat"].to_numpy().astype(np.uint64))
    mixed = _mixed(mixed, part["time"].to_numpy().astype("datetime64[us]").view(np.uint64))
    return hashlib.sha256(mixed.tobytes()).digest()


def _conflict(part: pd.DataFrame, row: int, earlier: int | None) -> Refusal:
    item = part.iloc[row]
    at = f" at {item['position']}" if item["position"] else ""
    what = f"piece {item['piece']}{at}, repeat {item['repeat']} of {item['feature']}"
    before = "is there already with another value, further up"
    if earlier is not None:
        other = part.iloc[earlier]
        before = f"is {str(other['typed']).strip()!r} in {other['file']}, row {other['row']}"
    accepted = f"{what} {before}; accepted is another repeat number, or one of the two rows"
    return Refusal(
        str(item["file"]),
        int(item["row"]),
        str(item["column"]),
        str(item["typed"]),
        accepted,
        str(item["feature"]),
        str(item["piece"]),
    )


def _hash(frame: pd.DataFrame, names: list[str]) -> Hashes:
    mixed = np.zeros(len(frame), dtype=np.uint64)
    for name in names:
        column = frame[name]
        if column.dtype == "float64":
            values = column.to_numpy()
            one = np.where(np.isnan(values), 0.5, values + 0.0).view(np.uint64)
        else:
            code, texts = pd.factorize(column)
            one = pd.util.hash_array(np.asarray(texts, dtype=object), categorize=False)[code]
        mixed = _mixed(mixed, one)
    return mixed


def _mixed(one: Hashes, other: Hashes) -> Hashes:
    """Return a hash of pairs (the finaliser of splitmix64 over a weighted sum)."""
    with np.errstate(over="ignore"):
        mixed = one * np.uint64(0x9E3779B97F4A7C15) + other
        mixed = (mixed ^ (mixed >> np.uint64(30))) * np.uint64(0xBF58476D1CE4E5B9)
        mixed = (mixed ^ (mixed >> np.uint64(27))) * np.uint64(0x94D049BB133111EB)
        result: Hashes = mixed ^ (mixed >> np.uint64(31))
    return result


def _first_of(keys: Hashes) -> Ints:
    """Return, for each key, the index of its first occurrence."""
    _, first, which = np.unique(keys, return_index=True, return_inverse=True)
    return first[which]


def _later(keys: Hashes) -> np.ndarray[Any, Any]:
    """Return which keys were there before."""
    later: np.ndarray[Any, Any] = _first_of(keys) != np.arange(keys.size)
    return later
