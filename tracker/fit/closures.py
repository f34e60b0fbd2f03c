"""Closures: a signed sum of lengths with limits; worst case, root sum square, and the chance."""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
import numpy.typing as npt

from tracker.errors import NotEnoughData, TrackerError
from tracker.fit.batch_spread import GapSpread, side_spread, sum_spread
from tracker.fit.chances import predictive
from tracker.fit.checks import Floats, generator, limits_of, not_negative, round_off, sizes_of
from tracker.given import finite_number, number
from tracker.result import Interval, Result

DRAWS = 100_000
REACH = 3.0  # limits of a drawing stand three standard deviations from their middle
THREE_SIGMA = math.erf(REACH / math.sqrt(2.0))


@dataclasses.dataclass(frozen=True, slots=True, kw_only=True)
class Contribution(Result):
    """What one term adds to the scatter of the sum.

    Attributes
    ----------
    name : str
        The term.
    coefficient : float
        Its sign and factor.
    mean, sd : float
        Of its lengths.
    low, high : float
        The extremes it enters the worst case with.
    share : float
        Its share of the variance of the sum.
    source : str
        Measured, drawing, or stated spread.
    n : int
        Pieces measured (0: none).
    """

    name: str
    coefficient: float
    mean: float
    sd: float
    low: float
    high: float
    share: float
    source: str
    n: int

    def __str__(self) -> str:
        return f"{self.name}: {100 * self.share:.0f} % of the scatter (sd {self.sd:.3g}, {self.source})"


@dataclasses.dataclass(frozen=True, slots=True, kw_only=True)
class Closure(Result):
    """A signed sum of lengths against its limits.

    Attributes
    ----------
    worst_case : Interval
        Middle, least and greatest sum with every term at its extremes.
    root_sum_square : Interval
        Mean sum and three standard deviations either way (99.73 %), terms independent.
    chance : float
        Chance that an assembly is within limits, its pieces not made yet (predictive where measured).
    chance_error : float
        Standard error of the simulation; 0 where computed.
    below, above : float
        Chances of a sum under the lower and over the upper limit.
    measured_share : float or None
        Share within limits when the measured pieces themselves are put together at random; None unless all
        terms were measured.
    mean, sd : float
        Of the sum.
    contributions : tuple of Contribution
        The greatest first.
    lower, upper : float
        The limits; infinite when open.
    terms : int
        Number of terms.
    method : str
        How the chance was found.
    """

    worst_case: Interval
    root_sum_square: Interval
    chance: float
    chance_error: float
    below: float
    above: float
    measured_share: float | None
    mean: float
    sd: float
    contributions: tuple[Contribution, ...]
    lower: float
    upper: float
    terms: int
    method: str

    def __str__(self) -> str:
        worst, likely = self.worst_case, self.root_sum_square
        return (
            f"{100 * self.chance:.1f} % chance that the sum of {self.terms} terms is within limits. Worst case "
            f"{worst.low:.6g} to {worst.high:.6g}, root sum square {likely.low:.6g} to {likely.high:.6g}. "
            f"The most scatter comes from {self.contributions[0]}. {self._pieces()}; {self.method}."
        )

    def _pieces(self) -> str:
        measured = [item for item in self.contributions if item.n]
        if not measured:
            return "From the drawing, nothing measured"
        return "Measured: " + ", ".join(f"{item.n} of {item.name}" for item in measured)


@dataclasses.dataclass(frozen=True, slots=True, kw_only=True)
class _Term:
    name: str
    coefficient: float
    mean: float
    sd: float
    low: float
    high: float
    source: str
    sizes: Floats | None
    noise: float

    @property
    def n(self) -> int:
        return 0 if self.sizes is None else len(self.sizes)

    def draw(self, count: int, rng: np.random.Generator, shape: str) -> Floats:
        """Return lengths of pieces not made yet."""
        if self.source == "drawing" and shape == "uniform":
            return rng.uniform(self.low, self.high, count)
        if self.sizes is None:
            return self.mean + self.sd * rng.standard_normal(count)
        dof = self.n - 1
        observed = dof * float(self.sizes.var(ddof=1)) / rng.chisquare(dof, count)
        true = np.maximum(observed - self.noise**2, 0.0)
        drawn: Floats = self.mean + np.sqrt(true + observed / self.n) * rng.standard_normal(count)
        return drawn


def closure(
    terms: Mapping[str, tuple[float, Any]] | Sequence[tuple[float, Any]],
    lower: float | None,
    upper: float | None,
    *,
    shape: str = "normal",
    uncertainty: float | Mapping[str, float] = 0.0,
    common_uncertainty: float = 0.0,
    rng: np.random.Generator | int | None = None,
) -> Closure:
    """Return worst case, root sum square and chance of a signed sum of lengths.

    Parameters
    ----------
    terms : mapping of name to (coefficient, lengths), or sequence of (coefficient, lengths)
        ``coefficient`` is the sign and factor (+1, -1). ``lengths`` is an array or list of measured sizes,
        one a piece (two at least); or a tuple of three, (nominal, lower, upper) from the drawing; or a
        tuple of two, (mean, sd), a stated spread.
    lower, upper : float or None
        Limits of the sum; None is open.
    shape : {"normal", "uniform"}
        How sizes from a drawing lie between their limits: normal about the middle with the limits three
        standard deviations away (a rule of thumb), or anywhere alike.
    uncertainty : float or mapping of name to float, default 0
        Standard uncertainty of one measured size, contained in the measured spread: the same for every term, or one
        for each that is named (the others 0).
    common_uncertainty : float, default 0
        Standard uncertainty of the sum that all assemblies share.
    rng : numpy.random.Generator or seed, optional
        For the simulation; by default a fixed seed.

    Returns
    -------
    Closure

    Raises
    ------
    NotEnoughData
        No term, or a measured term with one piece.
    TrackerError
        A term that is none of the three forms, limits the wrong way round.

    Notes
    -----
    Terms independent; a piece enters one assembly. Measured terms: mean and spread known only as well as
    the pieces tell. With every term normal the chance is computed (a predictive t, degrees of freedom
    after Welch and Satterthwaite, as in `chance_any`); with uniform terms it is exact when all terms are,
    else simulated with 100,000 assemblies. Worst case: measured terms at their smallest and largest piece,
    stated spreads at three standard deviations. Terms that go together (two lengths from one set-up) are
    not independent, and root sum square and chance are then too kind or too harsh.

    References
    ----------
    Root sum square: propagation of variances, JCGM 100:2008, 5.1.2 (from memory). Exact chances of uniform
    terms: case fit-prob-uniform in tests/published/test_fit_chances.py.

    Examples
    --------
    >>> result = closure({"head": (1, (12.0, 11.9, 12.1)), "recess": (-1, (11.5, 11.45, 11.55))}, 0.4, 0.6)
    >>> round(result.worst_case.low, 3), round(result.worst_case.high, 3)
    (0.35, 0.65)
    """
    low, high = limits_of(lower, upper, "limits of the closure")
    if shape not in ("normal", "uniform"):
        raise TrackerError(f"shape: found {shape!r}; sizes of a drawing lie 'normal' or 'uniform'")
    common = not_negative(common_uncertainty, "common_uncertainty")
    listed = _listed(terms, shape, uncertainty)
    mean = math.fsum(term.coefficient * term.mean for term in listed)
    variance = math.fsum((term.coefficient * term.sd) ** 2 for term in listed)
    random = generator(rng)
    below, above, error, method = _chance(listed, low, high, shape, common, mean, random)
    worst_low = math.fsum(min(term.coefficient * term.low, term.coefficient * term.high) for term in listed)
    worst_high = math.fsum(max(term.coefficient * term.low, term.coefficient * term.high) for term in listed)
    sd = math.sqrt(variance)
    return Closure(
        worst_case=Interval((worst_low + worst_high) / 2.0, worst_low, worst_high, 1.0),
        root_sum_square=Interval(mean, mean - REACH * sd, mean + REACH * sd, THREE_SIGMA),
        chance=max(1.0 - below - above, 0.0),
        chance_error=error,
        below=below,
        above=above,
        measured_share=_measured_share(listed, low, high, random),
        mean=mean,
        sd=sd,
        contributions=_ranked(listed, variance),
        lower=low,
        upper=high,
        terms=len(listed),
        method=method,
    )


def _listed(terms: Any, shape: str, uncertainty: float | Mapping[str, float]) -> list[_Term]:
    if not isinstance(terms, Mapping | list | tuple):
        raise TrackerError(f"terms: found a {type(terms).__name__}; give a mapping or a list of (coefficient, lengths)")
    items = list(terms.items()) if isinstance(terms, Mapping) else [(f"term {k + 1}", t) for k, t in enumerate(terms)]
    if not items:
        raise NotEnoughData("closure: no term; give at least one (coefficient, lengths)")

    def noise(name: str) -> float:
        own = uncertainty.get(name, 0.0) if isinstance(uncertainty, Mapping) else uncertainty
        return not_negative(own, "uncertainty")

    return [_term(str(name), entry, shape, noise(str(name))) for name, entry in items]


def _term(name: str, entry: Any, shape: str, noise: float) -> _Term:
    if not isinstance(entry, tuple | list) or len(entry) != 2:
        raise TrackerError(f"{name}: found {type(entry).__name__}; a term is (coefficient, lengths)")
    coefficient, lengths = number(entry[0], f"{name}, coefficient"), entry[1]
    if not math.isfinite(coefficient) or coefficient == 0:
        raise TrackerError(f"{name}: found the coefficient {coefficient:g}; +1 or -1, or another factor, is needed")
    if isinstance(lengths, tuple):
        return _stated(name, coefficient, lengths, shape)
    sizes = np.sort(sizes_of(lengths, name, 2))
    spread = math.sqrt(max(float(sizes.var(ddof=1)) - noise**2, 0.0))
    return _Term(
        name=name,
        coefficient=coefficient,
        mean=float(sizes.mean()),
        sd=spread,
        low=float(sizes[0]),
        high=float(sizes[-1]),
        source="measured",
        sizes=sizes,
        noise=noise,
    )


def _stated(name: str, coefficient: float, lengths: tuple[Any, ...], shape: str) -> _Term:
    """Return a term from the drawing (nominal, lower, upper) or from a stated spread (mean, sd)."""
    numbers = tuple(finite_number(value, f"{name}, limits, nominal or spread") for value in lengths)
    if len(numbers) == 3:
        _, low, high = numbers
        limits_of(low, high, name)
        sd = (high - low) / (math.sqrt(12.0) if shape == "uniform" else 2.0 * REACH)
        mean, source = (low + high) / 2.0, "drawing"
    elif len(numbers) == 2:
        mean, sd = numbers[0], finite_number(numbers[1], f"{name}, sd", least=0)
        low, high, source = mean - REACH * sd, mean + REACH * sd, "stated spread"
    else:
        raise TrackerError(
            f"{name}: found a tuple of {len(numbers)}; (nominal, lower, upper) or (mean, sd) is stated, "
            "measured sizes come as a list or an array"
        )
    return _Term(
        name=name,
        coefficient=coefficient,
        mean=mean,
        sd=sd,
        low=low,
        high=high,
        source=source,
        sizes=None,
        noise=0.0,
    )


def _chance(
    terms: list[_Term], low: float, high: float, shape: str, common: float, mean: float, rng: np.random.Generator
) -> tuple[float, float, float, str]:
    """Return (below, above, standard error, method)."""
    flat = [term for term in terms if term.source == "drawing" and shape == "uniform"]
    near = round_off(*(np.array([abs(term.coefficient) * max(abs(term.low), abs(term.high))]) for term in terms))
    if not flat:
        spread = _normal_sum(terms, common)
        inside, below, _ = predictive(spread, low, high, 1, near)
        return below, max(1.0 - inside - below, 0.0), 0.0, "computed, every term normal, with what is not known in it"
    if len(flat) == len(terms) <= 8 and common == 0:
        widths = np.array([abs(term.coefficient) * (term.high - term.low) for term in terms])
        start = mean - float(widths.sum()) / 2.0
        below, above = uniform_sum_below(low - start, widths), 1.0 - uniform_sum_below(high - start, widths)
        return below, max(above, 0.0), 0.0, "exact, every term uniform between its limits"
    total = np.zeros(DRAWS)
    for term in terms:
        total += term.coefficient * term.draw(DRAWS, rng, shape)
    if common > 0:
        total += common * rng.standard_normal(DRAWS)
    below, above = float(np.mean(total < low - near)), float(np.mean(total > high + near))
    inside = min(max(1.0 - below - above, 1.0 / DRAWS), 1.0 - 1.0 / DRAWS)
    return below, above, math.sqrt(inside * (1.0 - inside) / DRAWS), f"{DRAWS} simulated assemblies"


def _normal_sum(terms: list[_Term], common: float) -> GapSpread:
    """Return what the sum of a new assembly may be; terms without pieces are taken as known."""
    measured = [term for term in terms if term.sizes is not None]
    known = [term for term in terms if term.sizes is None]
    return sum_spread(
        [(term.coefficient, side_spread(np.asarray(term.sizes), np.full(term.n, term.noise))) for term in measured],
        common,
        stated=math.fsum((term.coefficient * term.sd) ** 2 for term in known),
        offset=math.fsum(term.coefficient * term.mean for term in known),
    )


def uniform_sum_below(value: float, widths: npt.ArrayLike) -> float:
    """Return the chance that a sum of independent uniform variables on (0, width) is below a value.

    Parameters
    ----------
    value : float
        May be infinite.
    widths : array, shape (k,)
        Widths, zero or more; at most about eight, since 2^k terms are added.

    References
    ----------
    Feller, An Introduction to Probability Theory and Its Applications II (1971), I.9 (from memory);
    case fit-prob-uniform in tests/published/test_fit_chances.py.

    Examples
    --------
    >>> uniform_sum_below(0.5, [1.0])
    0.5
    """
    width = np.asarray(widths, dtype=np.float64)
    width = width[width > 0]
    if value >= width.sum():
        return 1.0
    if value <= 0:
        return 0.0
    total = 0.0
    count = len(width)
    for subset in range(2**count):
        chosen = [bool(subset >> place & 1) for place in range(count)]
        rest = value - float(width[chosen].sum())
        if rest > 0:
            total += (-1.0) ** sum(chosen) * rest**count
    return float(min(max(total / (math.factorial(count) * float(np.prod(width))), 0.0), 1.0))


def _measured_share(terms: list[_Term], low: float, high: float, rng: np.random.Generator) -> float | None:
    """Return the share of assemblies within limits when measured pieces are picked at random."""
    if any(term.sizes is None for term in terms):
        return None
    near = round_off(*(abs(term.coefficient) * term.sizes for term in terms if term.sizes is not None))
    combinations = math.prod(term.n for term in terms)
    total: Floats = np.zeros(1)
    for term in terms:
        sizes = term.coefficient * np.asarray(term.sizes)
        if combinations <= DRAWS:
            total = (total[:, None] + sizes).ravel()
        else:
            total = total + rng.choice(sizes, DRAWS)
    return float(np.mean((total >= low - near) & (total <= high + near)))


def _ranked(terms: list[_Term], variance: float) -> tuple[Contribution, ...]:
    found = [
        Contribution(
            name=term.name,
            coefficient=term.coefficient,
            mean=term.mean,
            sd=term.sd,
            low=term.low,
            high=term.high,
            share=(term.coefficient * term.sd) ** 2 / variance if variance > 0 else 0.0,
            source=term.source,
            n=term.n,
        )
        for term in terms
    ]
    return tuple(sorted(found, key=lambda item: -item.share))
