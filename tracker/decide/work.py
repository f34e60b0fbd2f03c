"""The list of work of a plan, in the shop's words: regrind 3, 7 and 11 to 0.6259."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from tracker.decide.words import Say, count, first_up, listed


@dataclass(frozen=True, slots=True, kw_only=True)
class Shop:
    """What pieces and rework are called, the pieces' own numbers, and how a length is written."""

    names: tuple[str, str]
    labels: tuple[Sequence[object], Sequence[object]]
    rework_word: str
    say: Say

    def rework(self, side: int, pieces: Iterable[tuple[int, float]]) -> list[str]:
        """Return one line for all pieces of a side that go to the same size."""
        lines = []
        by_size: dict[str, list[int]] = {}
        for piece, size in sorted(pieces, key=lambda item: (item[1], item[0])):
            by_size.setdefault(self.say(size), []).append(piece)
        for text, members in by_size.items():
            numbers = listed(self.labels[side][piece] for piece in sorted(members))
            lines.append(f"{first_up(self.rework_word)} {self.names[side]} {numbers} to {text}.")
        return lines

    def make(self, side: int, sizes: Iterable[float]) -> list[str]:
        """Return one line for all new pieces of a side that are made to the same size."""
        texts: dict[str, int] = {}
        for size in sorted(sizes):
            texts[self.say(size)] = texts.get(self.say(size), 0) + 1
        return [f"Make {count(number, f'new {self.names[side]}')} to {text}." for text, number in texts.items()]

    def both(self, number: int) -> list[str]:
        """Return the line for assemblies of which both pieces are new."""
        if not number:
            return []
        inner, outer = self.names
        return [f"Make {count(number, f'new {inner}')} and {count(number, f'new {outer}')} to suit each other."]

    def press(self, number: int, *, is_all: bool) -> list[str]:
        """Return the line for the pairs that need no work."""
        if not number:
            return []
        which = "all " if is_all and number > 1 else ""
        return [f"Press {which}{count(number, 'pair')} as listed."]

    def not_made(self, number: int) -> list[str]:
        """Return the line for assemblies that cannot be made."""
        if not number:
            return []
        return [f"Leave {count(number, 'assembly', 'assemblies')} unmade: nothing that can be done pays."]
