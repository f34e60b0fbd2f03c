"""Results in a notebook: drawn by the very functions that draw the pages.

A `tracker.judge.Check` shows its first picture by itself, found through the entry point ``tenthwise.drawings``; every
other picture is asked for by name with `draw`.
"""

from __future__ import annotations

from dashboard.figures.drawing import Drawing
from dashboard.figures.leave_alone import leave_alone
from dashboard.figures.next_twenty import next_twenty
from dashboard.figures.numbers import Numbers
from dashboard.figures.pieces import pieces
from dashboard.figures.shares import shares
from dashboard.figures.tape import tape
from dashboard.figures.two_batches import two_batches
from dashboard.parts.pictures import ahead_of, signals_of
from tracker.errors import NotEnoughData, TrackerError
from tracker.judge import Check, FeatureCheck, plain_name

OF_FIT = ("batches",)
OF_FEATURE = ("pieces", "tape", "shares", "next-twenty", "leave-alone")
WIDTH = 900.0


def draw(check: Check, picture: str = "", *, fit: str = "", feature: str = "", width: float = WIDTH) -> Drawing:
    """Return a picture of a judged job; a notebook shows it, and its ``svg("light")`` is a file that stands by itself.

    Parameters
    ----------
    check : Check
    picture : str
        ``batches`` of a fit; ``pieces``, ``tape``, ``shares``, ``next-twenty`` or ``leave-alone`` of a feature. When
        not given: ``batches`` where there is a fit, else ``pieces``.
    fit, feature : str
        What it is about; the first measured one when not named.
    width : float
        In pixels.

    Raises
    ------
    NotEnoughData
        If what the picture is of is not measured, or could not be computed.
    TrackerError
        If there is no such picture, fit or feature.
    """
    name = picture or ("batches" if check.fits and not feature else "pieces")
    if name in OF_FIT:
        return _batches(check, fit, width)
    if name not in OF_FEATURE:
        raise TrackerError(f"there is no picture {name!r}; there are: {', '.join((*OF_FIT, *OF_FEATURE))}")
    found = _feature(check, feature)
    numbers = Numbers(check.unit, found.step)
    if name == "pieces":
        return pieces(found, {}, numbers, width, ahead=ahead_of(found))
    if name == "tape":
        return tape(found, numbers, width, signals=signals_of(found))
    if name == "shares":
        if found.components is None:
            raise NotEnoughData(found.reasons.get("components", f"{plain_name(found.name)} has no components"))
        return shares(found, numbers, width)
    if found.shift is None:
        raise NotEnoughData(found.reasons.get("shift", f"{plain_name(found.name)} has no next cut"))
    if name == "next-twenty":
        return next_twenty(found, found.shift, found.lower, found.upper, numbers, width)
    return leave_alone([(plain_name(found.name), found.shift)], numbers, width)


def svg_of(check: Check) -> str | None:
    """Return the first picture of a judged job as SVG; None where nothing is measured."""
    try:
        return draw(check).svg("light")
    except NotEnoughData:
        return None


def _batches(check: Check, fit: str, width: float) -> Drawing:
    found = next((item for item in check.fits if fit in ("", item.name)), None)
    if found is None:
        raise TrackerError(
            f"there is no fit {fit!r}; there are: {', '.join(item.name for item in check.fits) or 'none'}"
        )
    inner, outer = check.feature(found.internal), check.feature(found.external)
    if inner.sizes is None and outer.sizes is None:
        raise NotEnoughData(f"neither side of {plain_name(found.name)} is measured")
    return two_batches(found, inner, outer, Numbers(check.unit, min(inner.step, outer.step)), width)


def _feature(check: Check, feature: str) -> FeatureCheck:
    named = [item for item in check.features if feature in ("", item.name)]
    if not named:
        known = ", ".join(item.name for item in check.features)
        raise TrackerError(f"there is no feature {feature!r}; there are: {known or 'none'}")
    found = next((item for item in named if item.sizes is not None), None)
    if found is None:
        raise NotEnoughData(f"{plain_name(named[0].name)} is not measured")
    return found
