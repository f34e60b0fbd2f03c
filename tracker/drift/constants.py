"""Control-chart constants, computed for group sizes 2 to 100."""

from __future__ import annotations

import functools
import math
from dataclasses import dataclass

from tracker.given import number
from tracker.result import Result
from tracker.spread.group_constants import mean_sd_factor, range_moments


@dataclass(frozen=True, slots=True, kw_only=True)
class ChartConstants(Result):
    """Constants of one group size ``n``.

    ``d2``, ``d3``: mean and sd of the range of n normal values of sd 1; ``c4``: mean of their sd. The rest are
    the factors of 3-sigma limits: ``A2``, ``A3`` for means (from mean range, mean sd), ``D3``, ``D4`` for
    ranges, ``B3``, ``B4`` for sds, ``E2`` for single values from the mean range.
    """

    n: int
    d2: float
    d3: float
    c4: float
    A2: float
    A3: float
    B3: float
    B4: float
    D3: float
    D4: float
    E2: float

    def __str__(self) -> str:
        """List the constants with four decimals."""
        names = ("d2", "d3", "c4", "A2", "A3", "B3", "B4", "D3", "D4", "E2")
        return f"group size {self.n}: " + ", ".join(f"{name} {getattr(self, name):.4f}" for name in names)


def chart_constants(n: int) -> ChartConstants:
    """Return the control-chart constants of a group size.

    Parameters
    ----------
    n : int
        Group size, 2 to 100.

    Returns
    -------
    ChartConstants

    Raises
    ------
    TrackerError
        For a group size out of that range.

    Notes
    -----
    d2 and d3 by integration over the distribution of the range, c4 by gamma functions; right for normal sizes.
    Nothing is rounded on the way, so factors derived from rounded table values differ in their last digit.

    References
    ----------
    ASTM MNL 7 / STP 15D tables (from memory), every printed digit: tests/published/test_drift_constants.py.

    Examples
    --------
    >>> print(chart_constants(5))
    group size 5: d2 2.3259, d3 0.8641, c4 0.9400, A2 0.5768, A3 1.4273, B3 0.0000, B4 2.0890,
    D3 0.0000, D4 2.1145, E2 1.2898
    """
    return _constants(number(n, "group size"))


@functools.lru_cache(maxsize=128)
def _constants(n: float) -> ChartConstants:
    d2, d3 = range_moments(n)
    size = int(n)
    c4 = mean_sd_factor(size)
    spread_of_sd = 3 * math.sqrt(1 - c4 * c4) / c4
    spread_of_range = 3 * d3 / d2
    return ChartConstants(
        n=size,
        d2=d2,
        d3=d3,
        c4=c4,
        A2=3 / (d2 * math.sqrt(size)),
        A3=3 / (c4 * math.sqrt(size)),
        B3=max(0.0, 1 - spread_of_sd),
        B4=1 + spread_of_sd,
        D3=max(0.0, 1 - spread_of_range),
        D4=1 + spread_of_range,
        E2=3 / d2,
    )
