"""What pressed parts are made of: elastic values, expansion and strength, in SI or inch-pound units."""

from __future__ import annotations

import dataclasses
import math
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

from tracker.errors import OutsideModel
from tracker.given import number
from tracker.result import Result

PSI_PER_MPA = 1 / 0.006894757293168362  # 1 psi = 4.4482216152605 N / (25.4 mm)^2
NEWTONS_PER_LBF = 4.4482216152605
_FILE = Path(__file__).parent / "materials.toml"
_WORDS = {"modulus", "poisson", "expansion", "contraction", "yield_stress", "tension", "compression", "hottest"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Material(Result):
    """One material, in one system of units: MPa, per kelvin, degrees C; or psi, per degree F, degrees F.

    Attributes
    ----------
    name, words, source : str
    modulus, poisson : float
        Elastic constants.
    expansion, contraction : float
        Thermal expansion when heated, and when cooled far below room temperature.
    yield_stress : float or None
        What a ductile material must stay under; None for a brittle one.
    tension, compression : float or None
        What a brittle material must not pass; None for a ductile one.
    hottest : float
        What it stands for a short time without losing its temper.
    """

    name: str
    words: str
    modulus: float
    poisson: float
    expansion: float
    contraction: float
    yield_stress: float | None
    tension: float | None
    compression: float | None
    hottest: float
    source: str

    def __str__(self) -> str:
        return f"{self.words} ({self.source})"


def material(name: str | Material, units: str = "mm", **stated: float | None) -> Material:
    """Return a material by name, with any of its values stated instead.

    Parameters
    ----------
    name : str or Material
        ``steel``, ``tool-steel``, ``cast-iron``, ``aluminium`` and so on; a `Material` is handed back.
    units : str
        ``mm`` (MPa, per kelvin, degrees C) or ``in`` (psi, per degree F, degrees F).
    **stated
        ``modulus``, ``poisson``, ``expansion``, ``yield_stress`` … in those units; None is not stated. A stated
        ``expansion`` counts for cooling too, unless ``contraction`` is stated.

    Raises
    ------
    OutsideModel
        If the material is not known, or a stated value is not possible.

    References
    ----------
    Handbook values, from memory (tracker/fit/materials.toml); the conversion is exact by definition of the pound-force.

    Examples
    --------
    >>> material("steel").modulus
    210000.0
    """
    found = name if isinstance(name, Material) else _in_units(_entry(name), units)
    given = {key: number(value, key, OutsideModel) for key, value in stated.items() if value is not None}
    for key, value in given.items():
        if key not in _WORDS:
            raise OutsideModel(f"{key} is no value of a material; accepted is {', '.join(sorted(_WORDS))}")
        most = 0.5 if key == "poisson" else math.inf
        if not 0 < value < most and not (key == "hottest" and math.isfinite(value)):
            raise OutsideModel(f"{key} of {value!r} is not possible for a material; accepted is a number above 0")
    if "expansion" in given:
        given.setdefault("contraction", given["expansion"])
    if "yield_stress" in given:
        return dataclasses.replace(found, **given, tension=None, compression=None, source="as stated")  # type: ignore[arg-type]
    return dataclasses.replace(found, **given, source="as stated" if given else found.source)  # type: ignore[arg-type]


def material_names() -> tuple[str, ...]:
    """Return the names of the materials that are kept."""
    return tuple(key for key, value in _table().items() if isinstance(value, dict) and "modulus" in value)


def presses(units: str = "mm") -> Mapping[str, float]:
    """Return the presses of a usual shop and their rated force, in N or lbf, from the smallest up."""
    factor = 2000.0 if units == "in" else 2000.0 * NEWTONS_PER_LBF
    return {name: tons * factor for name, tons in _table()["presses"].items()}


@cache
def _table() -> dict[str, Any]:
    return tomllib.loads(_FILE.read_text(encoding="utf-8"))


def _entry(name: str) -> tuple[str, dict[str, Any]]:
    table = _table()
    key = str(name).strip().casefold().replace("_", " ")
    key = table["also"].get(key, key.replace(" ", "-"))
    if key not in material_names():
        raise OutsideModel(
            f"{name!r} is no material that is kept; accepted is {', '.join(material_names())}, with modulus, poisson,"
            " expansion and yield stated where yours differs"
        )
    return key, table[key]


def _in_units(entry: tuple[str, dict[str, Any]], units: str) -> Material:
    key, row = entry
    stress = PSI_PER_MPA if units == "in" else 1.0
    per_degree = 1e-6 / (1.8 if units == "in" else 1.0)

    def limit(word: str) -> float | None:
        return row[word] * stress if word in row else None

    return Material(
        name=key,
        words=row["words"],
        modulus=row["modulus"] * 1000.0 * stress,
        poisson=row["poisson"],
        expansion=row["expansion"] * per_degree,
        contraction=row["contraction"] * per_degree,
        yield_stress=limit("yield"),
        tension=limit("tension"),
        compression=limit("compression"),
        hottest=row["hottest"] * 1.8 + 32 if units == "in" else float(row["hottest"]),
        source=_table()["source"],
    )
