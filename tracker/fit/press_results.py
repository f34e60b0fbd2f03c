"""The answer of a press fit: figures, their ranges over the batch, and the cautions."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from tracker.fit.press_materials import Material
from tracker.result import Result

USUAL = 4
"""The usual cautions that stand with every force: who decides, the press, the parts, when to stop."""

MARGIN = 1.25
"""Strength over stress that is asked of both parts; common practice, no source."""

PLACES = {"mm": 4, "in": 5}
"""Decimals of a printed length."""

HEAT_AND_COLD = ("heat outer to", "heat outer", "or cool inner to")
"""Names of the rows about joining by heat and cold; the second where the heat that it takes is more than it stands."""

SYSTEMS = {
    "mm": {"length": "mm", "force": "N", "stress": "MPa", "torque": "N·m", "temperature": "°C"},
    "in": {"length": "in", "force": "lbf", "stress": "psi", "torque": "lbf·in", "temperature": "°F"},
}


@dataclass(frozen=True, slots=True)
class Span(Result):
    """A figure over the batch: at the least, the mean and the largest interference (and friction)."""

    low: float
    middle: float
    high: float

    @staticmethod
    def over(values: npt.NDArray[np.float64]) -> Span:
        """Return the span of an array."""
        return Span(float(values.min()), float(values.mean()), float(values.max()))

    def times(self, other: Span, factor: float) -> Span:
        """Return the product of two spans of positive figures and a factor."""
        return Span(self.low * other.low * factor, self.middle * other.middle * factor, self.high * other.high * factor)

    def text(self, unit: str) -> str:
        """Return it as words with its unit."""
        if math.isclose(self.low, self.high, rel_tol=1e-9):
            return said(self.middle, unit)
        return f"{said(self.low, unit, bare=True)} to {said(self.high, unit)}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Service(Result):
    """The same joint at its temperature in service.

    Attributes
    ----------
    inner_temperature, outer_temperature : float
    effective_interference, pressure, holding_force, torque : Span
    margins : mapping
        Strength over stress of both parts, at the largest interference; strength as at room temperature.
    loose : int
        How many of the pairs have no interference left.
    little : int
        How many of the others have little left: less than a tenth of what they have cold, or than what roughness takes
        (where little begins is our choice).
    lets_go_at : float
        Temperature of the outer part at which the loosest pair has no interference left while its inner part is still
        cold: the outer part heated first.
    """

    inner_temperature: float
    outer_temperature: float
    effective_interference: Span
    pressure: Span
    holding_force: Span
    torque: Span
    margins: Mapping[str, float]
    loose: int
    little: int
    lets_go_at: float


@dataclass(frozen=True, slots=True, kw_only=True)
class PressFit(Result):
    """An elastic press fit of two cylinders.

    Plain numbers stand at the mean interference and the middle of the friction; ``ranges`` holds the least and the
    largest; stresses and margins are those of the largest interference; temperatures serve the largest too.

    Attributes
    ----------
    effective_interference : float
        On the diameter, after what roughness takes.
    pressure, push_force, holding_force, torque : float
        Push force at full depth; holding force along the axis; torque where it slips.
    stresses : mapping
        At the governing points of both parts, tension positive: radial_joint, hoop_outer_bore, hoop_outer_outside,
        hoop_inner_joint, hoop_inner_bore, equivalent_outer, equivalent_inner.
    changes : mapping of Span
        Of the diameters outer_outside, outer_bore, inner_outside, inner_bore.
    margins : mapping
        ``outer`` and ``inner``: strength over stress; under 1 the part yields or breaks.
    elastic : bool
        Whether the whole range lies within the elastic limit; ``past_elastic`` counts the pairs beyond it.
    elastic_limit : float
        The interference (before roughness is taken off) at which the first part reaches its strength.
    heat_to, cool_to : float or None
        Temperature at which the heated outer, or the cooled inner part drops in with ``assembly_clearance``; None with
        ``cool_reason`` where cold alone does not do it. ``heat_to`` may be more than ``outer_material.hottest``.
    heat_with_cold : float
        Heating needed when the inner part comes out of dry ice.
    force_by_depth : tuple of (depth, least force, largest force)
    press_needed : str
        The smallest usual press with the reserve asked for; where a part passes its strength, that it is none.
    service : Service or None
    ranges : mapping of Span
    pairs, loose : int
        How many interferences were given, and how many of them leave nothing to hold.
    verdict : str
        In one sentence whether it presses and holds, or why it must not be pressed.
    cautions : tuple of str
    yielding : tuple of str
        Those that say that a part passes its strength; they stand first among the cautions.
    units : mapping
        Words for length, force, stress, torque, temperature.
    """

    diameter: float
    length: float
    inner: float
    outer: float
    friction: Span
    interference: Span
    roughness_loss: float
    pairs: int
    loose: int
    effective_interference: float
    pressure: float
    push_force: float
    holding_force: float
    torque: float
    stresses: Mapping[str, float]
    changes: Mapping[str, Span]
    margins: Mapping[str, float]
    elastic: bool
    past_elastic: int
    elastic_limit: float
    assembly_clearance: float
    heat_to: float
    cool_to: float | None
    cool_reason: str
    heat_with_cold: float
    force_by_depth: tuple[tuple[float, float, float], ...]
    press_needed: str
    service: Service | None
    ranges: Mapping[str, Span]
    inner_material: Material
    outer_material: Material
    cautions: tuple[str, ...]
    verdict: str = ""
    yielding: tuple[str, ...] = ()
    units: Mapping[str, str]
    method: str

    def __str__(self) -> str:
        return "\n".join(self.said())

    def said(self, over: str = "") -> list[str]:
        """Return the answer line by line: the verdict, over which pairs it is, the figures, the cautions."""
        rows = [("over", over)] if over else []
        return [
            self.verdict,
            *(f"{name:<18}{text}" for name, text in [*rows, *self.lines()]),
            *(f"  - {caution}" for caution in self.cautions),
        ]

    @property
    def sound(self) -> bool:
        """Whether no part passes its strength and every pair holds, cold and in service."""
        return not (self.yielding or self.loose or (self.service is not None and self.service.loose))

    @property
    def first_cautions(self) -> tuple[str, ...]:
        """What is said wherever a force is: the usual, and the force to stop at; or which part yields, and no force."""
        return self.cautions[: len(self.yielding) + USUAL - bool(self.yielding)]

    def at_margin(self, margin: float) -> float:
        """Return the interference (before roughness is taken off) that leaves the first part this margin."""
        return (self.elastic_limit - self.roughness_loss) / margin + self.roughness_loss

    def lines(self) -> list[tuple[str, str]]:
        """Return the figures as (name, words), in the order a press bench wants them.

        Where a part passes its strength no press, no heat and no cold is offered.
        """
        unit = self.units
        batch = f" over {self.pairs} pairs" if self.pairs > 1 else ""
        high = " (elastic figure, too high)" if self.past_elastic else ""
        rows = [
            ("interference", f"{self.ranges['effective_interference'].text(unit['length'])} effective{batch}"),
            ("push force", f"{self.ranges['push_force'].text(unit['force'])} at full depth"),
            ("press", self.press_needed),
            ("pressure", f"{self.ranges['pressure'].text(unit['stress'])}{high}"),
            ("holds", f"{self.ranges['holding_force'].text(unit['force'])} along the axis{high}"),
            ("torque", f"{self.ranges['torque'].text(unit['torque'])} until it slips{high}"),
            ("margin", f"outer {times(self.margins['outer'])}, inner {times(self.margins['inner'])}"),
            *self._heat_and_cold(),
        ]
        if self.service is not None:
            rows.append(("in service", self._service(self.service)))
        offered = () if not self.yielding else ("push force", "press", *HEAT_AND_COLD)
        return [row for row in rows if row[0] not in offered]

    def _heat_and_cold(self) -> list[tuple[str, str]]:
        """Return the row for heat, by its first name only where the outer part stands that heat, and that for cold."""
        degrees, hottest = self.units["temperature"], self.outer_material.hottest
        heat = (HEAT_AND_COLD[0], f"{said(self.heat_to, degrees)}, drops in with {self._clearance()}")
        if self.heat_to > hottest:
            words = f"{said(hottest, degrees)} is the most it stands, {said(self.heat_to, degrees)} would be needed"
            if self.heat_with_cold <= hottest:
                words += f"; with the inner part out of dry ice {said(self.heat_with_cold, degrees)} is enough"
            heat = (HEAT_AND_COLD[1], words)
        cold = self.cool_reason if self.cool_to is None else said(self.cool_to, degrees)
        return [heat, (HEAT_AND_COLD[2], cold)]

    def _clearance(self) -> str:
        return f"{said(self.assembly_clearance, self.units['length'])} clearance"

    def _service(self, service: Service) -> str:
        unit = self.units
        hot = said(service.inner_temperature, unit["temperature"])
        if service.inner_temperature != service.outer_temperature:
            hot = f"inner {hot}, outer {said(service.outer_temperature, unit['temperature'])}"
        if service.loose == self.pairs:
            return f"{hot}: loose"
        loose = f", {service.loose} of {self.pairs} loose" if service.loose else ""
        left = f"{service.effective_interference.text(unit['length'])} of interference left"
        return f"{hot}: {left}, holds {service.holding_force.text(unit['force'])}{loose}"


def said(value: float, unit: str, *, bare: bool = False) -> str:
    """Return a figure with as many digits as it deserves, and its unit."""
    if unit in PLACES:
        text = f"{value:.{PLACES[unit]}f}"
    elif unit.startswith("°"):
        text = f"{value:.0f}"
    else:
        text = f"{_three_digits(value):,.6g}" if abs(value) < 1e6 else f"{_three_digits(value):,.0f}"
    return text if bare else f"{text} {unit}"


def up_to(value: float, unit: str) -> str:
    """Return an interference that must not be passed, rounded down as it is printed."""
    return said(math.floor(value * 10 ** PLACES[unit] + 1e-6) / 10 ** PLACES[unit], unit)


def at_least(value: float, unit: str) -> str:
    """Return an interference that is needed, rounded up as it is printed."""
    return said(math.ceil(value * 10 ** PLACES[unit] - 1e-6) / 10 ** PLACES[unit], unit)


def is_thin(margin: float) -> bool:
    """Return whether a margin is under what is asked."""
    return margin < MARGIN * (1 - 1e-9)


def _three_digits(value: float) -> float:
    return float(f"{value:.3g}")


def times(margin: float) -> str:
    """Return a margin as words, rounded down: what reads 1.25 is no less."""
    return "ample" if margin > 100 else f"{math.floor(margin * 100 + 1e-6) / 100:.2f}"
