"""Groups of batches: by part, machine, tool, operator, month."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from tracker.history.cells import codes_of
from tracker.history.flags import Flags
from tracker.history.series import Series
from tracker.plurals import noun
from tracker.result import Result
from tracker.spread.many import BatchCapabilities

WAYS_TO_GROUP = ("part", "feature", "machine", "tool", "operator", "gauge", "month", "job")
SPLITS = ("operator", "gauge")
"""What is told of each reading; batches are told apart by it before they are grouped."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Group(Result):
    """What the batches of one part, machine, tool, operator, gauge, month or job have in common.

    Attributes
    ----------
    value : str
    unit : str
        Lengths are in it; what is measured in another unit makes a group of its own.
    batches, pieces, readings : int
    bias : float
        Mean of size minus target over all pieces.
    sd_within : float or None
        Pooled sd of pieces within their batches; None with no two pieces in a batch.
    worst_ppk : float or None
    worst_batch : int or None
        The batch with the least Ppk.
    beyond : float or None
        Mean expected share of pieces outside their limits, over the batches whose capability is known.
    drifting : int
        Batches with a flag of drift.
    drifting_since : str or None
        When the first of them was begun.
    repeatability_sd : float or None
    """

    value: str
    unit: str
    batches: int
    pieces: int
    readings: int
    bias: float
    sd_within: float | None
    worst_ppk: float | None
    worst_batch: int | None
    beyond: float | None
    drifting: int
    drifting_since: str | None
    repeatability_sd: float | None

    def __str__(self) -> str:
        many = (
            f"{self.batches:,} {noun(self.batches, 'batch', 'batches')}, {self.pieces:,} {noun(self.pieces, 'piece')}"
        )
        words = f"{self.value}: {many}, bias {self.bias:+.6g} {self.unit}"
        if self.sd_within is not None:
            words += f", sd {self.sd_within:.4g}"
        if self.worst_ppk is not None:
            words += f", worst Ppk {self.worst_ppk:.2f} (batch {self.worst_batch})"
        since = f" since {self.drifting_since[:10]}" if self.drifting_since else ""
        return f"{words}; {self.drifting:,} flagged for drift{since}"


def group_batches(
    series: Series,
    about: dict[str, np.ndarray],
    capable: BatchCapabilities,
    flags: Flags,
    by: str,
    split_name: tuple[str, ...] = (),
) -> tuple[Group, ...]:
    """Return the groups of some series, by value and unit.

    Parameters
    ----------
    series, capable, flags
        One entry a series.
    about : dict of ndarray
        Columns of the table of batches.
    by : str
        One of `WAYS_TO_GROUP`.
    split_name : tuple of str
        For operator and gauge: whose each series is.
    """
    words = np.array(split_name, dtype=object) if by in SPLITS else _as_words(about[by])[series.batch]
    unit = about["unit"][series.batch]
    of_unit = codes_of(unit)
    number = codes_of(words) * (int(of_unit.max(initial=0)) + 1) + of_unit
    found = []
    order = np.argsort(number, kind="stable")
    cuts = np.flatnonzero(np.diff(number[order])) + 1
    for members in np.split(order, cuts):
        if members.size:
            first = members[0]
            found.append(
                _group(str(words[first]) or "not said", str(unit[first]), members, series, about, capable, flags)
            )
    return tuple(found)


def _as_words(column: np.ndarray) -> np.ndarray:
    return column if column.dtype == object else column.astype(str).astype(object)


def _group(
    value: str,
    unit: str,
    at: np.ndarray,
    series: Series,
    about: dict[str, np.ndarray],
    capable: BatchCapabilities,
    flags: Flags,
) -> Group:
    n, batch = series.sizes.n[at], series.batch[at]
    aim = about["target"][batch] - about["nominal"][batch]
    bias = series.sizes.mean[at] - np.where(np.isnan(aim), 0.0, aim)
    dof, noise_dof = int(np.maximum(n - 1, 0).sum()), int(series.noise_dof[at].sum())
    able = at[capable.known[at]]
    worst = int(able[np.argmin(capable.ppk[able])]) if able.size else None
    drifting = at[flags.any[at]]
    beyond = capable.beyond_lower[able] + capable.beyond_upper[able]
    return Group(
        value=value,
        unit=unit,
        batches=int(np.unique(batch).size),
        pieces=int(n.sum()),
        readings=int(series.readings[at].sum()),
        bias=float((n * bias).sum() / n.sum()),
        sd_within=float(np.sqrt(series.sizes.ss[at].sum() / dof)) if dof else None,
        worst_ppk=None if worst is None else float(capable.ppk[worst]),
        worst_batch=None if worst is None else int(series.batch[worst]),
        beyond=float(beyond.mean()) if able.size else None,
        drifting=int(drifting.size),
        drifting_since=min(about["begun"][series.batch[drifting]].tolist()) if drifting.size else None,
        repeatability_sd=float(np.sqrt(series.noise_ss[at].sum() / noise_dof)) if noise_dof else None,
    )
