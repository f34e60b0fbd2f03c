"""The gauges of a job judged: every feature with what is known of its gauge."""

from __future__ import annotations

import datetime

from dashboard.figures.guard_bands import drawable
from dashboard.parts.answers import Answer
from tracker.judge import FeatureCheck, GaugeCheck, judge_gauge


def gauges_of(answer: Answer) -> list[tuple[GaugeCheck, FeatureCheck]]:
    """Return every feature with what is known of its gauge."""
    frame = answer.readings.readings
    return [(judge_gauge(answer.job, item, frame), item) for item in answer.check.features]


def drawn_rows(found: list[tuple[GaugeCheck, FeatureCheck]]) -> list[tuple[GaugeCheck, FeatureCheck]]:
    """Return those of them that can be drawn."""
    return [(item, feature) for item, feature in found if drawable(item, feature)]


def overdue(answer: Answer, today: datetime.date) -> list[str]:
    """Return the gauges in use that are past their calibration date."""
    used = {feature.gauge for feature in answer.job.features.values()}
    return [
        gauge.name
        for name, gauge in answer.job.gauges.items()
        if name in used and gauge.due is not None and gauge.due < today
    ]
