"""The one place where pages read the record: a job with its readings, judged once for each change."""

from __future__ import annotations

import dataclasses
import datetime
import threading
from collections import OrderedDict
from collections.abc import Callable, Hashable, Sequence
from dataclasses import dataclass
from functools import partial
from typing import TYPE_CHECKING, TypeVar, cast

from dashboard.figures.numbers import Numbers
from dashboard.parts.conversion import events_in, job_in, readings_in
from dashboard.parts.looking_back import LookingBack
from tracker.job import Job
from tracker.judge import Check, FeatureCheck, FitCheck, check
from tracker.record import LogEntry, Record, SignOff
from tracker.units import convert

if TYPE_CHECKING:
    from tracker.readings import Event, Import

MOST_KEPT = 64
Asked = TypeVar("Asked", bound=Hashable)
Made = TypeVar("Made")
PAIR_LENGTHS = ("internal_size", "external_size", "gap", "margin", "uncertainty")


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """A job judged, in the unit it is to be shown in.

    Attributes
    ----------
    job_id : int
    job : Job
        In ``unit``; ``own_unit`` is what the drawing and the machine speak.
    judged : callable
        Gives the readings that were struck out or confirmed, with who and when; none outside a record.
    sign_offs : sequence of SignOff
        What was signed off of it, newest first.
    """

    job_id: int
    job: Job
    own_unit: str
    unit: str
    check: Check
    readings: Import
    events: list[Event]
    judged: Callable[[], Sequence[LogEntry]] = tuple
    sign_offs: Sequence[SignOff] = ()

    def numbers(self, *features: str) -> Numbers:
        """Return how lengths of these features (of all, when none is named) are written."""
        found = [self.check.feature(name) for name in features] or list(self.check.features)
        return Numbers(self.unit, min(item.step for item in found))

    def fit(self, name: str) -> FitCheck | None:
        """Return the fit of that name, else the first; None when the job has none."""
        return next((fit for fit in self.check.fits if fit.name == name), next(iter(self.check.fits), None))

    def feature(self, name: str) -> FeatureCheck | None:
        """Return the feature of that name; else the first that is cut here, the first measured, the first."""
        features = self.check.features
        named = next((item for item in features if item.name == name), None)
        cut = {fit.cut_next for fit in self.check.fits}
        measured = [item for item in features if item.sizes is not None]
        return named or next((item for item in measured if item.name in cut), next(iter([*measured, *features]), None))


def paired_alike(shown: Check, own: Check) -> Check:
    """Return a job judged in another unit, with the very pairs and the fingerprint of the judgement in its own.

    Pieces of one size may change mates without loss; which do must not hang on the unit of the page.
    """
    fits = []
    for fit, origin in zip(shown.fits, own.fits):
        rows = [
            dataclasses.replace(
                row, **{name: convert(getattr(row, name), own.unit, shown.unit) for name in PAIR_LENGTHS}
            )
            for row in origin.pairs
        ]
        fits.append(dataclasses.replace(fit, pairs=tuple(rows), left_over=origin.left_over))
    assemblies = []
    for item, origin in zip(shown.assemblies, own.assemblies):
        pairs = tuple(
            dataclasses.replace(
                row,
                gaps={name: convert(gap, own.unit, shown.unit) for name, gap in row.gaps.items()},
                uncertainty={name: convert(half, own.unit, shown.unit) for name, half in row.uncertainty.items()},
                margin=convert(row.margin, own.unit, shown.unit),
            )
            for row in origin.pairs
        )
        assemblies.append(dataclasses.replace(item, pairs=pairs, left_over=origin.left_over))
    return dataclasses.replace(shown, fits=tuple(fits), assemblies=tuple(assemblies), readings=own.readings)


class Answers:
    """Judged jobs, kept until something changes; judged once however many ask. Safe to share between threads."""

    def __init__(self, record: Record) -> None:
        self.record = record
        self._kept: OrderedDict[tuple[int, str], tuple[int, Answer]] = OrderedDict()
        self._pages: OrderedDict[Hashable, tuple[Answer, object]] = OrderedDict()
        self._turn = threading.Lock()
        self._judging = threading.RLock()
        self.back = LookingBack(record)

    def mark(self) -> int:
        """Return a number that changes with every row the record keeps."""
        return self.record.last_change()

    def of(self, job_id: int, unit: str = "") -> Answer:
        """Return a job judged, in ``unit`` or its own.

        Raises
        ------
        RecordError
            If there is no such job, or the record cannot be read.
        TrackerError
            If the job cannot be judged at all.
        """
        mark = self.mark()
        with self._turn:
            found = self._kept.get((job_id, unit))
            if found is not None and found[0] == mark:
                self._kept.move_to_end((job_id, unit))
                return found[1]
        with self._judging:
            with self._turn:
                found = self._kept.get((job_id, unit))
            if found is not None and found[0] >= mark:
                return found[1]
            answer = self._judge(job_id, unit)
            with self._turn:
                self._kept[(job_id, unit)] = (mark, answer)
                while len(self._kept) > MOST_KEPT:
                    self._kept.popitem(last=False)
        return answer

    def made(self, make: Callable[[Answer, Asked], Made], answer: Answer, asked: Asked, who: Hashable = None) -> Made:
        """Return what is made of an answer, made once for each change and day however often it is asked for.

        ``who`` is who looks: what one may do stands on no page of another.
        """
        key = (make, asked, who, datetime.date.today())
        with self._turn:
            found = self._pages.get(key)
            if found is not None and found[0] is answer:
                self._pages.move_to_end(key)
                return cast("Made", found[1])
        page = make(answer, asked)
        with self._turn:
            self._pages[key] = (answer, page)
            while len(self._pages) > MOST_KEPT:
                self._pages.popitem(last=False)
        return page

    def _judge(self, job_id: int, unit: str) -> Answer:
        from tracker.readings import Event

        own = self.record.job(job_id)
        shown = unit or own.unit
        job = job_in(own, shown)
        readings = readings_in(self.record.readings(job_id), own.unit, shown)
        kept = [
            Event(
                feature=item.feature,
                after_piece=item.after_piece,
                event=item.event,
                amount=item.amount,
                batch=item.batch,
            )
            for item in self.record.events(job_id)
        ]
        events = events_in(kept, own.unit, shown)
        judged = check(job, readings, events, today=datetime.date.today())
        if shown != own.unit:
            judged = paired_alike(judged, self.of(job_id).check)
        return Answer(
            job_id=job_id,
            job=job,
            own_unit=own.unit,
            unit=shown,
            check=judged,
            readings=readings,
            events=events,
            judged=partial(self.record.judged, job_id),
            sign_offs=self.record.sign_offs(job_id),
        )
