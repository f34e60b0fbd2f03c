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
    """

    inner_temperature: float
    outer_temperature: float
    effective_interference: Span
    pressure: Span
    holding_force: Span
    torque: Span
    margins: Mapping[str, float]
    loose: int


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
        ``cool_reason`` where cold alone does not do it.
    heat_with_cold : float
        Heating needed when the inner part comes out of dry ice.
    force_by_depth : tuple of (depth, least force, largest force)
    press_needed : str
        The smallest usual press with the reserve asked for.
    service : Service or None
    ranges : mapping of Span
    pairs, loose : int
        How many interferences were given, and how many of them leave nothing to hold.
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
    yielding: tuple[str, ...] = ()
    units: Mapping[str, str]
    method: str

    def __str__(self) -> str:
        return "\n".join(
            [f"{name:<18}{text}" for name, text in self.lines()] + [f"  - {caution}" for caution in self.cautions]
        )

    @property
    def first_cautions(self) -> tuple[str, ...]:
        """What is said wherever a force is: which part yields, the usual, and the force to stop at."""
        return self.cautions[: len(self.yielding) + USUAL]

    def lines(self) -> list[tuple[str, str]]:
        """Return the figures as (name, words), in the order a press bench wants them."""
        unit = self.units
        batch = f" over {self.pairs} pairs" if self.pairs > 1 else ""
        rows = [
            ("interference", f"{self.ranges['effective_interference'].text(unit['length'])} effective{batch}"),
            ("push force", f"{self.ranges['push_force'].text(unit['force'])} at full depth"),
            ("press", self.press_needed),
            ("pressure", self.ranges["pressure"].text(unit["stress"])),
            ("holds", f"{self.ranges['holding_force'].text(unit['force'])} along the axis"),
            ("torque", f"{self.ranges['torque'].text(unit['torque'])} until it slips"),
            ("margin", f"outer {_times(self.margins['outer'])}, inner {_times(self.margins['inner'])}"),
            ("heat outer to", f"{said(self.heat_to, unit['temperature'])}, drops in with {self._clearance()}"),
            (
                "or cool inner to",
                self.cool_reason if self.cool_to is None else said(self.cool_to, unit["temperature"]),
            ),
        ]
        if self.service is not None:
            rows.append(("in service", self._service(self.service)))
        return rows

    def _clearance(self) -> str:
        return f"{said(self.assembly_clearance, self.units['length'])} clearance"

    def _service(self, service: Service) -> str:
        unit = self.units
        hot = said(service.inner_temperature, unit["temperature"])
        if service.inner_temperature != service.outer_temperature:
            hot = f"inner {hot}, outer {said(service.outer_temperature, unit['temperature'])}"
        if service.loose == self.pairs:
            return f"{hot}: loose"
        left = f", {service.loose} of {self.pairs} loose" if service.loose else ""
        return f"{hot}: holds {service.holding_force.text(unit['force'])}{left}"


def said(value: float, unit: str, *, bare: bool = False) -> str:
    """Return a figure with as many digits as it deserves, and its unit."""
    if unit == "mm":
        text = f"{value:.4f}"
    elif unit == "in":
        text = f"{value:.5f}"
    elif unit.startswith("°"):
        text = f"{value:.0f}"
    else:
        text = f"{_three_digits(value):,.6g}" if abs(value) < 1e6 else f"{_three_digits(value):,.0f}"
    return text if bare else f"{text} {unit}"


def _three_digits(value: float) -> float:
    return float(f"{value:.3g}")


def _times(margin: float) -> str:
    return "ample" if margin > 100 else f"{margin:.2f}"
