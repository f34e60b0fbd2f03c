"""Resolution: what one step of a gauge costs against a tolerance and against a spread."""

from __future__ import annotations

import math
from dataclasses import dataclass

from tracker.errors import TrackerError
from tracker.result import Result
from tracker.spread.arguments import finite_number

ONE_IN_TEN = 10.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Resolution(Result):
    """What a step costs.

    Attributes
    ----------
    step : float
        Smallest difference the gauge shows.
    uncertainty : float
        Standard uncertainty from it: step / sqrt(12).
    share_of_tolerance : float or None
        Step over tolerance.
    guarded_share : float or None
        Part of the tolerance that guard bands at 95 % on both sides would take for the step alone.
    steps_in_spread : float or None
        Steps within 6 sd of the pieces.
    inflation : float or None
        How much larger than the true sd the sd of rounded readings is (0.02: two per cent).
    fine_enough : bool or None
        Step at most a tenth of the tolerance and at most half an sd, as far as these are given.
    words : str
    """

    step: float
    uncertainty: float
    share_of_tolerance: float | None
    guarded_share: float | None
    steps_in_spread: float | None
    inflation: float | None
    fine_enough: bool | None
    words: str
    n: int | None = None
    method: str = "rounding error taken as uniform over one step"

    def __str__(self) -> str:
        """Say what the step costs."""
        return self.words


def resolution_check(
    step: float, tolerance: float | None = None, sd: float | None = None, *, called: str = "the tolerance"
) -> Resolution:
    """Return what one step of a gauge costs.

    Parameters
    ----------
    step : float
        Smallest difference the gauge shows.
    tolerance : float, optional
        Width between the limits, same unit.
    sd : float, optional
        Sd of piece sizes (gauge noise in it), same unit.
    called : str
        What the tolerance is called in the words.

    Returns
    -------
    Resolution

    Raises
    ------
    TrackerError
        When one of them is not positive.

    Notes
    -----
    "A tenth of the tolerance" is common practice, no source. Above a step of about 2 sd rounded readings can all be
    equal and the sd is unknown; above half an sd rounded sizes are better fitted as intervals (`interval_fit`).
    The variance of rounded normal sizes is sd**2 + step**2 / 12 (Sheppard), good up to a step of about 2 sd.

    References
    ----------
    JCGM 100:2008 (GUM), F.2.2.1 (from memory). Test: tests/tracker/gauge/test_steps.py (simulation).

    Examples
    --------
    >>> print(resolution_check(0.0001, tolerance=0.0006))
    One step is 17 % of the tolerance, more than a tenth: take a finer gauge. Guard bands for the step alone would
    take 15 % of it.
    """
    for name, value in (("step", step), ("tolerance", tolerance), ("sd", sd)):
        if (name == "step" or value is not None) and not finite_number(value, name) > 0:
            raise TrackerError(f"{name} is {value!r}; give a length above 0")
    u = step / math.sqrt(12)
    # 95 % one-sided for a uniform error: nine tenths of half a step.
    guarded = None if tolerance is None else 2 * 0.9 * step / 2 / tolerance
    of_tolerance = None if tolerance is None else step / tolerance
    fine = [share <= 1 / ONE_IN_TEN + 1e-12 for share in (of_tolerance,) if share is not None]
    parts = []
    if of_tolerance is not None and guarded is not None:
        enough = "a tenth at most: fine enough" if fine[0] else "more than a tenth: take a finer gauge"
        parts.append(f"One step is {100 * of_tolerance:.0f} % of {called}, {enough}.")
        parts.append(f"Guard bands for the step alone would take {100 * guarded:.0f} % of it.")
    inflation = None
    if sd is not None:
        inflation = math.hypot(sd, u) / sd - 1
        fine.append(step <= sd / 2)
        told = "fine enough" if fine[-1] else "a gauge with a step of half that sd or less would show it better"
        parts.append(
            f"Six sd of the pieces are {6 * sd / step:.1f} steps: rounding makes the sd look "
            f"{100 * inflation:.1f} % larger; {told}."
        )
    if not parts:
        parts.append(f"One step of {step:g} brings a standard uncertainty of {u:.3g}.")
    return Resolution(
        step=float(step),
        uncertainty=u,
        share_of_tolerance=of_tolerance,
        guarded_share=guarded,
        steps_in_spread=None if sd is None else 6 * sd / step,
        inflation=inflation,
        fine_enough=all(fine) if fine else None,
        words=" ".join(parts),
    )
