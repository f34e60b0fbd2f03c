"""The list of work of a plan, in the shop's words: regrind 3, 7 and 11 to 0.6259."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from tracker.decide.words import Say, count, first_up, listed, number_word, plural, share


@dataclass(frozen=True, slots=True, kw_only=True)
class Shop:
    """What pieces and rework are called, the pieces' own numbers, and how a length is written."""

    names: tuple[str, str]
    labels: tuple[Sequence[object], Sequence[object]]
    rework_word: str
    say: Say

    def rework(self, side: int, pieces: Iterable[tuple[int, float]]) -> list[str]:
        """Return one line for all pieces of a side that go to the same size."""
        return [
            f"{first_up(self.rework_word)} {self._named(side, members)} to {text}."
            for text, members in self._by_size(pieces).items()
        ]

    def make(self, side: int, mates: Iterable[tuple[int, tuple[float, ...]]], shops: Sequence[Shop]) -> list[str]:
        """Return one line for all new pieces of a side that are cut alike, with the mates they are for.

        With several gaps each dimension is named with its size, as ``shops`` call it.
        """
        alike: dict[str, list[int]] = {}
        for mate, sizes in sorted(mates, key=lambda item: (item[1], item[0])):
            said = [self.say(size) for size in sizes]
            if len(shops) > 1:
                said = [f"{shop.names[side]} {text}" for shop, text in zip(shops, said)]
            alike.setdefault(listed(said), []).append(mate)
        return [
            f"Make {count(len(members), f'new {self.names[side]}')} to {text}, for {self._named(1 - side, members)}."
            for text, members in alike.items()
        ]

    def _by_size(self, pieces: Iterable[tuple[int, float]]) -> dict[str, list[int]]:
        found = sorted((size, piece) for piece, size in pieces)
        by_size: dict[str, list[int]] = {}
        for size, piece in found:
            by_size.setdefault(self.say(size), []).append(piece)
        return by_size

    def _named(self, side: int, pieces: list[int]) -> str:
        return f"{self.names[side] if len(pieces) == 1 else plural(self.names[side])} {self._numbers(side, pieces)}"

    def _numbers(self, side: int, pieces: Iterable[int]) -> str:
        return listed(self.labels[side][piece] for piece in sorted(pieces))

    def both(self, number: int) -> list[str]:
        """Return the line for assemblies of which both pieces are new."""
        if not number:
            return []
        inner, outer = self.names
        return [f"Make {count(number, f'new {inner}')} and {count(number, f'new {outer}')} to suit each other."]

    def spare(self, side: int, number: int, wanted: int, assurance: float) -> list[str]:
        """Return the line that says how many to make so that enough new pieces are good; nothing when none is spare."""
        if number <= wanted:
            return []
        return [
            f"Make {count(number - wanted, self.names[side])} more: of {number_word(number)}, "
            f"{number_word(wanted)} will be good with {share(assurance)} assurance."
        ]

    def press(self, number: int, *, is_all: bool, is_worked: bool) -> list[str]:
        """Return the line for the pairs; ``is_worked`` when pieces are reworked or made first, and others pair then."""
        if not number:
            return []
        which = "all " if is_all and number > 1 else ""
        return [f"Press {which}{count(number, 'pair')} as {'the plan lists them' if is_worked else 'listed'}."]

    def not_made(self, number: int, why: str) -> list[str]:
        """Return the line for assemblies that are not made, and why."""
        if not number:
            return []
        return [f"Leave {count(number, 'assembly', 'assemblies')} unmade: {why}."]
