"""Whether sizes look normal, and what so few pieces can say about it."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
from scipy import special

from tracker.errors import NotEnoughData
from tracker.result import Result
from tracker.spread.arguments import Array, count, sizes_array


@dataclass(frozen=True, slots=True, kw_only=True)
class Normality(Result):
    """Two tests of normality; a small p-value speaks against it.

    ``anderson_darling`` is the statistic for mean and sd estimated from the sizes, without the small-n adjustment (the
    p-value has it).
    """

    n: int
    anderson_darling: float
    anderson_darling_p: float
    shapiro_wilk: float
    shapiro_wilk_p: float
    remark: str

    def __str__(self) -> str:
        return (
            f"{self.remark} (Anderson-Darling {self.anderson_darling:.3f}, p {self.anderson_darling_p:.3g}; "
            f"Shapiro-Wilk {self.shapiro_wilk:.3f}, p {self.shapiro_wilk_p:.3g}; {count(self.n, 'piece')})"
        )


def normality(sizes: Any) -> Normality:
    """Return two tests of whether the sizes come from a normal, and what they can tell.

    Parameters
    ----------
    sizes : array_like of shape (n,) or Sizes

    Returns
    -------
    Normality

    Raises
    ------
    NotEnoughData
        If there are fewer than 3 pieces, or all are equal.

    Notes
    -----
    Rounded readings with few distinct values look non-normal to both tests when the step is more than about half the
    sd; the remark says so.

    References
    ----------
    D'Agostino & Stephens, Goodness-of-Fit Techniques (1986), table 4.9 (p-values of the adjusted Anderson-Darling
    statistic); Royston, Applied Statistics 44 (1995) 547-551, algorithm AS R94 (Shapiro-Wilk). Tests:
    ``tests/tracker/spread/test_gaussianity.py``.
    """
    values = np.sort(sizes_array(sizes, at_least=3, purpose="a test of normality"))
    n = values.size
    if values[0] == values[-1]:
        raise NotEnoughData(f"all {count(n, 'piece')} have the same size; a test of normality needs a spread")
    centred = values - values.mean()
    centred /= np.abs(centred).max()
    a2 = anderson_darling_statistic(centred)
    a_p = anderson_darling_p(a2, n)
    w, w_p = shapiro_wilk(centred)
    return Normality(
        n=n,
        anderson_darling=a2,
        anderson_darling_p=a_p,
        shapiro_wilk=w,
        shapiro_wilk_p=w_p,
        remark=_remark(n, min(a_p, w_p), int(np.unique(values).size)),
    )


def _remark(n: int, p: float, distinct: int) -> str:
    """Return what the tests mean, in words."""
    if p < 0.05:
        words = "the sizes do not look normal"
        if distinct <= max(5, n // 10):
            words += f"; but with only {distinct} distinct values this may be the gauge's step"
        return words
    # Power of Shapiro-Wilk at 5 % against an exponential, by simulation with 20,000 draws each
    # (tests/tracker/spread/test_gaussianity.py): 15 % at n = 5, 33 % at 8, 56 % at 12, 84 % at 20, 97 % at 30.
    if n < 20:
        caught = "a sixth" if n < 7 else "a third" if n < 10 else "half"
        return (
            f"nothing speaks against normal, but {count(n, 'piece')} can hardly tell: even a strongly lopsided spread "
            f"would be noticed only about {caught} of the time; 30 would notice it almost always"
        )
    if n < 50:
        return f"nothing speaks against normal; {count(n, 'piece')} show a strongly lopsided spread but not heavy tails"
    return "nothing speaks against normal"


def anderson_darling_statistic(centred: Array) -> float:
    """Return the Anderson-Darling statistic of ascending values about their mean, sd estimated (divisor n - 1)."""
    n = centred.size
    z = centred / math.sqrt(float(centred @ centred) / (n - 1))
    weight = 2 * np.arange(1, n + 1) - 1
    return float(-n - (weight @ (special.log_ndtr(z) + special.log_ndtr(-z[::-1]))) / n)


def anderson_darling_p(statistic: float, n: int) -> float:
    """Return the p-value of the statistic with mean and sd estimated."""
    a = statistic * (1 + 0.75 / n + 2.25 / n**2)
    if a < 0.2:
        p = 1 - math.exp(-13.436 + 101.14 * a - 223.73 * a * a)
    elif a < 0.34:
        p = 1 - math.exp(-8.318 + 42.796 * a - 59.938 * a * a)
    elif a < 0.6:
        p = math.exp(0.9177 - 4.279 * a - 1.38 * a * a)
    elif a < 10:
        p = math.exp(1.2937 - 5.709 * a + 0.0186 * a * a)
    else:
        p = math.exp(1.2937 - 5.709 * 10 + 0.0186 * 100)
    return min(max(p, 0.0), 1.0)


def shapiro_wilk(centred: Array) -> tuple[float, float]:
    """Return W and its p-value for ascending values, 3 to 5000 of them (the p-value is a guess beyond).

    References
    ----------
    Royston (1995), algorithm AS R94.
    """
    n = centred.size
    weight = _shapiro_weights(n)
    # Scaled so that 1 - W, not W, carries the rounding.
    ssq = float(centred @ centred)
    fitted = float(weight @ centred)
    w = min(fitted * fitted / ssq, 1.0)
    if n == 3:
        p = 6 / math.pi * (math.asin(math.sqrt(w)) - math.asin(math.sqrt(0.75)))
        return w, min(max(p, 0.0), 1.0)
    y = math.log(max(1 - w, 1e-300))
    if n <= 11:
        gamma = -2.273 + 0.459 * n
        if y >= gamma:
            return w, 1e-99
        y = -math.log(gamma - y)
        mean = np.polyval([-0.0006714, 0.025054, -0.39978, 0.5440], n)
        sd = math.exp(np.polyval([-0.0020322, 0.062767, -0.77857, 1.3822], n))
    else:
        log_n = math.log(n)
        mean = np.polyval([0.0038915, -0.083751, -0.31082, -1.5861], log_n)
        sd = math.exp(np.polyval([0.0030302, -0.082676, -0.4803], log_n))
    return w, float(special.ndtr(-(y - mean) / sd))


def _shapiro_weights(n: int) -> Array:
    """Return Royston's approximate weights, antisymmetric and of unit length."""
    if n == 3:
        return np.array([-math.sqrt(0.5), 0.0, math.sqrt(0.5)])
    m = special.ndtri((np.arange(1, n + 1) - 0.375) / (n + 0.25))
    length = float(m @ m)
    u = 1 / math.sqrt(n)
    first = float(np.polyval([-2.706056, 4.434685, -2.071190, -0.147981, 0.221157, m[-1] / math.sqrt(length)], u))
    weight = np.empty(n)
    if n > 5:
        second = float(np.polyval([-3.582633, 5.682633, -1.752461, -0.293762, 0.042981, m[-2] / math.sqrt(length)], u))
        phi = (length - 2 * m[-1] ** 2 - 2 * m[-2] ** 2) / (1 - 2 * first**2 - 2 * second**2)
        weight[2:-2] = m[2:-2] / math.sqrt(phi)
        weight[-2], weight[1] = second, -second
    else:
        phi = (length - 2 * m[-1] ** 2) / (1 - 2 * first**2)
        weight[1:-1] = m[1:-1] / math.sqrt(phi)
    weight[-1], weight[0] = first, -first
    return weight
