"""A job judged outside the record, for the commands: a folder, or what `tracker.cli.source` found."""

from __future__ import annotations

import datetime
from typing import TYPE_CHECKING

from dashboard.parts.answers import Answer, paired_alike
from dashboard.parts.conversion import events_in, job_in, readings_in
from tracker.judge import check
from tracker.readings import Event

if TYPE_CHECKING:
    from tracker.cli.source import Source


def answer_of(source: Source, unit: str = "") -> Answer:
    """Return a job judged, in ``unit`` or its own.

    Raises
    ------
    TrackerError
        If the job cannot be judged at all.
    """
    own, today = source.job, datetime.date.today()
    events = [
        Event(
            feature=item.feature,
            after_piece=item.after_piece,
            event=item.event,
            amount=item.amount,
            batch=getattr(item, "batch", ""),
        )
        for item in source.events
    ]
    judged = check(own, source.readings, events, today=today)
    shown = unit or own.unit
    job, readings, shown_events = own, source.readings, events
    if shown != own.unit:
        job = job_in(own, shown)
        readings = readings_in(source.readings, own.unit, shown)
        shown_events = events_in(events, own.unit, shown)
        judged = paired_alike(check(job, readings, shown_events, today=today), judged)
    return Answer(
        job_id=0, job=job, own_unit=own.unit, unit=shown, check=judged, readings=readings, events=shown_events
    )
