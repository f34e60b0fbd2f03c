"""Strands: batches of one feature, one after another, of one part, machine, tool or operator; and where they moved."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy import special

from tracker.history.cells import codes_of
from tracker.history.summary import History
from tracker.plurals import noun
from tracker.result import Result
from tracker.spread.arguments import Array, IntArray

LEAST_BATCHES = 6
LEAST_BESIDE = 2
CHANCE_OF_ANY = 0.05


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Strand(Result):
    """Batches of one feature in the order they were begun, and whether their level moved.

    Attributes
    ----------
    value : str
        Whose they are: the part, machine, tool or operator.
    part, feature, kind, unit : str
    at : ndarray of int, shape (batches,)
        Places in the arrays of the history, in the order the batches were begun.
    bias : ndarray of float, shape (batches,)
        Mean size of each batch less its target.
    first : int
        Place in ``at`` of the first batch after the likeliest move; 0 where it cannot be told.
    before, after : float
        Mean of ``bias`` before and from there on; equal where it cannot be told.
    p : float
        Chance of a move as clear as this one somewhere in a steady strand; 1 where it cannot be told.
    moved : bool
        Whether ``p``, times the number of strands looked at, is under 0.05.
    """

    value: str
    part: str
    feature: str
    kind: str
    unit: str
    at: IntArray
    bias: Array
    first: int
    before: float
    after: float
    p: float
    moved: bool

    @property
    def told(self) -> bool:
        """Whether there are batches enough to tell."""
        return self.first > 0

    @property
    def move(self) -> float:
        """By how much size changed, in ``unit``."""
        return self.after - self.before

    def __str__(self) -> str:
        name = f"{self.value}: {self.part}, {self.feature}"
        if not self.told:
            return f"{name}: {self.at.size} {noun(self.at.size, 'batch', 'batches')}, too few to tell"
        words = f"{self.move:+.6g} {self.unit} from batch {self.first + 1} of {self.at.size} on"
        return f"{name}: {words if self.moved else 'no clear move'} (p {self.p:.2g})"


def level_change(values: Array) -> tuple[int, float]:
    """Return where the level of a row of values changed likeliest, and the chance of so clear a change in a steady row.

    Parameters
    ----------
    values : ndarray of float, shape (n,)

    Returns
    -------
    first : int
        Place of the first value after the change; 0 with fewer than 6 values, or values that are all alike.
    p : float
        The least of the two-sample t tests (equal variances) before against after, at least two values on each side,
        times the number of places tried (Bonferroni); at most 1.

    References
    ----------
    Worsley (1979), "On the likelihood ratio test for a shift in location of normal populations", Journal of the
    American Statistical Association 74: the statistic is the greatest t; the bound is the plain Bonferroni one, so it
    errs towards no change. Tests: ``tests/tracker/history/test_strands.py``.
    """
    n = values.size
    if n < LEAST_BATCHES:
        return 0, 1.0
    about = values - values.mean()
    k = np.arange(LEAST_BESIDE, n - LEAST_BESIDE + 1)
    summed = np.cumsum(about)[k - 1]
    between = summed**2 * (1 / k + 1 / (n - k))  # sum of squares between the two sides, as the whole sums to nothing
    whole = float(about @ about)
    if whole <= (np.finfo(float).eps * np.abs(values).max()) ** 2 * n:
        return 0, 1.0
    within = np.maximum(whole - between, 0.0)
    t = np.sqrt(np.divide(between * (n - 2), within, out=np.full(k.size, np.inf), where=within > 1e-14 * whole))
    best = int(np.argmax(t))
    return int(k[best]), min(1.0, float(2 * special.stdtr(n - 2, -t[best])) * k.size)


def strands_of(found: History, by: str) -> tuple[Strand, ...]:
    """Return the strands of a history, those that moved first, the clearest first.

    Parameters
    ----------
    found : History
        Told apart by operator where ``by`` is operator.
    by : str
        part, machine, tool, operator; anything else takes the parts.

    Notes
    -----
    One change of level is looked for in each strand; a slow creep shows as one, in its middle. Batches that hang
    together (one worn tool through several of them) are flagged more often than said.
    """
    own = by if by in ("machine", "tool", "operator") else "part"
    words = [_words(found, name) for name in (own, "part", "feature", "unit")]
    begun = codes_of(found.about["begun"])[found.batch]
    codes = [codes_of(column) for column in words]
    order = np.lexsort((found.batch, begun, *codes[::-1]))
    changed = np.zeros(order.size, dtype=bool)
    for code in codes:
        changed[1:] |= np.diff(code[order]) != 0
    aim = (found.about["target"] - found.about["nominal"])[found.batch]
    bias = found.spread.mean - np.where(np.isnan(aim), 0.0, aim)
    rows = [part for part in np.split(order, np.flatnonzero(changed)) if part.size]
    looked = [level_change(bias[at]) for at in rows]
    tried = max(sum(first > 0 for first, _ in looked), 1)
    strands = []
    for at, (first, p) in zip(rows, looked):
        middle = float(bias[at].mean())
        strands.append(
            Strand(
                value=str(words[0][at[0]]) or "not said",
                part=str(words[1][at[0]]),
                feature=str(words[2][at[0]]),
                kind=str(found.about["kind"][found.batch[at[0]]]),
                unit=str(words[3][at[0]]),
                at=at,
                bias=bias[at],
                first=first,
                before=float(bias[at[:first]].mean()) if first else middle,
                after=float(bias[at[first:]].mean()) if first else middle,
                p=p,
                moved=p * tried < CHANCE_OF_ANY,
            )
        )
    return tuple(sorted(strands, key=lambda one: (not one.moved, one.p, -one.at.size)))


def _words(found: History, name: str) -> np.ndarray:
    if name == "operator":
        return np.array(found.split_name, dtype=object)
    return np.asarray(found.about[name][found.batch])
