"""How much interference holds what it must, and how much the parts stand."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from tracker.errors import OutsideModel
from tracker.fit.press_cautions import ALWAYS
from tracker.fit.press_results import MARGIN, at_least, said, up_to
from tracker.fit.pressing import press_fit, roughness_loss
from tracker.given import number
from tracker.result import Result

_TRIAL = 1e-6  # of the diameter: elastic for any material, and everything in the model is in proportion to it


@dataclass(frozen=True, slots=True, kw_only=True)
class InterferenceWindow(Result):
    """The interferences that hold a force (or torque) and keep both parts elastic.

    Attributes
    ----------
    least : float
        Holds what is asked with the lowest friction, roughness taken off.
    most : float
        Takes the first part to its strength, divided by ``margin``.
    possible : bool
        Whether there is any such interference.
    hold : float
        The force along the axis that is held; a torque is turned into it.
    margin : float
        Strength over stress that is kept.
    cautions : tuple of str
    units : mapping
    method : str
    """

    least: float
    most: float
    possible: bool
    hold: float
    margin: float
    cautions: tuple[str, ...]
    units: Mapping[str, str]
    method: str

    def __str__(self) -> str:
        low, high = at_least(self.least, self.units["length"]), up_to(self.most, self.units["length"])
        held = said(self.hold, self.units["force"])
        if self.possible:
            answer = f"Between {low} and {high} of interference holds {held} with a margin of {self.margin:g} or more."
        else:
            answer = (
                f"No interference does both: {low} is needed to hold {held}, and {high} is what the parts stand with a"
                f" margin of {self.margin:g}. Make the joint longer or larger, the wall thicker, or the material"
                " stronger."
            )
        return "\n".join([answer, *(f"  - {caution}" for caution in self.cautions)])


def interference_window(
    diameter: float,
    length: float,
    inner: float = 0.0,
    outer: float = math.inf,
    friction: float | tuple[float, float] = (0.08, 0.16),
    *,
    hold: float | None = None,
    torque: float | None = None,
    margin: float = MARGIN,
    **joint: Any,
) -> InterferenceWindow:
    """Return how much interference a joint needs, and how much it stands.

    Parameters
    ----------
    diameter, length, inner, outer, friction
        As in `tracker.fit.pressing.press_fit`.
    hold, torque : float
        What must be held: a force along the axis or a torque, in the units of the call; with both, their resultant.
    margin : float
        Strength over stress to keep.
    **joint
        Units, materials, roughness and so on, as in `press_fit`.

    Returns
    -------
    InterferenceWindow

    Raises
    ------
    OutsideModel
        If nothing to hold is given, or as `press_fit`.

    Notes
    -----
    Pressure, force and stress are in proportion to the effective interference, so one trial gives both ends.

    References
    ----------
    As `press_fit`; checked against it in tests/tracker/fit/test_press_window.py.

    Examples
    --------
    >>> window = interference_window(50, 40, 0, 80, 0.12, hold=20000)
    >>> round(window.least, 4), round(window.most, 4)
    (0.0207, 0.0751)
    """
    asked = [
        number(value, name, OutsideModel) for name, value in (("hold", hold), ("torque", torque)) if value is not None
    ]
    if not any(asked) or not all(0 <= value < math.inf for value in asked):
        raise OutsideModel(f"there is nothing to hold (force {hold!r}, torque {torque!r}); accepted is one above 0")
    if not 0 < number(margin, "margin", OutsideModel) < math.inf:
        raise OutsideModel(
            f"a margin of {margin!r} is not possible; accepted is a number above 0, {MARGIN:g} as a rule"
        )
    bare = {**joint, "inner_rz": 0.0, "outer_rz": 0.0}
    small = _TRIAL * number(diameter, "diameter", OutsideModel)
    trial = press_fit(diameter, length, small, inner, outer, friction, **bare)
    if not (trial.holding_force > 0 and trial.torque > 0):
        raise OutsideModel(f"a joint of {diameter!r} by {length!r} is too small to compute")
    arm = trial.torque / trial.holding_force
    force = math.hypot(hold or 0.0, (torque or 0.0) / arm)
    loss = roughness_loss(joint.get("inner_rz", 0.0), joint.get("outer_rz", 0.0))
    least = trial.effective_interference * force / trial.ranges["holding_force"].low + loss
    most = trial.at_margin(margin) + loss
    return InterferenceWindow(
        least=least,
        most=most,
        possible=least <= most,
        hold=force,
        margin=margin,
        cautions=ALWAYS,
        units=trial.units,
        method=trial.method,
    )
