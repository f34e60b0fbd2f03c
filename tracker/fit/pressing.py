"""Pressing one cylinder into another: force, pressure, stress, hold, heat and cold, over the measured batch."""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Mapping, Sequence

import numpy as np
import numpy.typing as npt

from tracker.errors import OutsideModel
from tracker.fit.press_cautions import SHAPES, cautions_of, yielding_of
from tracker.fit.press_cylinders import Cylinders
from tracker.fit.press_joining import in_service, joining, joint_ranges, room_temperature
from tracker.fit.press_materials import Material, material, presses
from tracker.fit.press_results import SYSTEMS, PressFit, Span, said
from tracker.fit.press_verdict import NO_PRESS, verdict_of
from tracker.given import number, numbers
from tracker.plurals import noun

Interferences = float | Sequence[float] | npt.NDArray[np.float64]
_SMOOTHED = 0.8  # of the sum of both Rz, DIN 7190-1


def press_fit(
    diameter: float,
    length: float,
    interference: Interferences,
    inner: float = 0.0,
    outer: float = math.inf,
    friction: float | tuple[float, float] = 0.12,
    *,
    units: str = "mm",
    inner_material: str | Material = "steel",
    outer_material: str | Material = "steel",
    inner_modulus: float | None = None,
    outer_modulus: float | None = None,
    inner_poisson: float | None = None,
    outer_poisson: float | None = None,
    inner_expansion: float | None = None,
    outer_expansion: float | None = None,
    inner_yield: float | None = None,
    outer_yield: float | None = None,
    inner_rz: float = 0.0,
    outer_rz: float = 0.0,
    friction_holding: float | tuple[float, float] | None = None,
    assembly_clearance: float | None = None,
    ambient: float | None = None,
    service_temperature: float | tuple[float, float] | None = None,
    shape: str = "round",
    reserve: float = 1.5,
    beyond_yield: str = "refuse",
    available_presses: Mapping[str, float] | None = None,
) -> PressFit:
    """Return what pressing, holding and joining a cylindrical interference fit takes.

    Parameters
    ----------
    diameter, length : float
        Of the joint; ``units="mm"`` counts in mm, N, MPa, degrees C, ``"in"`` in inches, lbf, psi, degrees F.
    interference : float, pair or array
        On the diameter, positive; the external size minus the internal size. One number, (low, high), or one for each
        measured pair: every figure then comes with its range.
    inner : float
        Bore of the inner part; 0 is solid.
    outer : float
        Outside diameter of the outer part; infinite (a hole in a thick plate) unless stated. For a block take the
        largest circle about the hole that stays inside it.
    friction : float or (low, high)
        Of pressing in; 0.12 is common for steel pressed dry or lightly oiled, with a wide spread.
    inner_material, outer_material : str or Material
        See `tracker.fit.press_materials.material`; modulus, Poisson's ratio, expansion and yield can be stated instead,
        in the units of the call.
    inner_rz, outer_rz : float
        Roughness Rz of both surfaces, in units of length; 0.8 of their sum is smoothed away and lost.
    friction_holding : float or (low, high), optional
        Of slipping afterwards; as ``friction`` unless stated.
    assembly_clearance : float, optional
        On the diameter, for dropping in hot or cold; a thousandth of the diameter unless stated (common practice).
    ambient : float, optional
        20 degrees C unless stated; the interference is taken as measured there.
    service_temperature : float or (inner, outer), optional
        Steady temperature of both parts in service.
    shape : str
        ``round``; ``keyed`` or ``flat``: the round part is computed and the answer says so.
    reserve : float
        How many times the largest push force a press must be rated for.
    beyond_yield : str
        ``refuse``, or ``mark``: compute elastically all the same, with margins below 1 and a caution.
    available_presses : mapping, optional
        Name to rated force; those of a usual shop unless given.

    Returns
    -------
    PressFit

    Raises
    ------
    OutsideModel
        If a part is not round, the outside is not larger than the joint or the bore not smaller, there is no
        interference at all, a part passes its strength, or a value is not possible.

    Notes
    -----
    Lamé's thick cylinders with free ends, linearly elastic, the same length, one pressure all along. In truth the ends
    carry more, rotation and repeated loosening take some away, and friction scatters by half. Where a wall yields the
    pressure, and with it the hold, is lower than computed here; such a fit is refused unless ``beyond_yield="mark"``.
    Ductile parts are judged by von Mises in the plane, brittle ones by their largest tension or compression.

    References
    ----------
    G. Lamé; S. Timoshenko, Strength of Materials, part II (built-up cylinders); DIN 7190-1:2017 (roughness loss, push
    and holding force, joining temperature; from memory). Checked in tests/published/test_press_fits.py and, against a
    boundary-value solution of the equilibrium equation, in tests/tracker/fit/test_pressing.py.

    Examples
    --------
    >>> fit = press_fit(50, 40, 0.040, inner=0, outer=80, friction=0.12)
    >>> round(fit.pressure, 4), round(fit.push_force), round(fit.torque, 1)
    (51.1875, 38594, 964.9)
    """
    _check_shape(diameter, length, inner, outer, shape, units)
    _check_values(assembly_clearance=0.0 if assembly_clearance is None else assembly_clearance, reserve=reserve)
    if beyond_yield not in ("refuse", "mark"):
        raise OutsideModel(f"beyond_yield is {beyond_yield!r}; accepted is refuse or mark")
    given = _interferences(interference)
    joint = Cylinders(
        diameter=float(diameter),
        inner=float(inner),
        outer=float(outer),
        inner_material=_material(inner_material, units, inner_modulus, inner_poisson, inner_expansion, inner_yield),
        outer_material=_material(outer_material, units, outer_modulus, outer_poisson, outer_expansion, outer_yield),
    )
    words, room = SYSTEMS[units], room_temperature(units, ambient)
    loss = roughness_loss(inner_rz, outer_rz)
    if given.max() <= loss:
        raise OutsideModel(_nothing_left(given, loss, words))
    limit = joint.elastic_limit() + loss
    past = int(np.sum(given > limit * (1 + 1e-12)))
    if past and beyond_yield == "refuse":
        raise OutsideModel(_too_much(joint, given, limit, past, words))
    push, hold = _friction(friction), _friction(friction if friction_holding is None else friction_holding)
    lever = math.pi * joint.diameter * length, joint.diameter / 2 / (1000.0 if units == "mm" else 1.0)
    ranges = joint_ranges(joint, given - loss, hold, lever)
    ranges["push_force"] = ranges["pressure"].times(push, lever[0])
    clearance = joint.diameter / 1000 if assembly_clearance is None else assembly_clearance
    fit = PressFit(
        diameter=joint.diameter,
        length=float(length),
        inner=joint.inner,
        outer=joint.outer,
        friction=push,
        interference=Span.over(given),
        roughness_loss=loss,
        pairs=len(given),
        loose=int(np.sum(given <= loss)),
        stresses=joint.stresses(ranges["pressure"].high),
        changes=_changes(joint, ranges["pressure"]),
        margins=joint.margins(ranges["pressure"].high),
        elastic=past == 0,
        past_elastic=past,
        elastic_limit=limit,
        assembly_clearance=clearance,
        force_by_depth=_force_by_depth(length, ranges["push_force"]),
        press_needed=_press_needed(ranges["push_force"].high, reserve, available_presses or presses(units)),
        service=None
        if service_temperature is None
        else in_service(joint, given - loss, service_temperature, room, hold, lever, loss),
        ranges=ranges,
        inner_material=joint.inner_material,
        outer_material=joint.outer_material,
        cautions=(),
        units=words,
        method="elastic thick cylinders (Lamé; DIN 7190-1), free ends, one pressure along the joint",
        effective_interference=ranges["effective_interference"].middle,
        pressure=ranges["pressure"].middle,
        push_force=ranges["push_force"].middle,
        holding_force=ranges["holding_force"].middle,
        torque=ranges["torque"].middle,
        **joining(joint, float(given.max()), clearance, room, units),
    )
    fit = dataclasses.replace(fit, yielding=yielding_of(fit))
    if fit.yielding:
        fit = dataclasses.replace(fit, press_needed=NO_PRESS)
    return dataclasses.replace(fit, verdict=verdict_of(fit), cautions=cautions_of(fit, shape))


def roughness_loss(inner_rz: float, outer_rz: float) -> float:
    """Return the interference that pressing smooths away: 0.8 of the sum of both Rz.

    Raises
    ------
    OutsideModel
        If one is negative or not a number.

    References
    ----------
    DIN 7190-1:2017, from memory.
    """
    _check_values(inner_rz=inner_rz, outer_rz=outer_rz)
    return _SMOOTHED * (inner_rz + outer_rz)


def _check_shape(diameter: float, length: float, inner: float, outer: float, shape: str, units: str) -> None:
    if units not in SYSTEMS:
        raise OutsideModel(f'units is {units!r}; accepted is "mm" (mm, N, MPa) or "in" (in, lbf, psi)')
    if shape not in ("round", *SHAPES):
        raise OutsideModel(
            f"a {shape} joint is outside the model, which is for round parts; accepted is round, or keyed or flat,"
            " where the round part is computed"
        )
    for name, value in (("diameter", diameter), ("length", length)):
        if not 0 < number(value, name, OutsideModel) < math.inf:
            raise OutsideModel(f"a {name} of {value!r} is not possible; accepted is a length above 0")
    if not number(outer, "outer", OutsideModel) > diameter:
        raise OutsideModel(
            f"the outer part's outside ({outer:g}) is not larger than the joint ({diameter:g}): there is no wall"
        )
    if not 0 <= number(inner, "inner", OutsideModel) < diameter:
        raise OutsideModel(
            f"the inner part's bore ({inner:g}) is not from 0 to under the joint ({diameter:g}); 0 is a solid part"
        )


def _check_values(**values: float) -> None:
    for name, value in values.items():
        if not 0 <= number(value, name, OutsideModel) < math.inf:
            raise OutsideModel(f"{name} is {value!r}; accepted is a number from 0")


def _interferences(given: Interferences) -> npt.NDArray[np.float64]:
    found = np.atleast_1d(numbers(given, "interference", OutsideModel)).ravel()
    if found.size == 0 or not np.all(np.isfinite(found)):
        raise OutsideModel(
            "the interference is empty or not a number; accepted is one length, (low, high), or one for each pair"
        )
    return found


def _friction(given: float | tuple[float, float]) -> Span:
    pair = tuple(given) if isinstance(given, tuple | list) else (given, given)
    if len(pair) != 2:
        raise OutsideModel(f"a friction of {given!r} is not possible; accepted is above 0 to 2, or (low, high)")
    low, high = (number(one, "friction", OutsideModel) for one in pair)
    if not 0 < low <= high <= 2:
        raise OutsideModel(f"a friction of {given!r} is not possible; accepted is above 0 to 2, or (low, high)")
    return Span(low, (low + high) / 2, high)


def _material(
    name: str | Material,
    units: str,
    modulus: float | None,
    poisson: float | None,
    expansion: float | None,
    yield_stress: float | None,
) -> Material:
    return material(name, units, modulus=modulus, poisson=poisson, expansion=expansion, yield_stress=yield_stress)


def _force_by_depth(length: float, force: Span) -> tuple[tuple[float, float, float], ...]:
    """Return (depth, least force, largest force) at every tenth of the depth: it grows evenly with what is in."""
    return tuple((length * tenth / 10, force.low * tenth / 10, force.high * tenth / 10) for tenth in range(11))


def _changes(joint: Cylinders, pressure: Span) -> dict[str, Span]:
    low, middle, high = (joint.changes(value) for value in (pressure.low, pressure.middle, pressure.high))
    return {name: Span(low[name], middle[name], high[name]) for name in middle}


def _nothing_left(given: npt.NDArray[np.float64], loss: float, words: Mapping[str, str]) -> str:
    taken = f", and roughness takes {said(loss, words['length'])}" if loss else ""
    return (
        f"there is no interference to press: the largest given is {said(float(given.max()), words['length'])}{taken};"
        " accepted is external minus internal size, above 0"
    )


def _too_much(
    joint: Cylinders, given: npt.NDArray[np.float64], limit: float, past: int, words: Mapping[str, str]
) -> str:
    margins = joint.margins(1.0)
    part = min(margins, key=lambda name: margins[name])
    made_of = joint.outer_material if part == "outer" else joint.inner_material
    share = f"{past} of {len(given)} pairs {noun(past, 'goes', 'go')}" if len(given) > 2 else "the interference goes"
    return (
        f"{share} beyond what is elastic: the {part} part ({made_of.words}) reaches its strength at"
        f" {said(limit, words['length'])} of interference, and up to {said(float(given.max()), words['length'])} is"
        " given. A plastic fit is outside the model; take less interference, a thicker wall or a stronger material,"
        ' state the yield of the part, or ask with beyond_yield="mark" for elastic figures marked as too high'
    )


def _press_needed(force: float, reserve: float, available: Mapping[str, float]) -> str:
    enough = [(rated, name) for name, rated in available.items() if rated >= force * reserve]
    if not enough:
        largest = max(available, key=lambda name: available[name], default="")
        return f"none of the listed presses has {reserve:g} times that in hand" + (
            f" (the largest is a {largest})" if largest else ""
        )
    return f"{min(enough)[1]} ({reserve:g} times the largest force or more in hand)"
