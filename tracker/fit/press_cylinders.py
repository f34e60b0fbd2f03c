"""Two elastic cylinders pressed together: Lamé's pressure, stresses and changes of size."""

from __future__ import annotations

import math
from dataclasses import dataclass

from tracker.fit.press_materials import Material


@dataclass(frozen=True, slots=True, kw_only=True)
class Cylinders:
    """The inner part (bore ``inner``, 0 if solid) in the outer one (outside ``outer``), joined at ``diameter``."""

    diameter: float
    inner: float
    outer: float
    inner_material: Material
    outer_material: Material

    @property
    def thickness_ratios(self) -> tuple[float, float]:
        """Return (bore / joint, joint / outside), each from 0 to under 1."""
        return self.inner / self.diameter, self.diameter / self.outer

    @property
    def give(self) -> float:
        """Interference per unit of diameter and of pressure: the softness of both parts together."""
        q_i, q_o = self.thickness_ratios
        soft_outer = ((1 + q_o**2) / (1 - q_o**2) + self.outer_material.poisson) / self.outer_material.modulus
        soft_inner = ((1 + q_i**2) / (1 - q_i**2) - self.inner_material.poisson) / self.inner_material.modulus
        return soft_outer + soft_inner

    def pressure(self, interference: float) -> float:
        """Return the pressure that an interference on the diameter makes; none when it is not positive.

        References
        ----------
        Lamé; as in Timoshenko, Strength of Materials, part II, and in DIN 7190-1.
        """
        return max(interference, 0.0) / (self.diameter * self.give)

    def stresses(self, pressure: float) -> dict[str, float]:
        """Return the stresses at the governing points; tension is positive."""
        q_i, q_o = self.thickness_ratios
        hoop_outer = pressure * (1 + q_o**2) / (1 - q_o**2)
        hoop_joint = -pressure * (1 + q_i**2) / (1 - q_i**2)
        solid = self.inner == 0
        hoop_bore = -pressure if solid else -2 * pressure / (1 - q_i**2)
        return {
            "radial_joint": -pressure,
            "hoop_outer_bore": hoop_outer,
            "hoop_outer_outside": 2 * pressure * q_o**2 / (1 - q_o**2),
            "hoop_inner_joint": hoop_joint,
            "hoop_inner_bore": hoop_bore,
            "equivalent_outer": plane_equivalent(hoop_outer, -pressure),
            "equivalent_inner": max(
                plane_equivalent(hoop_joint, -pressure), plane_equivalent(hoop_bore, -pressure if solid else 0.0)
            ),
        }

    def changes(self, pressure: float) -> dict[str, float]:
        """Return how much each diameter changes."""
        q_i, q_o = self.thickness_ratios
        inner, outer = self.inner_material, self.outer_material
        ring_outer, ring_inner = (1 + q_o**2) / (1 - q_o**2), (1 + q_i**2) / (1 - q_i**2)
        grown = 0.0 if math.isinf(self.outer) else 2 * q_o**2 / (1 - q_o**2) * self.outer
        return {
            "outer_outside": pressure / outer.modulus * grown,
            "outer_bore": pressure * self.diameter / outer.modulus * (ring_outer + outer.poisson),
            "inner_outside": -pressure * self.diameter / inner.modulus * (ring_inner - inner.poisson),
            "inner_bore": -2 * pressure * self.inner / (inner.modulus * (1 - q_i**2)),
        }

    def margins(self, pressure: float) -> dict[str, float]:
        """Return strength over stress of both parts: above 1 it holds; infinite where there is no stress.

        Ductile: yield stress over the von Mises stress in the plane of the section (both ends free). Brittle: tensile
        and compressive strength over the largest tension and compression, whichever is nearer.
        """
        at = self.stresses(pressure)
        tension_outer, press = at["hoop_outer_bore"], -at["radial_joint"]
        squeeze = max(-at["hoop_inner_joint"], -at["hoop_inner_bore"])
        return {
            "outer": _margin(self.outer_material, at["equivalent_outer"], tension_outer, press),
            "inner": _margin(self.inner_material, at["equivalent_inner"], 0.0, squeeze),
        }

    def elastic_limit(self) -> float:
        """Return the interference at which the first part reaches its strength."""
        return self.diameter * self.give * min(self.margins(1.0).values())


def plane_equivalent(first: float, second: float) -> float:
    """Return the von Mises stress of two principal stresses, the third being 0."""
    return math.sqrt(first**2 - first * second + second**2)


def _margin(material: Material, equivalent: float, tension: float, compression: float) -> float:
    def over(strength: float | None, stress: float) -> float:
        return math.inf if strength is None or stress <= 0 else strength / stress

    if material.yield_stress is not None:
        return over(material.yield_stress, equivalent)
    return min(over(material.tension, tension), over(material.compression, compression))
