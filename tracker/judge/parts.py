"""Which measured features are dimensions of the same pieces, and which fits and closures those pieces must meet."""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from tracker.decide.words import listed
from tracker.judge.words import plain_name

if TYPE_CHECKING:
    import pandas as pd

    from tracker.job import Job


@dataclass(frozen=True, slots=True, kw_only=True)
class Parts:
    """Which part each feature is a dimension of (a key of its own where it stands alone), and what is not known."""

    of: Mapping[str, str]
    remarks: tuple[str, ...]

    def sides(self, terms: Iterable[str]) -> frozenset[str]:
        """Return the parts that these features belong to."""
        return frozenset(self.of[name] for name in terms)


@dataclass(frozen=True, slots=True, kw_only=True)
class Demand:
    """A fit or a closure as a gap: the weighted sum over the inner part less that over the outer part, with limits.

    ``label`` tells it from the others of its assembly, a fit and a closure of one name too.
    """

    name: str
    is_fit: bool
    label: str
    inner: Mapping[str, float]
    outer: Mapping[str, float]
    lower: float | None
    upper: float | None
    target: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Assembly:
    """Two parts, a piece of each, and every fit and closure that such a pair must meet."""

    demands: tuple[Demand, ...]

    @property
    def name(self) -> str:
        """The names of its fits and closures."""
        return listed(plain_name(demand.label) for demand in self.demands)

    def features(self, side: str) -> tuple[str, ...]:
        """Return the features of a side (``inner`` or ``outer``), each once."""
        return tuple(dict.fromkeys(name for demand in self.demands for name in getattr(demand, side)))


def parts_of(job: Job, frame: pd.DataFrame) -> Parts:
    """Return which features of the fits and closures are dimensions of the same pieces.

    Parameters
    ----------
    job : Job
        Features with the same ``part`` belong together; that always counts.
    frame : pandas.DataFrame
        Readings that count. Where the job is silent, features of one file with the same piece labels belong together,
        and so do features whose labels match those of one side of a fit and not the other. The two sides of a fit
        never do.

    Returns
    -------
    Parts
        ``remarks`` name fits and closures whose pieces may be those of another, when nothing tells which.
    """
    used = list(
        dict.fromkeys(
            [name for fit in job.fits.values() for name in (fit.internal, fit.external)]
            + [name for terms in job.closures.values() for name in terms.terms]
        )
    )
    against = {frozenset((fit.internal, fit.external)) for fit in job.fits.values()}
    labels, files = _seen(frame, used)
    groups = _Groups(used, against)
    remarks = _by_statement(job, used, groups)
    _by_file(job, used, labels, files, groups)
    unsure = _by_labels(job, used, labels, groups)
    return Parts(of={name: groups.key(name) for name in used}, remarks=(*remarks, *_said(job, unsure)))


class _Groups:
    """Features put together, never the two sides of one fit."""

    def __init__(self, names: Sequence[str], against: set[frozenset[str]]) -> None:
        self._of = {name: {name} for name in names}
        self._against = against

    def members(self, name: str) -> set[str]:
        return self._of[name]

    def key(self, name: str) -> str:
        return min(self._of[name])

    def may_join(self, names: Iterable[str]) -> bool:
        merged = set().union(*(self._of[name] for name in names))
        return not any(pair <= merged for pair in self._against)

    def join(self, names: Iterable[str]) -> bool:
        """Put these together unless that would join the two sides of a fit; return whether it was done."""
        listed_names = list(names)
        if not self.may_join(listed_names):
            return False
        merged = set().union(*(self._of[name] for name in listed_names))
        for name in merged:
            self._of[name] = merged
        return True


def _seen(frame: pd.DataFrame, used: Sequence[str]) -> tuple[dict[str, frozenset[str]], dict[str, frozenset[str]]]:
    """Return the piece labels and the files of each feature."""
    labels = dict.fromkeys(used, frozenset[str]())
    files = dict.fromkeys(used, frozenset[str]())
    for name, rows in frame.groupby("feature", sort=False):
        if name in labels:
            labels[str(name)] = frozenset(rows["piece"].unique())
            files[str(name)] = frozenset(rows["file"].unique()) - {""}
    return labels, files


def _by_statement(job: Job, used: Sequence[str], groups: _Groups) -> list[str]:
    remarks = []
    by_part: dict[str, list[str]] = {}
    for name in used:
        if job.features[name].part:
            by_part.setdefault(job.features[name].part, []).append(name)
    for part, names in by_part.items():
        if not groups.join(names):
            remarks.append(
                f"{listed([plain_name(name) for name in names])} all have part = {part!r}, and two of them are the two"
                " sides of a fit; each counts as a part of its own here"
            )
    return remarks


def _by_file(
    job: Job,
    used: Sequence[str],
    labels: Mapping[str, frozenset[str]],
    files: Mapping[str, frozenset[str]],
    groups: _Groups,
) -> None:
    for file in dict.fromkeys(one for name in used for one in sorted(files[name])):
        names = [name for name in used if files[name] == {file}]
        stated = {job.features[name].part for name in names} - {""}
        alike = all(_alike(labels[one], labels[other]) for one, other in itertools.combinations(names, 2))
        if len(names) > 1 and len(stated) < 2 and alike:
            groups.join(names)


def _by_labels(
    job: Job, used: Sequence[str], labels: Mapping[str, frozenset[str]], groups: _Groups
) -> list[tuple[str, tuple[str, ...]]]:
    """Join lone features to the one side of a fit whose labels they share; return those that share several."""
    sides = [name for fit in job.fits.values() for name in (fit.internal, fit.external)]
    unsure = []
    for name in used:
        if len(groups.members(name)) > 1 or job.features[name].part or not labels[name]:
            continue
        near = {
            groups.key(side): side
            for side in sides
            if side not in groups.members(name) and labels[side] and _alike(labels[name], labels[side])
        }
        able = {key: side for key, side in near.items() if groups.may_join((name, side))}
        if len(near) == 1 and able:
            groups.join((name, *able.values()))
        elif len(able) > 1:
            unsure.append((name, tuple(able.values())))
    return unsure


def _alike(one: frozenset[str], other: frozenset[str]) -> bool:
    return bool(one and other) and (one <= other or other <= one)


def _said(job: Job, unsure: Sequence[tuple[str, tuple[str, ...]]]) -> list[str]:
    """Return one remark for each fit or closure with a feature that may be a dimension of several parts."""
    may_be = dict(unsure)
    remarks = []
    for name, terms in [
        *((fit.name, (fit.internal, fit.external)) for fit in job.fits.values()),
        *((item.name, tuple(item.terms)) for item in job.closures.values()),
    ]:
        own = [term for term in terms if term in may_be]
        others = dict.fromkeys(side for term in own for side in may_be[term] if side not in terms)
        if own and others:
            remarks.append(
                f"{plain_name(name)} is judged by itself: whether {listed([plain_name(term) for term in own])}"
                f" {'belongs' if len(own) == 1 else 'belong'} to the pieces of"
                f" {listed([plain_name(side) for side in others])} is not known; give features of one part the same"
                ' part in job.toml (part = "rest button"), and their fits and closures are judged together'
            )
    return remarks


def assemblies_of(job: Job, parts: Parts, measured: Iterable[str]) -> tuple[Assembly, ...]:
    """Return the pairs of parts that meet, each with every measured fit and closure on the two of them.

    A closure whose terms lie on one part alone holds or fails piece by piece; it goes with every assembly of that
    part. Fits and closures with a term that is not measured, or on three parts and more, are in none.
    """
    seen = set(measured)
    stated = [
        *(
            _Stated(fit.name, True, {fit.internal: 1.0, fit.external: -1.0}, fit.gap_lower, fit.gap_upper, fit.target)
            for fit in job.fits.values()
        ),
        *(_Stated(item.name, False, item.terms, item.lower, item.upper, None) for item in job.closures.values()),
    ]
    known = [item for item in stated if seen.issuperset(item.terms)]
    sides: dict[frozenset[str], list[_Stated]] = {}
    for item in known:
        key = parts.sides(item.terms)
        if len(key) == 2:
            sides.setdefault(key, []).append(item)
    for item in known:
        if len(parts.sides(item.terms)) == 1:
            for key, members in sides.items():
                if parts.sides(item.terms) <= key:
                    members.append(item)
    return tuple(_assembly(parts, members) for members in sides.values())


@dataclass(frozen=True, slots=True)
class _Stated:
    """A fit or a closure as the job states it: a signed sum with limits."""

    name: str
    is_fit: bool
    terms: Mapping[str, float]
    lower: float | None
    upper: float | None
    target: float | None

    @property
    def called(self) -> str:
        return f"{self.name} ({'fit' if self.is_fit else 'closure'})"


def _assembly(parts: Parts, members: Sequence[_Stated]) -> Assembly:
    """Return the assembly; the inner part is that of the first fit's internal feature, or of a closure's first term."""
    inner = parts.of[next(iter(members[0].terms))]
    return Assembly(
        demands=tuple(
            Demand(
                name=item.name,
                is_fit=item.is_fit,
                label=item.name if [other.name for other in members].count(item.name) < 2 else item.called,
                inner={term: factor for term, factor in item.terms.items() if parts.of[term] == inner},
                outer={term: -factor for term, factor in item.terms.items() if parts.of[term] != inner},
                lower=item.lower,
                upper=item.upper,
                target=item.target,
            )
            for item in members
        )
    )
