"""Both sides of a fit sorted into trays, with what the gauge leaves open in the chances."""

from __future__ import annotations

from typing import Any

import numpy as np

from tracker.errors import NotEnoughData, TrackerError
from tracker.fit import Classes, classes
from tracker.judge.answers import Check, FitCheck
from tracker.judge.words import plain_name


def sorted_into(number: int, internal: Any, external: Any, lower: Any, upper: Any, **how: Any) -> Classes:
    """Return both sides in so many trays; arguments as `tracker.fit.classes` takes them.

    Raises
    ------
    TrackerError
        If these sizes do not fill so many trays, in the words of the shop.
    """
    try:
        return classes(internal, external, lower, upper, number, **how)
    except TrackerError as error:
        raise type(error)(str(error).removeprefix("count: ").replace("classes", "trays")) from error


def trays_of(answer: Check, fit: FitCheck, number: int, method: str) -> Classes:
    """Return the pieces of a fit in so many trays a side.

    Raises
    ------
    NotEnoughData
        If a side has no readings.
    TrackerError
        As `sorted_into`.
    """
    inner, outer = answer.feature(fit.internal), answer.feature(fit.external)
    a, b = inner.sizes, outer.sizes
    if a is None or b is None:
        lacks = inner if a is None else outer
        why = lacks.reasons["sizes"] if lacks.one_sided else f"{plain_name(lacks.name)} has no readings"
        raise NotEnoughData(f"{why}; trays need both sides measured")
    return sorted_into(
        number,
        a.size,
        b.size,
        fit.gap_lower,
        fit.gap_upper,
        method=method,
        step=min(inner.step, outer.step),
        uncertainty=(a.uncertainty, b.uncertainty),
        common_uncertainty=float(np.hypot(a.common_uncertainty, b.common_uncertainty)),
    )
