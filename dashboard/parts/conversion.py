"""A whole job in the other unit, so that every sentence, figure and table of a page speaks one language."""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

from tracker.job import Feature, Fit, Gauge, Job
from tracker.units import convert

if TYPE_CHECKING:
    from tracker.readings import Event, Import

PRESS_LENGTHS = {"length", "outer", "inner", "inner_rz", "outer_rz", "assembly_clearance"}
PRESS_STRESSES = {"inner_modulus", "outer_modulus", "inner_yield", "outer_yield"}
PRESS_TEMPERATURES = {"ambient", "service_temperature"}
PRESS_EXPANSIONS = {"inner_expansion", "outer_expansion"}
SEAT_LENGTHS = {"fillet", "relief", "gap", "allowed", "feeler"}
MPA_PER_PSI = 0.006894757293168361
LENGTH_COLUMNS = ("value", "low", "high", "step")


def job_in(job: Job, unit: str) -> Job:
    """Return the job with every length in another unit; the job itself when it is in that unit."""
    if unit == job.unit:
        return job

    def to(value: float | None) -> float | None:
        return None if value is None else convert(value, job.unit, unit)

    return dataclasses.replace(
        job,
        unit=unit,
        features={name: _feature_in(feature, to) for name, feature in job.features.items()},
        fits={name: _fit_in(fit, to, job.unit, unit) for name, fit in job.fits.items()},
        closures={
            name: dataclasses.replace(item, lower=to(item.lower), upper=to(item.upper))
            for name, item in job.closures.items()
        },
        gauges={name: _gauge_in(gauge, to) for name, gauge in job.gauges.items()},
    )


def readings_in(found: Import, from_unit: str, unit: str) -> Import:
    """Return readings with their lengths in another unit."""
    if unit == from_unit:
        return found

    def frame_in(frame: Any) -> Any:
        columns = [name for name in LENGTH_COLUMNS if name in frame.columns]
        return frame.assign(**{name: convert(frame[name].to_numpy(float), from_unit, unit) for name in columns})

    return dataclasses.replace(found, readings=frame_in(found.readings), suspects=frame_in(found.suspects))


def events_in(events: Sequence[Event], from_unit: str, unit: str) -> list[Event]:
    """Return events with their amounts in another unit."""
    return [
        event if event.amount is None else dataclasses.replace(event, amount=convert(event.amount, from_unit, unit))
        for event in events
    ]


def _feature_in(feature: Feature, to: Any) -> Feature:
    machine = dataclasses.replace(
        feature.machine, increment=to(feature.machine.increment), setup_sd=to(feature.machine.setup_sd)
    )
    return dataclasses.replace(
        feature,
        machine=machine,
        plating=to(feature.plating),
        **{name: to(getattr(feature, name)) for name in ("nominal", "target", "lower", "upper", "master")},
    )


def _fit_in(fit: Fit, to: Any, old: str, new: str) -> Fit:
    lengths = {name: to(getattr(fit, name)) for name in ("gap_lower", "gap_upper", "target")}
    return dataclasses.replace(
        fit,
        press=_table_in(fit.press, PRESS_LENGTHS, to, old, new),
        seat=_table_in(fit.seat, SEAT_LENGTHS, to, old, new),
        **lengths,
    )


def _table_in(table: Mapping[str, object], lengths: set[str], to: Any, old: str, new: str) -> dict[str, object]:
    """Return a table of a joint in the other unit: plain numbers are changed, texts name their unit themselves."""
    metric = new == "mm"

    def one(name: str, value: Any) -> Any:
        if isinstance(value, list | tuple):
            return [one(name, item) for item in value]
        if isinstance(value, bool) or not isinstance(value, int | float):
            if isinstance(value, str) and name in lengths:
                from tracker.units import read_length

                return read_length(value, old).to(new)
            return value
        if name in lengths:
            return to(float(value))
        if name in PRESS_STRESSES:
            return value * MPA_PER_PSI if metric else value / MPA_PER_PSI
        if name in PRESS_TEMPERATURES:
            return (value - 32) / 1.8 if metric else value * 1.8 + 32
        if name in PRESS_EXPANSIONS:
            return value * 1.8 if metric else value / 1.8
        return value

    return {name: one(name, value) for name, value in table.items()}


def _gauge_in(gauge: Gauge, to: Any) -> Gauge:
    names = ("resolution", "calibration", "correction", "low", "high")
    return dataclasses.replace(gauge, **{name: to(getattr(gauge, name)) for name in names})
