"""A closure put together: which measured pieces of its terms go with which, by the names they have."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from tracker.fit.assemblies import Assemblies, assemblies
from tracker.fit.checks import limits_of
from tracker.job import Job
from tracker.judge.answers import Check, ClosureCheck
from tracker.plurals import noun
from tracker.result import Result

COVERAGE = 1.96


@dataclass(frozen=True, slots=True, kw_only=True)
class Term(Result):
    """One term: its factor, and its measured pieces."""

    name: str
    factor: float
    pieces: tuple[str, ...]
    sizes: npt.NDArray[np.float64]

    def __str__(self) -> str:
        return f"{self.factor:g} times {self.name}, {len(self.pieces)} {noun(len(self.pieces), 'piece')}"


@dataclass(frozen=True, slots=True, kw_only=True)
class PutTogether(Result):
    """The pieces of a closure put together.

    Attributes
    ----------
    terms : tuple of Term
    pieces : int array, shape (assemblies, terms)
        Which piece of each term, counted from 0.
    found : Assemblies
        Its terms are those that are chosen freely: features of one part come together.
    left_over : tuple of tuple of str
        Names of the pieces that are in no assembly, a term.
    reach : float
        Half the 95 % interval of one sum, from the gauge alone.
    """

    terms: tuple[Term, ...]
    pieces: npt.NDArray[np.int64]
    found: Assemblies
    left_over: tuple[tuple[str, ...], ...]
    reach: float

    def __str__(self) -> str:
        return str(self.found)


def put_together(job: Job, check: Check, closure: ClosureCheck) -> PutTogether | None:
    """Return which pieces to put together for one closure; None where a term is not measured or no limit is stated.

    Notes
    -----
    Terms whose features state the same ``part`` are measured on the same pieces: those of one name stay together, and
    a piece that lacks one of them is left over. Terms on two parts are put together as the closure is paired, with all
    else that those pairs must meet; terms on three parts or more as `check` puts them together.

    Raises
    ------
    TrackerError
        As `assemblies`.
    """
    stated = job.closures[closure.name].terms
    terms, doubt = [], 0.0
    for name, factor in stated.items():
        sizes = check.feature(name).sizes
        if sizes is None:
            return None
        terms.append(Term(name=name, factor=factor, pieces=sizes.piece, sizes=np.asarray(sizes.size, dtype=float)))
        noise = float(np.sqrt(np.mean(np.square(sizes.uncertainty))))
        doubt = math.hypot(doubt, factor * noise, factor * sizes.common_uncertainty)
    if closure.lower is None and closure.upper is None:
        return None
    if closure.parts is not None:
        return _as_paired(closure, terms, COVERAGE * doubt)
    if closure.made:
        return _as_made(closure, terms, COVERAGE * doubt)
    groups = _together(job, terms)
    rows = [_rows([terms[index] for index in group]) for group in groups]
    free = [
        (
            1.0,
            np.array(
                [sum(terms[t].factor * terms[t].sizes[p] for t, p in zip(group, row)) for row in own], dtype=float
            ),
        )
        for group, own in zip(groups, rows)
    ]
    found = assemblies(free, closure.lower, closure.upper)
    pieces = np.zeros((len(found.sums), len(terms)), dtype=np.int64)
    for place, (group, own) in enumerate(zip(groups, rows)):
        for column, index in enumerate(group):
            pieces[:, index] = [own[pick][column] for pick in found.picks[:, place].tolist()]
    left = []
    for index, term in enumerate(terms):
        used = set(pieces[:, index].tolist())
        left.append(tuple(name for number, name in enumerate(term.pieces) if number not in used))
    return PutTogether(terms=tuple(terms), pieces=pieces, found=found, left_over=tuple(left), reach=COVERAGE * doubt)


def _as_paired(closure: ClosureCheck, terms: list[Term], reach: float) -> PutTogether:
    """Return the pairs of a closure between two parts, who goes with whom settled already."""
    assert closure.parts is not None
    inner, _ = closure.parts
    places = [{name: index for index, name in enumerate(term.pieces)} for term in terms]
    pieces = np.array(
        [
            [
                place[pair.internal if term.name in inner else pair.external]
                for term, place in zip(terms, places, strict=True)
            ]
            for pair in closure.pairs
        ],
        dtype=np.int64,
    ).reshape(len(closure.pairs), len(terms))
    found = _settled(
        closure,
        pieces,
        [pair.total for pair in closure.pairs],
        [pair.margin for pair in closure.pairs],
        len(closure.pairs),
        "as paired" if closure.assembly is None else "as paired, with all else that the pairs must meet",
    )
    return PutTogether(terms=tuple(terms), pieces=pieces, found=found, left_over=_not_in(pieces, terms), reach=reach)


def _as_made(closure: ClosureCheck, terms: list[Term], reach: float) -> PutTogether:
    """Return the pieces of three parts or more as the closure was judged with them, those within limits first."""
    places = [{name: index for index, name in enumerate(term.pieces)} for term in terms]
    pieces = np.array(
        [[place[row.pieces[term.name]] for term, place in zip(terms, places, strict=True)] for row in closure.made],
        dtype=np.int64,
    )
    found = _settled(
        closure,
        pieces,
        [row.total for row in closure.made],
        [row.margin for row in closure.made],
        sum(row.within for row in closure.made),
        closure.made_how,
    )
    return PutTogether(terms=tuple(terms), pieces=pieces, found=found, left_over=_not_in(pieces, terms), reach=reach)


def _settled(
    closure: ClosureCheck,
    picks: npt.NDArray[np.int64],
    sums: list[float],
    margins: list[float],
    good: int,
    method: str,
) -> Assemblies:
    low, high = limits_of(closure.lower, closure.upper)
    return Assemblies(
        picks=picks,
        sums=np.array(sums, dtype=float),
        margins=np.array(margins, dtype=float),
        good=good,
        most=good,
        lower=low,
        upper=high,
        terms=picks.shape[1],
        method=method,
    )


def _not_in(pieces: npt.NDArray[np.int64], terms: list[Term]) -> tuple[tuple[str, ...], ...]:
    """Return the names of the pieces of each term that are in no row."""
    return tuple(
        tuple(name for number, name in enumerate(term.pieces) if number not in set(pieces[:, column].tolist()))
        for column, term in enumerate(terms)
    )


def _together(job: Job, terms: list[Term]) -> list[list[int]]:
    """Return which terms come together because they are measured on one part."""
    groups: list[list[int]] = []
    parts: dict[str, list[int]] = {}
    for index, term in enumerate(terms):
        part = job.features[term.name].part
        if part and part in parts:
            parts[part].append(index)
            continue
        groups.append([index])
        if part:
            parts[part] = groups[-1]
    return groups


def _rows(terms: list[Term]) -> list[tuple[int, ...]]:
    """Return the pieces that all of these terms have, as their places in each."""
    if len(terms) == 1:
        return [(place,) for place in range(len(terms[0].pieces))]
    places = [{name: place for place, name in enumerate(term.pieces)} for term in terms]
    common = [name for name in terms[0].pieces if all(name in own for own in places)]
    return [tuple(own[name] for own in places) for name in common]
