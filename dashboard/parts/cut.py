"""Which cut the Next cut page is about: the part that suits the other batch of a fit, or a feature by itself."""

from __future__ import annotations

from dataclasses import dataclass

from dashboard.parts.address import Address
from dashboard.parts.answers import Answer
from tracker.decide import Shift
from tracker.job import Feature
from tracker.judge import FeatureCheck, FitCheck
from tracker.judge.cuts import size_limits


@dataclass(frozen=True, slots=True, kw_only=True)
class Cut:
    """A next cut with what it is held against.

    Attributes
    ----------
    found : FeatureCheck
        The part to be cut.
    fit : FitCheck or None
        The fit it is cut to suit; None when it is cut to its own target.
    shift : Shift or None
    lower, upper : float or None
        Limits of size: those the measured mates leave it, or its own.
    """

    found: FeatureCheck
    fit: FitCheck | None
    shift: Shift | None
    lower: float | None
    upper: float | None


def cut_of(answer: Answer, address: Address) -> Cut | None:
    """Return the cut that an address is about; None when the job has no feature."""
    found = answer.feature(address.feature)
    if found is None:
        return None
    fits = [fit for fit in answer.check.fits if fit.cut_next == found.name]
    fit = next((item for item in fits if item.name == address.fit), next(iter(fits), None))
    mate = None
    if fit is not None:
        other = fit.internal if found.name == fit.external else fit.external
        mate = answer.check.feature(other).sizes
    if fit is None or fit.shift is None or mate is None:
        return Cut(found=found, fit=None, shift=found.shift, lower=found.lower, upper=found.upper)
    lower, upper = size_limits(fit, float(mate.size.mean()), found.name)
    return Cut(found=found, fit=fit, shift=fit.shift, lower=lower, upper=upper)


def entered_on(feature: Feature) -> str:
    """Return what the machine's offset is counted on: a diameter or a radius; of a length the length itself."""
    return "length" if feature.kind == "length" else feature.machine.offset_on
