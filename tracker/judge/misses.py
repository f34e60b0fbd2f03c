"""What a piece on the wrong side of a limit costs, as the job states it or as rework and remake make it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from tracker.decide.prices import REMAKE

if TYPE_CHECKING:
    from tracker.job import Feature, Job


@dataclass(frozen=True, slots=True)
class Misses:
    """What a piece under its lower and over its upper limit costs.

    ``again`` says that these are the costs of cutting it once more: what is cut once more may miss once more.
    """

    under: float
    over: float
    again: bool = False

    @property
    def leans(self) -> str:
        """To which side a target that weighs both leans: ``larger``, ``smaller`` or, where they cost alike, none."""
        if self.under == self.over:
            return ""
        return "larger" if self.under > self.over else "smaller"


def misses_of(job: Job, feature: Feature) -> Misses:
    """Return what misses of a feature cost.

    As ``too_tight`` and ``too_loose`` state it, one against 1 for the other; else rework where material is left and
    remake where none is; alike on both sides unless the job states both costs for this feature. A length has no tight
    side.
    """
    costs = job.costs
    if feature.kind == "length":
        alike = _alike(job, feature)
        return Misses(alike, alike)
    outer = feature.kind == "external"
    if costs.too_tight is not None or costs.too_loose is not None:
        tight, loose = costs.too_tight or 1.0, costs.too_loose or 1.0
        return Misses(loose, tight) if outer else Misses(tight, loose)
    rework, remake = costs.rework.get(feature.name), costs.remake.get(feature.name)
    if rework and remake:
        return Misses(remake, rework, True) if outer else Misses(rework, remake, True)
    alike = _alike(job, feature)
    return Misses(alike, alike)


def _alike(job: Job, feature: Feature) -> float:
    stated = job.costs.remake.get(feature.name) or job.costs.rework.get(feature.name)
    return stated or (1.0 if job.costs.touch is None else REMAKE)
