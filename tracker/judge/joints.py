"""The joint behind a fit: its press and its seat, from what the job states and from the measured gaps."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from tracker.errors import JobError
from tracker.units import parse_length

if TYPE_CHECKING:
    import numpy as np
    import numpy.typing as npt

    from tracker.fit.press_results import PressFit
    from tracker.fit.seating import Seat
    from tracker.job import Fit, Job

_PRESS_LENGTHS = ("length", "outer", "inner", "inner_rz", "outer_rz", "assembly_clearance")
_PRESS_OTHERS = (
    "friction",
    "friction_holding",
    "inner_material",
    "outer_material",
    "inner_modulus",
    "outer_modulus",
    "inner_poisson",
    "outer_poisson",
    "inner_expansion",
    "outer_expansion",
    "inner_yield",
    "outer_yield",
    "ambient",
    "service_temperature",
    "shape",
    "reserve",
)
FRICTION = (0.08, 0.16)
"""Pressing steel into steel, dry to lightly oiled (common practice, no source): the usual scatter about 0.12."""

_SEAT_LENGTHS = ("fillet", "relief", "gap", "allowed", "feeler")
_SEAT_OTHERS = ("relief_kind", "angle", "in_plan")


def press_of(job: Job, fit: Fit, gaps: npt.NDArray[np.float64], **changed: Any) -> PressFit:
    """Return the press fit of measured pairs.

    Parameters
    ----------
    job, fit : Job, Fit
        ``fit.press`` states the joint: ``length`` at least; see `tracker.fit.pressing.press_fit` for all keys. The
        *inner* part is the external feature's (the plug), the *outer* one the internal feature's (the part with the
        bore); their materials come from the features, and the friction is `FRICTION`, unless stated.
    gaps : array, shape (pairs,)
        Internal minus external size of each pair, in the job's unit.
    **changed
        Values in place of the job's.

    Returns
    -------
    PressFit
        Elastic figures throughout; ``elastic`` and the cautions say where a part would yield.

    Raises
    ------
    JobError
        If the job does not state the joint, or states what is not known.
    OutsideModel
        If the model does not cover it.
    """
    from tracker.fit.pressing import press_fit

    stated = _stated(job, fit, "press", fit.press, _PRESS_LENGTHS, _PRESS_OTHERS, changed)
    if "length" not in stated:
        raise JobError(
            f"[fits.{fit.name}] states no press; accepted is press = {{ length = 0.375, outer = 2.0 }}: how long the"
            " joint is, and the outside of the part with the bore (a thick plate when left out)"
        )
    stated.setdefault("friction", FRICTION)
    for key, feature in (("inner_material", fit.external), ("outer_material", fit.internal)):
        made_of = job.features[feature].material
        if made_of is not None:
            stated.setdefault(key, made_of)
    return press_fit(
        job.features[fit.internal].nominal,
        stated.pop("length"),
        -gaps,
        units=job.unit,
        beyond_yield="mark",
        **stated,
    )


def seat_of(job: Job, fit: Fit, **changed: Any) -> Seat:
    """Return whether the shoulder (with ``in_plan = true`` the corner) of a fit goes home.

    Parameters
    ----------
    job, fit : Job, Fit
        ``fit.seat`` states ``fillet`` and ``relief``; see `tracker.fit.seating.seat` for all keys. The gap counts as 0
        unless stated: a part may lie against one side.
    **changed
        Values in place of the job's.

    Returns
    -------
    Seat

    Raises
    ------
    JobError
        If the job does not state the seat, or states what is not known.
    OutsideModel
        If the geometry is not covered.
    """
    from tracker.fit.seating import corner_seat, seat

    stated = _stated(job, fit, "seat", fit.seat, _SEAT_LENGTHS, _SEAT_OTHERS, changed)
    missing = [key for key in ("fillet", "relief") if key not in stated]
    if missing:
        raise JobError(
            f"[fits.{fit.name}] states no {' and no '.join(missing)} for its seat; accepted is"
            " seat = { fillet = 0.012, relief = 0.020 }"
        )
    ask = corner_seat if stated.pop("in_plan", False) else seat
    return ask(stated.pop("fillet"), stated.pop("relief"), unit=job.unit, **stated)


def _stated(
    job: Job,
    fit: Fit,
    what: str,
    table: Mapping[str, Any],
    lengths: tuple[str, ...],
    others: tuple[str, ...],
    changed: Mapping[str, Any],
) -> dict[str, Any]:
    """Return the job's table with what was changed, lengths as numbers in the job's unit."""
    found: dict[str, Any] = {}
    for key, value in {**table, **{key: item for key, item in changed.items() if item is not None}}.items():
        if key not in (*lengths, *others):
            known = ", ".join((*lengths, *others))
            raise JobError(f"[fits.{fit.name}] {what} has {key!r}, which is not known; known there: {known}")
        several = isinstance(value, list | tuple)
        read = [_read(item, key in lengths, job.unit) for item in (value if several else (value,))]
        found[key] = tuple(read) if several else read[0]
    return found


def _read(value: Any, is_length: bool, unit: str) -> Any:
    return parse_length(value, unit) if is_length and value is not None else value
