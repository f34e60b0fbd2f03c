"""Heat and cold: what lets the parts drop into one another, and what service temperature leaves of the hold."""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy.typing as npt

from tracker.errors import OutsideModel
from tracker.fit.press_cylinders import Cylinders
from tracker.fit.press_materials import Material
from tracker.fit.press_results import SYSTEMS, Service, Span
from tracker.given import finite_number

_ZERO = {"mm": -273.15, "in": -459.67}  # absolute zero
_COLDEST = {"mm": -196.0, "in": -320.8}  # liquid nitrogen
_DRY_ICE = {"mm": -78.0, "in": -108.4}
LITTLE = 0.1  # of the interference as pressed, left in service: our choice
_ROOM = {"mm": 20.0, "in": 68.0}  # ISO 1


def room_temperature(units: str, stated: float | None) -> float:
    """Return the temperature at which the parts were measured and are joined.

    Raises
    ------
    OutsideModel
        If the stated one is not a number.
    """
    if stated is None:
        return _ROOM[units]
    return finite_number(stated, "ambient temperature", fault=OutsideModel)


def joining(joint: Cylinders, interference: float, clearance: float, ambient: float, units: str) -> dict[str, Any]:
    """Return the temperatures at which a part with this interference drops in with this clearance.

    References
    ----------
    Thermal expansion; as in DIN 7190-1. Bank case press-heating.
    """
    wanted = interference + clearance
    outer, inner = joint.outer_material, joint.inner_material
    cool = ambient - wanted / (inner.contraction * joint.diameter)
    cold = max(0.0, (ambient - _DRY_ICE[units]) * inner.contraction * joint.diameter)
    degrees = SYSTEMS[units]["temperature"]
    coldest = f"{_COLDEST[units]:.0f} {degrees}"
    taken = f"it would take {cool:.0f} {degrees}" if cool > _ZERO[units] else "no temperature is cold enough"
    reason = f"cold alone does not do it: {taken}, liquid nitrogen is {coldest}"
    reachable = cool >= _COLDEST[units]
    return {
        "heat_to": ambient + wanted / (outer.expansion * joint.diameter),
        "heat_with_cold": ambient + max(0.0, wanted - cold) / (outer.expansion * joint.diameter),
        "cool_to": cool if reachable else None,
        "cool_reason": "" if reachable else reason,
    }


def joint_ranges(
    joint: Cylinders, interference: npt.NDArray[np.float64], hold: Span, lever: tuple[float, float]
) -> dict[str, Span]:
    """Return effective interference, pressure, holding force and torque over the batch.

    Parameters
    ----------
    interference : array, shape (pairs,)
        What is left on the diameter; not above 0 is a loose pair.
    hold : Span
        Friction.
    lever : (area, arm)
        Of the joint; the arm in the unit of the torque.
    """
    left = Span.over(np.maximum(interference, 0.0))
    pressure = Span(*(joint.pressure(value) for value in (left.low, left.middle, left.high)))
    holding = pressure.times(hold, lever[0])
    return {
        "effective_interference": left,
        "pressure": pressure,
        "holding_force": holding,
        "torque": holding.times(Span(1.0, 1.0, 1.0), lever[1]),
    }


def in_service(
    joint: Cylinders,
    interference: npt.NDArray[np.float64],
    temperature: float | tuple[float, float],
    ambient: float,
    hold: Span,
    lever: tuple[float, float],
    loss: float = 0.0,
) -> Service:
    """Return the joint at its service temperature, one for both parts or (inner, outer).

    Raises
    ------
    OutsideModel
        If a temperature is not a number.

    Notes
    -----
    The interference changes by diameter times (expansion of the inner part less that of the outer one); the elastic
    constants and strengths are those of room temperature. ``loss`` is what roughness took of the interference.
    """
    pair = tuple(temperature) if isinstance(temperature, tuple | list) else (temperature, temperature)
    if len(pair) != 2:
        raise OutsideModel(f"a service temperature of {temperature!r} is not possible; accepted is a number, or a pair")
    inner, outer = (finite_number(value, "service temperature", fault=OutsideModel) for value in pair)
    grown = joint.diameter * (
        _expansion(joint.inner_material, inner - ambient) - _expansion(joint.outer_material, outer - ambient)
    )
    left = interference + grown
    little = np.maximum(interference * LITTLE, loss)
    loosest = float(interference[interference > 0].min())
    ranges = joint_ranges(joint, left, hold, lever)
    return Service(
        inner_temperature=inner,
        outer_temperature=outer,
        margins=joint.margins(ranges["pressure"].high),
        loose=int(np.sum(left <= 0)),
        little=int(np.sum((left > 0) & (left < little))),
        lets_go_at=ambient + loosest / (joint.outer_material.expansion * joint.diameter),
        **ranges,
    )


def _expansion(made_of: Material, rise: float) -> float:
    return rise * (made_of.expansion if rise >= 0 else made_of.contraction)
