"""Lengths, counts and names as sentences say them; shared by commands, pages and sheets."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from tracker.decide.words import listed, plural
from tracker.units import convert, decimals_of, format_number, small_unit

if TYPE_CHECKING:
    from tracker.drift import Signal
    from tracker.job import Machine
    from tracker.judge.answers import FeatureCheck

Say = Callable[[float], str]

_ARGUMENT = re.compile(r"\b[a-z][a-z_]*: (?=found )")

SMALL_WORD = {"tenth": "tenths", "um": "micrometres"}
SMALL_BELOW = {"in": 0.005, "mm": 0.1}


@dataclass(frozen=True, slots=True)
class Scale:
    """How a job's lengths are written: its unit, the decimals of a size, and the shop's small unit.

    Attributes
    ----------
    unit : str
        ``in`` or ``mm``.
    step : float
        What the gauge can read, in ``unit``.
    """

    unit: str
    step: float

    @property
    def decimals(self) -> int:
        """Decimals of a size: the gauge's own, and one more than a bare tenth or micrometre."""
        return max(decimals_of(self.step), 5 if self.unit == "in" else 4)

    @property
    def small(self) -> str:
        """The word for the small unit: tenths or micrometres."""
        return SMALL_WORD[small_unit(self.unit)]

    def size(self, value: float, *, signed: bool = False) -> str:
        """Return a size without its unit, with the gauge's decimals."""
        return format_number(value, self.decimals, signed=signed)

    def entered(self, value: float, increment: float | None) -> str:
        """Return a number as it is entered at the machine: with the decimals of its smallest step."""
        return format_number(value, self.decimals if increment is None else decimals_of(increment))

    def off(self, value: float, *, signed: bool = True) -> str:
        """Return a difference in the small unit, one decimal, without the word."""
        return format_number(convert(value, self.unit, small_unit(self.unit)), 1, signed=signed)

    def say(self, value: float) -> str:
        """Return a length for a sentence: a size in the job's unit, a small difference in the small one."""
        if abs(value) < SMALL_BELOW[self.unit]:
            return f"{self.off(value, signed=False)} {self.small}"
        return f"{self.size(value)} {self.unit}"


def plain_name(name: str) -> str:
    """Return the name of a feature or fit as a sentence says it: ``coupling_bore`` is coupling bore."""
    return name.replace("_", " ")


def machine_words(machine: Machine) -> str:
    """Return how the next cut is usually entered for the kind of cut stated; "" where none is.

    Where the job itself states another sign or another count, that is said, for it is what holds.
    """
    from tracker.cuts import convention

    if not machine.operation:
        return ""
    usual = convention(machine.operation)
    words = usual.words
    if (machine.offset_on, machine.plus_makes) != (usual.offset_on, usual.plus_makes):
        stated = f"on the {machine.offset_on}, plus makes it {machine.plus_makes}"
        words += f" This job states otherwise, and that holds: {stated}."
    return f"{words} Controls differ: enter the smallest step once and measure what it did."


def plain_fault(text: str) -> str:
    """Return what went wrong without the name of the argument in front of what was found.

    Examples
    --------
    >>> plain_fault("sd: found 0.0; the spread of the part to be cut is needed, above zero")
    'found 0.0; the spread of the part to be cut is needed, above zero'
    """
    return _ARGUMENT.sub("", text)


def outside_words(feature: FeatureCheck, scale: Scale) -> str:
    """Return which pieces read outside their own limits of size; "" when none does.

    ``shanks 1 and 2 read under 0.62550, shank 7 over 0.62650 (in)``.
    """
    name, found = plain_name(feature.name), []
    for pieces, limit, word in zip(feature.outside, (feature.lower, feature.upper), ("under", "over")):
        if not pieces or limit is None:
            continue
        every = feature.sizes is not None and len(pieces) == len(feature.sizes) > 2
        which = f"all {len(pieces)} {plural(name)}" if every else ""
        which = which or f"{name if len(pieces) == 1 else plural(name)} {listed(pieces)}"
        found.append(f"{which} {'reads' if len(pieces) == 1 else 'read'} {word} {scale.size(limit)}")
    return f"{', '.join(found)} {scale.unit}" if found else ""


def left_words(feature: str, pieces: Sequence[str], why: str) -> str:
    """Return why pieces are left over, those with one reason together.

    Examples
    --------
    >>> left_words("bore", ["1", "12"], "fits 9 shanks, all needed by other pieces")
    'bores 1 and 12: each fits 9 shanks, all needed by other pieces'
    """
    name = plain_name(feature)
    if len(pieces) == 1:
        return f"{name} {pieces[0]}: {why}"
    return f"{plural(name)} {listed(pieces)}: {each_of(why)}"


def each_of(why: str) -> str:
    """Return a reason that is given of one piece as it is said of several."""
    return f"each {why}" if why.startswith("fits ") else why


def signal_words(signal: Signal, feature: str, pieces: Sequence[str]) -> str:
    """Return what stands out, and at which pieces: ``pins 5 to 12: eight in a row on one side, the large one``.

    Parameters
    ----------
    signal : Signal
    feature : str
        Name of the feature.
    pieces : sequence of str
        Names of the pieces in order of making.
    """
    first, last = pieces[signal.first - 1], pieces[min(signal.last, len(pieces)) - 1]
    name = plain_name(feature)
    where = f"{name} {first}" if first == last else f"{plural(name)} {first} to {last}"
    side = {"upper": "the large", "lower": "the small"}.get(signal.side)
    if side is None:
        return f"{where}: {signal.name}"
    return f"{where}: {signal.name}, {f'{side} one' if signal.name.endswith('on one side') else f'on {side} side'}"
