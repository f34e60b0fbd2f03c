"""What is added to a reading before it counts: gauge correction, temperature to 20 °C, plating; each kept in words."""

from __future__ import annotations

import tomllib
from functools import cache
from importlib import resources
from typing import TYPE_CHECKING, Any

import numpy as np

from tracker.errors import ReadingsError
from tracker.readings.imports import groups_of, text_array

if TYPE_CHECKING:
    import pandas as pd

    from tracker.job import Feature, Gauge, Job

REFERENCE_TEMPERATURE = 20.0
"""Degrees Celsius at which sizes are stated (ISO 1)."""


@cache
def expansions() -> dict[str, float]:
    """Return the mean linear expansion of materials by name, per kelvin (``expansion.toml`` names the sources)."""
    data = tomllib.loads(resources.files("tracker.readings").joinpath("expansion.toml").read_text(encoding="utf-8"))
    found: dict[str, float] = {}
    for name, entry in data["materials"].items():
        for word in (str(name), *entry.get("also", ())):
            found[word.casefold()] = entry["per_million"] * 1e-6
    return found


def expansion(material: str) -> float:
    """Return the mean linear expansion of a material, per kelvin.

    Raises
    ------
    ReadingsError
        If it is not in the table.

    Examples
    --------
    >>> expansion("tool steel")
    1.15e-05
    """
    value = expansions().get(" ".join(material.replace("_", " ").casefold().split()))
    if value is None:
        raise ReadingsError(f"there is no expansion for {material!r}; known are {', '.join(sorted(expansions()))}")
    return value


def at_20_degrees(
    length: float, part_temperature: float, part_expansion: float, gauge_temperature: float, gauge_expansion: float
) -> float:
    """Return a length at 20 °C from one read at another temperature.

    Parameters
    ----------
    length : float or array
        In any unit; the answer is in the same.
    part_temperature, gauge_temperature : float or array
        Degrees Celsius.
    part_expansion, gauge_expansion : float
        Per kelvin.

    Returns
    -------
    float or array

    Notes
    -----
    L20 = L (1 - a_part (t_part - 20) + a_gauge (t_gauge - 20)): first order, which leaves less than one part in ten
    million within 10 K of 20 °C. False when part and gauge are not at one even temperature each.

    References
    ----------
    ISO 1 (reference temperature); tested in tests/tracker/readings/test_corrections.py.

    Examples
    --------
    >>> round(at_20_degrees(100.0, 30.0, 23e-6, 30.0, 11.5e-6), 6)
    99.9885
    """
    part, gauge = part_temperature - REFERENCE_TEMPERATURE, gauge_temperature - REFERENCE_TEMPERATURE
    return length * (1.0 - part_expansion * part + gauge_expansion * gauge)


def plating_change(kind: str, thickness: float) -> float:
    """Return by how much plating of this thickness changes a size: twice on a diameter or slot, once on a face.

    Examples
    --------
    >>> plating_change("external", 0.0002), plating_change("internal", 0.0002)
    (0.0004, -0.0004)
    """
    return {"external": 2.0, "internal": -2.0, "length": 1.0}[kind] * thickness


def correct(frame: pd.DataFrame, job: Job | None) -> tuple[pd.DataFrame, list[str]]:
    """Return a readings frame with the job's corrections made, and what is to be said about them.

    Parameters
    ----------
    frame : pandas.DataFrame
        Of the readings contract; ``value``, ``low`` and ``high`` as read (a master is added already).
    job : Job or None

    Returns
    -------
    frame : pandas.DataFrame
        The same rows; ``applied`` holds every correction in words.
    said : list of str

    Notes
    -----
    The order is that of the design: master, gauge correction, temperature, plating still to come. A temperature is used
    only when the material of the part and that of the gauge are known; else nothing is done, and that is said.
    """
    if job is None or frame.empty:
        return frame, _unused_temperature(frame, job)
    said: list[str] = []
    changed: dict[str, Any] | None = None
    for (name, gauge_name), rows in groups_of(frame, ["feature", "gauge"]):
        feature, gauge = job.features.get(name), job.gauges.get(gauge_name)
        if feature is None:
            continue
        temperature = frame["temperature"].to_numpy()[rows]
        if job.temperature is not None:
            temperature = np.where(np.isnan(temperature), job.temperature, temperature)
        wanted = not np.isnan(temperature).all()
        expand, why = _expansions(feature, gauge) if wanted else (None, "")
        if why:
            said.append(f"{name}: no correction to 20 °C, as {why}")
        by_gauge = 0.0 if gauge is None else gauge.correction
        if not by_gauge and expand is None and not feature.plating:
            continue
        if changed is None:
            changed = {key: frame[key].to_numpy(copy=True) for key in ("value", "low", "high")}
            changed["applied"] = frame["applied"].to_numpy(dtype=object, copy=True)
        _apply(changed, rows, job.unit, by_gauge, expand, temperature, feature)
    return (frame if changed is None else frame.assign(**{**changed, "applied": text_array(changed["applied"])})), said


def _apply(
    changed: dict[str, Any],
    rows: Any,
    unit: str,
    by_gauge: float,
    expand: tuple[float, float] | None,
    temperature: Any,
    feature: Feature,
) -> None:
    before = changed["value"][rows]
    words = changed["applied"][rows]
    plating = plating_change(feature.kind, feature.plating) if feature.plating else 0.0
    for key in ("value", "low", "high"):
        length = changed[key][rows] + by_gauge
        if expand is not None:
            at_20 = at_20_degrees(length, temperature, expand[0], temperature, expand[1])
            length = np.where(np.isnan(temperature) | ~np.isfinite(length), length, at_20)
        changed[key][rows] = length + plating
    if by_gauge:
        words = _joined(words, [f"gauge correction {by_gauge:+.9g} {unit}"] * len(rows))
    if expand is not None:
        step = (before + by_gauge) * (expand[1] - expand[0]) * (temperature - REFERENCE_TEMPERATURE)
        words = _joined(
            words,
            [
                "" if np.isnan(degrees) else f"{degrees:g} °C to 20 °C" + ("" if np.isnan(by) else f" {by:+.3g} {unit}")
                for degrees, by in zip(temperature, step)
            ],
        )
    if plating:
        words = _joined(words, [f"plating to come {plating:+.9g} {unit}"] * len(rows))
    changed["applied"][rows] = words


def _joined(before: Any, after: list[str]) -> Any:
    joined = ["; ".join(part for part in pair if part) for pair in zip(before, after)]
    return np.array(joined, dtype=object)


def _expansions(feature: Feature, gauge: Gauge | None) -> tuple[tuple[float, float] | None, str]:
    if feature.material is None:
        return None, f"[features.{feature.name}] names no material"
    if gauge is None or gauge.material is None:
        return None, f"the gauge of {feature.name} names no material (its scale, or the master it was zeroed on)"
    try:
        return (expansion(feature.material), expansion(gauge.material)), ""
    except ReadingsError as error:
        return None, str(error)


def _unused_temperature(frame: pd.DataFrame, job: Job | None) -> list[str]:
    if job is None and len(frame) and frame["temperature"].notna().any():
        return ["temperatures are kept, but without a job (materials) nothing is corrected to 20 °C"]
    return []
