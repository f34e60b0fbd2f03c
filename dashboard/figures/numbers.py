"""How lengths stand in figures and tables: size and deviation, fixed decimals, true minus."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass

from tracker.decide.words import number_word
from tracker.judge.words import SMALL_WORD
from tracker.units import convert, decimals_of, format_number, small_unit

MINUS = "−"
LONG_WORD = {"in": "inches", "mm": "millimetres"}
DECIMALS = {"in": (5, 6), "mm": (4, 4)}
SPELLED_FROM = 2.5


@dataclass(frozen=True, slots=True)
class Numbers:
    """How the lengths of one page are written.

    Attributes
    ----------
    unit : str
        ``in`` or ``mm``: the unit of every length handed over.
    step : float
        What the gauge can read, in ``unit``.
    """

    unit: str
    step: float

    @property
    def decimals(self) -> int:
        """Decimals of a size."""
        least, most = DECIMALS[self.unit]
        return min(max(decimals_of(self.step), least), most)

    @property
    def small(self) -> str:
        """The shop's word for the small unit: tenths or micrometres."""
        return SMALL_WORD[small_unit(self.unit)]

    @property
    def one(self) -> float:
        """One of the small unit, in ``unit``."""
        return convert(1.0, small_unit(self.unit), self.unit)

    def size(self, value: float, *, signed: bool = False) -> str:
        """Return a size, without its unit."""
        return format_number(value, self.decimals, signed=signed, minus=MINUS)

    def short(self, value: float) -> str:
        """Return a limit or nominal: without the zeros that say nothing, four decimals in inches, three in metric."""
        text = format_number(value, self.decimals, minus=MINUS)
        keep = len(text) - self.decimals + (4 if self.unit == "in" else 3)
        return text[:keep] + text[keep:].rstrip("0")

    def off(self, value: float, base: float = 0.0, *, signed: bool = True, decimals: int = 1) -> str:
        """Return how far a size is from a base, in the small unit, without the word.

        From a base it is the distance of the two as they are written, so that it can be checked against them.
        """
        if base and decimals == 1:
            value, base = (float(format_number(size, self.decimals)) for size in (value, base))
        return format_number((value - base) / self.one, decimals, signed=signed, minus=MINUS)

    def fine(self, value: float) -> int:
        """Return the decimals that keep two digits of a small difference that is not zero; at least two, at most five.

        Examples
        --------
        >>> numbers = Numbers("in", 0.0001)
        >>> [numbers.fine(value) for value in (0.00012, 0.0000007, 0.0)]
        [2, 4, 2]
        """
        size = abs(value) / self.one
        return min(max(2, 1 - math.floor(math.log10(size))), 5) if 0 < size < math.inf else 2

    def about(self, difference: float) -> str:
        """Return a difference as a heading says it: ``four tenths``, ``one tenth``, ``1.3 tenths``."""
        amount = abs(difference) / self.one
        if abs(amount - 1) < 0.05:
            return f"one {self.small.removesuffix('s')}"
        if amount >= SPELLED_FROM or (round(amount) and abs(amount - round(amount)) < 0.05):
            return f"{number_word(round(amount))} {self.small}"
        return f"{format_number(amount, 1)} {self.small}"

    def base(self, *sizes: float) -> float:
        """Return the round size that deviations are told from: at or under the least of the sizes given."""
        grain = 10 * self.one
        return math.floor(min(sizes) / grain + 1e-6) * grain

    def from_base(self, base: float) -> str:
        """Return the words that name the base of a figure or table: ``tenths from 0.6250 in``."""
        return f"{self.small} from {self.short(base)} {self.unit}"


def shared_digits(texts: list[str]) -> int:
    """Return how many leading characters all texts share, at most all but the last two."""
    if not texts:
        return 0
    count = 0
    for letters in zip(*texts):
        if len(set(letters)) > 1:
            break
        count += 1
    return min(count, max(min(len(text) for text in texts) - 2, 0))


def typeset(text: str) -> str:
    """Return a sentence with true minus signs, a true plus-minus, and no line broken before a percent sign.

    Examples
    --------
    >>> typeset("a gap of -0.0006 to -0.0003, known to +- 0.7 (16 H7-p6)")
    'a gap of −0.0006 to −0.0003, known to ± 0.7 (16 H7-p6)'
    """
    text = re.sub(r"(?<![\w.)])-(?=\.?\d)", MINUS, text.replace("+-", "±"))
    return re.sub(r"(?<=\d) %", "\N{NO-BREAK SPACE}%", text)
