"""Selective assembly: sorting both batches into classes so that tray goes with tray."""

from __future__ import annotations

import dataclasses
from typing import Any

import numpy as np
import numpy.typing as npt
from scipy import special

from tracker.errors import TrackerError
from tracker.fit.batch_spread import given_readings, normal_share
from tracker.fit.best_cuts import CUTS, Places, best_cuts, cut_places
from tracker.fit.checks import Floats, Ints, limits_of, not_negative, round_off, sizes_of, uncertainties
from tracker.fit.class_cuts import (
    Counter,
    Edges,
    LikelyPairs,
    equal_count,
    equal_width,
    expected_by_class,
    good_pairs,
    likely_pairs,
    told_apart,
)
from tracker.plurals import noun
from tracker.result import Result

MOST_PAIRS = 4_000_000
"""Pairs up to which the gauge's uncertainty is counted in, pair by pair."""

METHODS = ("width", "count", "best")
PLAIN = ("width", "count")

SIDES = ("internal", "external")
EQUAL = 1e-10
"""Good assemblies that are no difference between two sets of cuts."""

MOST_CLASSES = 50
"""More trays than that nobody keeps apart."""


@dataclasses.dataclass(frozen=True, slots=True, kw_only=True)
class Classes(Result):
    """Two batches cut into classes; class i of one side goes with class i of the other.

    Attributes
    ----------
    edges_internal, edges_external : array, shape (count + 1,)
        Class limits. A piece on an edge belongs to the class above it. "best" may need fewer classes than asked.
    expected_good : float
        Expected good assemblies: in each tray as many as its scarcer side has pieces, taken at random.
    surplus : array of int, shape (count,)
        Internal minus external pieces in each class: positive, internal pieces are left over.
    count_internal, count_external : array of int
        Pieces in each class.
    share : array
        Share of good pairs in each class (0 where a side is empty).
    expected_share : float
        `expected_good` over the pieces of the shorter side.
    class_internal, class_external : array of int
        Class of each piece as given, -1 where it is outside all classes.
    gap_lowest, gap_highest : array
        Gap between the edges of each class: what the class limits alone promise.
    labels : tuple of str
        One a class, the same for both sides.
    compared : dict
        `expected_good` of each method that was tried on these pieces: "best" only where it was asked.
    n_internal, n_external : int
        Pieces measured a side.
    method : str
        How the cuts were found.
    """

    edges_internal: Floats
    edges_external: Floats
    expected_good: float
    surplus: Ints
    count_internal: Ints
    count_external: Ints
    share: Floats
    expected_share: float
    class_internal: Ints
    class_external: Ints
    gap_lowest: Floats
    gap_highest: Floats
    labels: tuple[str, ...]
    compared: dict[str, float]
    n_internal: int
    n_external: int
    method: str

    def __str__(self) -> str:
        possible = min(self.n_internal, self.n_external)
        trays = "; ".join(
            f"{label}: internal {low_in:.6g} to {high_in:.6g} ({many_in}), external {low_ex:.6g} to {high_ex:.6g} "
            f"({many_ex})"
            for label, low_in, high_in, many_in, low_ex, high_ex, many_ex in zip(
                self.labels,
                self.edges_internal[:-1],
                self.edges_internal[1:],
                self.count_internal,
                self.edges_external[:-1],
                self.edges_external[1:],
                self.count_external,
                strict=True,
            )
        )
        left = int(np.abs(self.surplus).sum())
        outside = [
            f"{there - int(many.sum())} {side}"
            for side, there, many in (
                ("internal", self.n_internal, self.count_internal),
                ("external", self.n_external, self.count_external),
            )
            if there > many.sum()
        ]
        stray = f", {' and '.join(outside)} in no tray" if outside else ""
        return (
            f"Sorted into {len(self.labels)} {noun(len(self.labels), 'class', 'classes')}, "
            f"{self.expected_good:.1f} of {possible} {noun(possible, 'assembly is', 'assemblies are')} expected "
            f"good, {left} {noun(left, 'piece')} left over in the trays{stray}. {trays}. "
            f"From {self.n_internal} internal and {self.n_external} external {noun(self.n_external, 'piece')}; "
            f"{self.method}."
        )


def classes(
    internal: npt.ArrayLike,
    external: npt.ArrayLike,
    gap_lower: float | None,
    gap_upper: float | None,
    count: int,
    method: str = "best",
    *,
    step: Any = None,
    uncertainty: Any = 0.0,
    common_uncertainty: float = 0.0,
    range_internal: tuple[float, float] | None = None,
    range_external: tuple[float, float] | None = None,
) -> Classes:
    """Return two batches sorted into classes that go together tray by tray.

    Parameters
    ----------
    internal, external : array of float, shape (m,) and (n,)
        One measured size a piece, in one unit.
    gap_lower, gap_upper : float or None
        Limits of internal minus external size; None is open.
    count : int
        Number of classes, up to `MOST_CLASSES`.
    method : {"best", "width", "count"}
        Cuts that give most expected good assemblies with these pieces, classes of equal width, or classes
        with equally many pieces; both as nearly as the sizes and the gauge allow, and ``method`` of the answer says so.
        "best" leaves classes out where more of them give less, and says so too.
    step : float or (internal, external), optional
        What the gauge can read: edges are put on whole steps. By default edges stand half-way between
        neighbouring pieces.
    uncertainty : float or (internal, external), default 0
        Standard uncertainty of one piece's size; of each side a number or one value a piece. With it a pair near a
        limit counts by its chance to be good, given the readings.
    common_uncertainty : float, default 0
        Standard uncertainty of the gap that all pairs share.
    range_internal, range_external : (float, float), optional
        Outer edges for "width" and "count", for example the limits of size; by default from the smallest
        to the largest piece.

    Returns
    -------
    Classes

    Raises
    ------
    TrackerError
        Unknown method, no class, or more classes than the gauge or the sizes can tell apart.
    NotEnoughData
        No piece on a side.

    Notes
    -----
    Within a tray pieces are taken at random. "best" looks at every set of cuts between neighbouring pieces (or on whole
    steps), trays empty on one side and fewer trays among them, so that a tray more never gives less: up to `CUTS`
    places a side; above that at so many spread evenly, and at the cuts of the other two methods for every number of
    trays up to ``count``. It is never worse than the other two on the pieces given. It is fitted to them: the next
    batch will do somewhat less well.

    References
    ----------
    Expected matches against exact enumeration: tests/published/test_fit_selective.py (cases sel-*);
    yield against simulated picking, best cuts against all cuts: tests/tracker/fit/test_selection.py.

    Examples
    --------
    >>> result = classes([1.0, 2.0, 3.0, 4.0], [0.0, 1.0, 2.0, 3.0], 0.5, 1.5, 4)
    >>> result.expected_good
    4.0
    """
    inside, outside = sizes_of(internal, "internal"), sizes_of(external, "external")
    low, high = limits_of(gap_lower, gap_upper)
    if method not in METHODS:
        raise TrackerError(f"method: found {method!r}; one of {', '.join(METHODS)} is known")
    if int(count) < 1:
        raise TrackerError(f"count: found {count}; at least one class is needed")
    count = int(count)
    steps = _steps(step)
    near = max(round_off(inside, outside), np.finfo(float).tiny)  # sizes may all be 0
    rows, columns = np.sort(inside), np.sort(outside)
    places = cut_places(rows, steps[0], near), cut_places(columns, steps[1], near)
    most = min(side.most for side in places)
    if count > most and method != "width":
        raise TrackerError(f"count: {count} classes cannot be told apart with these sizes; at most {most}")
    if count > MOST_CLASSES:
        raise TrackerError(f"count: found {count}; at most {MOST_CLASSES} classes are made")
    noise = uncertainties(uncertainty, len(inside), len(outside))
    common = not_negative(common_uncertainty, "common_uncertainty")
    doubt = bool(np.any(noise[0] > 0) or np.any(noise[1] > 0) or common > 0)
    counter: Counter = good_pairs(rows, columns, low, high, near)
    if doubt and rows.size * columns.size <= MOST_PAIRS:
        counter = _likely(inside, outside, noise, low, high, common, near)
    outer = range_internal or (rows[0], rows[-1]), range_external or (columns[0], columns[-1])
    cutting = _Cutting(counter=counter, outer=outer, steps=steps, near=near)
    if method == "best":
        chosen, words, compared = cutting.best(count, places)
    else:
        plain = {name: cutting.plain(name, count) for name in PLAIN}
        chosen, words = cutting.told(plain[method]), cutting.plain_words(method, plain[method])
        compared = {name: cutting.good(edges) for name, edges in plain.items() if not isinstance(edges, TrackerError)}
    if doubt:
        counted = isinstance(counter, LikelyPairs)
        words += f", the gauge's uncertainty {'in it' if counted else f'left out above {MOST_PAIRS:,} pairs'}"
    return _classes(inside, outside, counter, chosen, cutting.closed(chosen), compared, words)


def _likely(
    inside: Floats, outside: Floats, noise: tuple[Floats, Floats], low: float, high: float, common: float, near: float
) -> LikelyPairs:
    order_in, order_out = np.argsort(inside, kind="stable"), np.argsort(outside, kind="stable")
    true_in, sd_in = given_readings(inside[order_in], noise[0][order_in])
    true_out, sd_out = given_readings(outside[order_out], noise[1][order_out])
    gap = true_in[:, None] - true_out[None, :]
    sd = np.sqrt(sd_in[:, None] ** 2 + sd_out[None, :] ** 2 + common**2)
    chance = normal_share(gap, sd, low, high, near)
    return likely_pairs(inside[order_in], outside[order_out], chance, near)


def _steps(step: Any) -> tuple[float | None, float | None]:
    pair = tuple(step) if isinstance(step, tuple | list) else (step, step)
    if len(pair) != 2 or any(one is not None and not float(one) > 0 for one in pair):
        raise TrackerError(f"step: found {step}; give a number above zero, or two (internal, external)")
    return (None if pair[0] is None else float(pair[0])), (None if pair[1] is None else float(pair[1]))


@dataclasses.dataclass(frozen=True, slots=True, kw_only=True)
class _Cutting:
    """What is cut: the pieces and their good pairs, the outer edges for the plain methods, the gauge."""

    counter: Counter
    outer: tuple[tuple[float, float], tuple[float, float]]
    steps: tuple[float | None, float | None]
    near: float

    def plain(self, name: str, count: int) -> Edges | TrackerError:
        """Return the edges of a plain method, or the reason why there are none."""
        edges = []
        sizes = self.counter.internal, self.counter.external
        for side, values, (lower, upper), step in zip(SIDES, sizes, self.outer, self.steps, strict=True):
            try:
                if name == "width":
                    own = equal_width(lower, upper, count, step, self.near)
                else:
                    own = equal_count(values, lower, upper, count, step, self.near)
                edges.append(told_apart(own, step, self.near))
            except TrackerError as error:
                return TrackerError(f"{side}: {error}")
        return edges[0], edges[1]

    def told(self, edges: Edges | TrackerError) -> Edges:
        """Return the edges, or raise the reason why there are none."""
        if isinstance(edges, TrackerError):
            raise edges
        return edges

    def plain_words(self, name: str, edges: Edges | TrackerError) -> str:
        """Return how a plain method cut, and that its classes are not quite equal where they are not."""
        if name == "width":
            equal = all(np.ptp(np.diff(own)) <= 4.0 * self.near for own in self.told(edges))
            return "classes of equal width" if equal else "classes as equal in width as whole steps of the gauge allow"
        inside, outside, _, _ = expected_by_class(self.counter, self.closed(self.told(edges)))
        if not np.ptp(inside) and not np.ptp(outside):
            return "classes of equal count"
        whole = "" if self.steps == (None, None) else " and whole steps of the gauge"
        return f"classes as equal in count as these sizes{whole} allow"

    def best(self, count: int, places: tuple[Places, Places]) -> tuple[Edges, str, dict[str, float]]:
        """Return the best edges, how they were found, and what each method gives; never worse than the plain ones."""
        complete = all(side.complete for side in places)
        chosen = best_cuts(self.counter, places, count)
        good, compared = self.good(chosen), {}
        # not all places are looked at: plain classes, of any number that is allowed, may be better
        for number in range(count if complete else 1, count + 1):
            for name in PLAIN:
                edges = self.plain(name, number)
                if isinstance(edges, TrackerError):
                    continue
                compared[name] = self.good(edges)
                if compared[name] > good + EQUAL:
                    chosen, good = edges, compared[name]
            if number < count:
                compared.clear()
        words = "best cuts for these pieces" + ("" if complete else f", from {CUTS} places a side")
        used = len(chosen[0]) - 1
        if used < count:
            words += f"; {used} of {count} classes used, as more give less"
        return chosen, words, {**compared, "best": good}

    def good(self, edges: Edges) -> float:
        """Return the expected good assemblies."""
        return float(expected_by_class(self.counter, self.closed(edges))[3].sum())

    def closed(self, edges: Edges) -> Edges:
        """Return edges for counting: without a gauge step the last edge belongs to the last class."""
        counted = []
        for side in (0, 1):
            own = np.array(edges[side], dtype=np.float64)
            if self.steps[side] is None and own[-1] >= self.outer[side][1] - self.near:
                own[-1] += 4.0 * self.near
            counted.append(own)
        return counted[0], counted[1]


def _classes(
    inside: Floats, outside: Floats, counter: Any, edges: Edges, counted: Edges, compared: dict[str, float], words: str
) -> Classes:
    many_in, many_out, share, good = expected_by_class(counter, counted)
    number_in, number_out = (
        _class_of(sizes, own, counter.near) for sizes, own in zip((inside, outside), counted, strict=True)
    )
    return Classes(
        edges_internal=edges[0],
        edges_external=edges[1],
        expected_good=float(good.sum()),
        surplus=many_in - many_out,
        count_internal=many_in,
        count_external=many_out,
        share=share,
        expected_share=float(good.sum()) / min(len(inside), len(outside)),
        class_internal=number_in,
        class_external=number_out,
        gap_lowest=edges[0][:-1] - edges[1][1:],
        gap_highest=edges[0][1:] - edges[1][:-1],
        labels=tuple(_label(number) for number in range(len(many_in))),
        compared=compared,
        n_internal=len(inside),
        n_external=len(outside),
        method=words,
    )


def _class_of(sizes: Floats, edges: Floats, near: float) -> Ints:
    number = np.searchsorted(edges - near, sizes, side="right") - 1
    return np.where(number >= len(edges) - 1, -1, number)


def _label(number: int) -> str:
    """Return A to Z, then A2 to Z2, and so on."""
    letter, turn = chr(ord("A") + number % 26), number // 26
    return letter if not turn else f"{letter}{turn + 1}"


def class_shares(edges: npt.ArrayLike, mean: float, sd: float) -> Floats:
    """Return the share of a normal batch that falls into each class; the rest is outside the edges.

    Parameters
    ----------
    edges : array, shape (count + 1,)
        Class limits in ascending order.
    mean, sd : float
        Of the sizes.
    """
    if not sd > 0:
        raise TrackerError(f"sd: found {sd}; a spread above zero is needed")
    return np.diff(special.ndtr((np.asarray(edges, dtype=np.float64) - mean) / sd))


def matched_fraction(shares_internal: npt.ArrayLike, shares_external: npt.ArrayLike) -> float:
    """Return the share of pieces that find a mate in their class, for large batches of equal number.

    Parameters
    ----------
    shares_internal, shares_external : array
        Share of each batch in each class.
    """
    return float(
        np.minimum(np.asarray(shares_internal, dtype=np.float64), np.asarray(shares_external, dtype=np.float64)).sum()
    )


def expected_matches(
    shares_internal: npt.ArrayLike, shares_external: npt.ArrayLike, n_internal: int, n_external: int
) -> float:
    """Return the expected number of pairs when finite batches not made yet are sorted into classes.

    Parameters
    ----------
    shares_internal, shares_external : array
        Chance that a piece falls into each class.
    n_internal, n_external : int
        Pieces in the batches.

    Notes
    -----
    The counts in one class are binomial and independent between the sides, so the expected smaller one is
    the sum over k >= 1 of P(internal count >= k) P(external count >= k). Exact.

    References
    ----------
    Case sel-n4k2 in tests/published/test_fit_selective.py (full enumeration).

    Examples
    --------
    >>> round(expected_matches([0.5, 0.5], [0.5, 0.5], 4, 4), 5)
    2.90625
    """
    least = np.arange(1, min(n_internal, n_external) + 1)
    total = 0.0
    for inside, outside in zip(
        np.asarray(shares_internal, dtype=np.float64), np.asarray(shares_external, dtype=np.float64), strict=True
    ):
        reach_in = special.bdtrc(least - 1.0, n_internal, inside)
        reach_out = special.bdtrc(least - 1.0, n_external, outside)
        total += float((reach_in * reach_out).sum())
    return total
