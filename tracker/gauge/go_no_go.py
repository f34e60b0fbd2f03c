"""Studies of go/no-go gauging: do appraisers agree with themselves, with one another and with the truth."""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import combinations
from typing import Any

import numpy as np

from tracker.errors import NotEnoughData, TrackerError
from tracker.gauge.agreement import cohen_kappa, fleiss_kappa
from tracker.plurals import noun
from tracker.result import Interval, Result
from tracker.spread.arguments import checked_confidence
from tracker.spread.censored import binomial_interval

PASSES = ("go", "goes", "good", "pass", "accept", "yes", "ok", "true", "1")
FAILS = ("no go", "no-go", "not", "does not go", "bad", "fail", "reject", "no", "false", "0")


@dataclass(frozen=True, slots=True, kw_only=True)
class Appraiser(Result):
    """One operator of a go/no-go study.

    Attributes
    ----------
    agrees_with_self : Interval or None
        Share of pieces judged alike every time (None without repeats).
    agrees_with_reference : Interval or None
        Share of pieces judged right every time (None without a reference).
    kappa_reference : Interval or None
        Agreement with the reference beyond chance.
    false_accept, false_reject : Interval or None
        Share of judgements that pass a bad piece, that fail a good one.
    """

    operator: str
    agrees_with_self: Interval | None
    agrees_with_reference: Interval | None
    kappa_reference: Interval | None
    false_accept: Interval | None
    false_reject: Interval | None
    n: int


@dataclass(frozen=True, slots=True, kw_only=True)
class OperatorPair(Result):
    """Two operators on the same pieces: share of equal judgements and kappa."""

    first: str
    second: str
    agreement: Interval
    kappa: Interval | None
    n: int


@dataclass(frozen=True, slots=True, kw_only=True)
class GoNoGoStudy(Result):
    """Agreement and error rates of go/no-go gauging.

    Attributes
    ----------
    appraisers : tuple of Appraiser
    pairs : tuple of OperatorPair
    all_agree : Interval or None
        Share of pieces on which everybody agreed every time (None with a single judgement a piece).
    all_right : Interval or None
        Share of pieces on which everybody was right every time (None without a reference).
    kappa_all : float or None
        Fleiss' kappa over all judgements (None when numbers of judgements vary, or all are equal).
    false_accept, false_reject : Interval or None
        Over all operators, exact binomial.
    """

    appraisers: tuple[Appraiser, ...]
    pairs: tuple[OperatorPair, ...]
    all_agree: Interval | None
    all_right: Interval | None
    kappa_all: float | None
    false_accept: Interval | None
    false_reject: Interval | None
    pieces: int
    operators: int
    n: int
    confidence: float
    method: str
    reason: str

    def __str__(self) -> str:
        """Say how often it goes wrong."""
        text = (
            f"{self.operators} {noun(self.operators, 'operator')} judged {self.pieces} {noun(self.pieces, 'piece')}, "
        )
        text += f"{self.n} {noun(self.n, 'judgement')}."
        if self.false_accept is not None:
            text += f" Bad pieces passed: {_share(self.false_accept)}."
        if self.false_reject is not None:
            text += f" Good pieces failed: {_share(self.false_reject)}."
        if self.all_agree is not None:
            text += f" All agreed every time on {_share(self.all_agree)} of the pieces."
        worst = min((pair for pair in self.pairs if pair.kappa is not None), key=_pair_kappa, default=None)
        if worst is not None and worst.kappa is not None:
            text += f" Least agreement: {worst.first} and {worst.second}, kappa {worst.kappa}."
        text += f" ({self.method}.)"
        return f"{text} {self.reason}".strip()


def go_no_go_study(
    decision: Any, piece: Any, operator: Any = None, reference: Any = None, confidence: float = 0.95
) -> GoNoGoStudy:
    """Return agreement, kappa and error rates of a go/no-go gauge.

    Parameters
    ----------
    decision : array_like, shape (n,)
        True, 1 or "goes" where the piece was passed; False, 0 or "does not go" where not.
    piece, operator : array_like, shape (n,)
        Which piece and who, for each judgement; repeats are matched in the order they stand.
    reference : array_like, shape (n,), optional
        Whether the piece is good, for each judgement.
    confidence : float
        Of the intervals.

    Returns
    -------
    GoNoGoStudy

    Raises
    ------
    NotEnoughData
        Without judgements.
    TrackerError
        For a judgement that cannot be read, lists of different length, or a piece with two references.

    Notes
    -----
    Rates have exact binomial intervals (Clopper-Pearson); they take judgements as independent, which repeats on the
    same borderline piece are not, so they are then too short. Kappa depends on the share of bad pieces in the study:
    choose about half of them near the limits. Interval of kappa: large-sample, short under about 30 pieces.

    References
    ----------
    Clopper & Pearson, Biometrika 26 (1934); Cohen (1960); Fleiss, Cohen & Everitt, Psychological Bulletin 72 (1969)
    323-327; Fleiss (1971). From memory; held against statsmodels in tests/tracker/gauge/test_go_no_go.py.

    Examples
    --------
    >>> study = go_no_go_study([1, 1, 0, 1, 1, 1, 0, 0], [1, 1, 2, 2] * 2, ["A"] * 4 + ["B"] * 4,
    ...                        reference=[1, 1, 0, 0] * 2)
    >>> round(study.false_accept.estimate, 2), study.false_reject.estimate
    (0.25, 0.0)
    """
    checked_confidence(confidence)
    passed = _judgements(decision, "decision")
    rows, row = np.unique(np.asarray(piece).ravel().astype(str), return_inverse=True)
    who = np.full(passed.size, "one operator") if operator is None else np.asarray(operator).ravel().astype(str)
    names, column = np.unique(who, return_inverse=True)
    if not passed.size == row.size == column.size:
        raise TrackerError(f"{passed.size} decisions, {row.size} pieces, {column.size} operators; give one of each")
    good = None if reference is None else _reference(_judgements(reference, "reference"), row, rows)
    appraisers = tuple(
        _appraiser(str(name), passed[column == k], row[column == k], good, confidence) for k, name in enumerate(names)
    )
    pairs = tuple(
        _pair(str(names[a]), str(names[b]), passed, row, column, a, b, confidence)
        for a, b in combinations(range(names.size), 2)
    )
    count = np.bincount(row)
    yes = np.bincount(row, passed)
    unanimous = (yes == 0) | (yes == count)
    several = bool(count.min() > 1)
    all_right = None
    false_accept = false_reject = None
    if good is not None:
        all_right = binomial_interval(int(np.sum(unanimous & ((yes > 0) == good))), rows.size, confidence)
        false_accept, false_reject = _error_rates(passed, good[row], confidence)
    reasons = [] if reference is not None else ["No reference was given, so error rates cannot be said."]
    if good is not None and false_accept is None:
        reasons.append("No bad piece was in the study, so false acceptance cannot be said.")
    if good is not None and false_reject is None:
        reasons.append("No good piece was in the study, so false rejection cannot be said.")
    return GoNoGoStudy(
        appraisers=appraisers,
        pairs=pairs,
        all_agree=binomial_interval(int(np.sum(unanimous)), rows.size, confidence) if several else None,
        all_right=all_right,
        kappa_all=fleiss_kappa(yes, count),
        false_accept=false_accept,
        false_reject=false_reject,
        pieces=int(rows.size),
        operators=int(names.size),
        n=int(passed.size),
        confidence=confidence,
        method="exact binomial intervals, which cover at least what is said; kappa after Donner and Eliasziw, "
        "where 95 % is asked 92 to 98 % from 10 pieces on",
        reason=" ".join(reasons),
    )


def _judgements(values: Any, name: str) -> np.ndarray:
    """Return judgements as booleans."""
    given = np.asarray(values).ravel()
    if given.size == 0:
        raise NotEnoughData(f"{name} is empty; give at least one judgement")
    if given.dtype == bool:
        return given
    texts = [str(value).strip().lower().removesuffix(".0") for value in given.tolist()]
    for number, text in enumerate(texts, start=1):
        if text not in PASSES and text not in FAILS:
            raise TrackerError(f"{name} {number} is {text!r}; accepted are 1, True, 'goes' and 0, False, 'does not go'")
    return np.array([text in PASSES for text in texts])


def _reference(given: np.ndarray, row: np.ndarray, pieces: np.ndarray) -> np.ndarray:
    if given.size != row.size:
        raise TrackerError(f"{given.size} references for {row.size} decisions; give one for each decision")
    yes = np.bincount(row, given)
    mixed = np.flatnonzero((yes > 0) & (yes < np.bincount(row)))
    if mixed.size:
        raise TrackerError(f"piece {pieces[mixed[0]]} is called good and bad in reference; a piece has one truth")
    good: np.ndarray = yes > 0
    return good


def _appraiser(name: str, passed: np.ndarray, row: np.ndarray, good: np.ndarray | None, confidence: float) -> Appraiser:
    _, member = np.unique(row, return_inverse=True)
    count, yes = np.bincount(member), np.bincount(member, passed)
    unanimous = (yes == 0) | (yes == count)
    with_self = binomial_interval(int(unanimous.sum()), count.size, confidence) if count.max() > 1 else None
    right = kappa = false_accept = false_reject = None
    if good is not None:
        truth = good[row]
        hits = np.bincount(member, passed == truth) == count
        right = binomial_interval(int(hits.sum()), count.size, confidence)
        kappa = cohen_kappa(passed, truth, confidence)
        false_accept, false_reject = _error_rates(passed, truth, confidence)
    return Appraiser(
        operator=name,
        agrees_with_self=with_self,
        agrees_with_reference=right,
        kappa_reference=kappa,
        false_accept=false_accept,
        false_reject=false_reject,
        n=int(passed.size),
    )


def _error_rates(passed: np.ndarray, good: np.ndarray, confidence: float) -> tuple[Interval | None, Interval | None]:
    bad_n, good_n = int(np.sum(~good)), int(np.sum(good))
    accept = binomial_interval(int(np.sum(passed & ~good)), bad_n, confidence) if bad_n else None
    reject = binomial_interval(int(np.sum(~passed & good)), good_n, confidence) if good_n else None
    return accept, reject


def _pair(
    first: str, second: str, passed: np.ndarray, row: np.ndarray, column: np.ndarray, a: int, b: int, confidence: float
) -> OperatorPair:
    """Return the agreement of two operators over repeats matched by piece and turn."""
    keyed = []
    for k in (a, b):
        mine = np.flatnonzero(column == k)
        order = mine[np.argsort(row[mine], kind="stable")]
        pieces = row[order]
        starts = np.concatenate([[0], np.flatnonzero(np.diff(pieces)) + 1])
        turn = np.arange(order.size) - np.repeat(starts, np.diff([*starts.tolist(), order.size]))
        keyed.append({(int(p), int(t)): bool(passed[i]) for p, t, i in zip(pieces, turn, order)})
    shared = sorted(set(keyed[0]) & set(keyed[1]))
    if not shared:
        raise NotEnoughData(f"{first} and {second} judged no piece in common; let both judge the same pieces")
    x = np.array([keyed[0][key] for key in shared])
    y = np.array([keyed[1][key] for key in shared])
    return OperatorPair(
        first=first,
        second=second,
        agreement=binomial_interval(int(np.sum(x == y)), x.size, confidence),
        kappa=cohen_kappa(x, y, confidence),
        n=x.size,
    )


def _pair_kappa(pair: OperatorPair) -> float:
    return math.inf if pair.kappa is None else pair.kappa.estimate


def _share(interval: Interval) -> str:
    return f"{interval.estimate:.1%} (between {interval.low:.1%} and {interval.high:.1%})".replace("%", " %")
