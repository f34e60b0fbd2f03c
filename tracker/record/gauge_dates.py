"""The register of gauges and a job: the register says when a gauge is due, and describes gauges the job only names."""

from __future__ import annotations

import dataclasses
from collections.abc import Iterable

from tracker.job import Gauge, Job
from tracker.record.kinds import GaugeInfo
from tracker.units import convert


def with_register(job: Job, register: Iterable[GaugeInfo]) -> Job:
    """Return a job with what the register knows of its gauges.

    Parameters
    ----------
    job : Job
    register : iterable of GaugeInfo

    Returns
    -------
    Job
        What the job itself states of a gauge stays, all but the date of its next calibration: a gauge is calibrated
        again while a job runs, and the drawing knows nothing of it.
    """
    known = {info.name: info for info in register}
    gauges = dict(job.gauges)
    for name in {feature.gauge for feature in job.features.values() if feature.gauge is not None} & set(known):
        info = known[name]
        if name in gauges:
            gauges[name] = dataclasses.replace(gauges[name], due=info.due or gauges[name].due)
        else:
            gauges[name] = gauge_of(info, job.unit)
    return job if gauges == dict(job.gauges) else dataclasses.replace(job, gauges=gauges)


def gauge_of(info: GaugeInfo, unit: str) -> Gauge:
    """Return a gauge of the register as a job in ``unit`` describes it."""

    def here(value: float | None) -> float | None:
        return None if value is None else convert(value, info.unit, unit)

    return Gauge(
        name=info.name,
        resolution=here(info.resolution),
        calibration=here(info.calibration) or 0.0,
        correction=here(info.correction) or 0.0,
        due=info.due,
    )
