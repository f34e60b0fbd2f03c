"""The main job from one end to the other: a job and its readings in, a `Check` out."""

from __future__ import annotations

import dataclasses
import datetime
import hashlib
from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from tracker.decide import Verdict
from tracker.errors import JobError, NotEnoughData
from tracker.job import Job, load_job
from tracker.judge.answers import Check, ClosureCheck, FeatureCheck, FitCheck, ReadingsCount, Unsized
from tracker.judge.closures import judge_closure
from tracker.judge.cuts import NextCut, beyond_drawing, next_cut
from tracker.judge.features import Happening, judge_feature
from tracker.judge.fits import judge_fit, worst
from tracker.judge.joined import Joined, assembly_check, join
from tracker.judge.operators import operator_remarks
from tracker.judge.parts import Assembly, Parts, assemblies_of, parts_of
from tracker.judge.strength import with_presses
from tracker.judge.unsized import remarks_of, said_of, unsized_of, with_set_aside
from tracker.judge.words import Scale, outside_words, plain_name
from tracker.plurals import noun

if TYPE_CHECKING:
    import pandas as pd

    from tracker.readings import Import

FINGERPRINTED = ("batch", "feature", "piece", "position", "repeat", "kind", "value", "low", "high")


def check(
    job: Job | str | Path,
    readings: Import | None = None,
    events: Sequence[Happening] | None = None,
    *,
    today: datetime.date | None = None,
) -> Check:
    """Return the whole job judged: everything that ``tenthwise check`` prints.

    Parameters
    ----------
    job : Job, or path of a folder with a job.toml
    readings : Import, optional
        What was measured; read from the job's folder when not given.
    events : sequence of Happening, optional
        Read from the folder's events.csv when not given.
    today : datetime.date, optional
        For the remark on gauges past their calibration date; none is overdue without it.

    Returns
    -------
    Check

    Raises
    ------
    TrackerError
        If the job or its files cannot be read. What the data cannot answer is no error: it stands in ``reasons``.
    """
    if not isinstance(job, Job):
        job = load_job(job)
    if readings is None or events is None:
        from tracker.readings import read_events

        if job.folder is None:
            raise JobError("this job has no folder to read from; hand its readings and events over as arguments")
        readings = readings_of(job.folder, job) if readings is None else readings
        events = read_events(job.folder, job) if events is None else events
    frame = readings.readings
    by_feature = dict(iter(frame.groupby("feature", sort=False)))
    empty = frame.iloc[0:0]
    features = {
        name: judge_feature(job, feature, by_feature.get(name, empty), events) for name, feature in job.features.items()
    }
    parts = parts_of(job, frame)
    cuts = _cuts(job, features)
    unsized = unsized_of(job, readings)
    joined, apart = _joined(job, parts, features, cuts, unsized)
    of = {(demand.name, demand.is_fit): item for item in joined for demand in item.assembly.demands}
    fits = tuple(judge_fit(job, fit, features, cuts.get(name), of.get((name, True))) for name, fit in job.fits.items())
    closures = tuple(
        _set_aside(judge_closure(job, terms, features, of.get((name, False)), parts), terms.terms, unsized)
        for name, terms in job.closures.items()
    )
    begun = [
        item.verdict
        for item, terms in zip(closures, job.closures.values())
        if not fits or any(features[name].sizes is not None or features[name].one_sided for name in terms.terms)
    ]
    verdicts = [*(fit.verdict for fit in fits), *begun]
    return Check(
        job=job.name,
        unit=job.unit,
        assurance=job.assurance,
        verdict=worst(verdicts) if verdicts else _no_fit(job),
        fits=fits,
        closures=closures,
        assemblies=tuple(assembly_check(item) for item in joined if item.several),
        unsized=tuple(unsized.values()),
        features=tuple(features.values()),
        readings=ReadingsCount(
            good=len(frame),
            suspect=len(readings.suspects),
            refused=len(readings.refused),
            duplicates=readings.duplicates,
            fingerprint=fingerprint(frame),
        ),
        understood=readings.understood,
        remarks=(
            *job.remarks,
            *parts.remarks,
            *apart,
            *_beyond_drawing(job, fits, features),
            *_outside(job, features),
            *remarks_of(job, readings, unsized),
            *_overdue(job, frame, today),
            *operator_remarks(features, job.unit),
            *_marked(frame),
        ),
    )


def _set_aside(found: ClosureCheck, terms: Iterable[str], unsized: Mapping[str, Unsized]) -> ClosureCheck:
    """Return a closure with what has no size of its terms set aside by its verdict."""
    return dataclasses.replace(found, verdict=with_set_aside(found.verdict, said_of(unsized, terms)))


def _cuts(job: Job, features: Mapping[str, FeatureCheck]) -> dict[str, NextCut]:
    """Return the next cut of every fit with both sides measured."""
    return {
        name: next_cut(job, fit, features)
        for name, fit in job.fits.items()
        if features[fit.internal].sizes is not None and features[fit.external].sizes is not None
    }


def _joined(
    job: Job,
    parts: Parts,
    features: Mapping[str, FeatureCheck],
    cuts: Mapping[str, NextCut],
    unsized: Mapping[str, Unsized],
) -> tuple[list[Joined], list[str]]:
    """Return every assembly judged, and remarks on those whose demands had to be judged one by one."""
    measured = [name for name, item in features.items() if item.sizes is not None]
    found, remarks = [], []
    for assembly in assemblies_of(job, parts, measured):
        try:
            found.append(with_presses(job, join(job, assembly, features, cuts, unsized), features))
        except NotEnoughData as error:
            remarks.append(f"{assembly.name} are judged one by one: {error}")
            for demand in assembly.demands:
                if demand.inner and demand.outer:
                    lone = join(job, Assembly(demands=(demand,)), features, cuts, unsized)
                    found.append(with_presses(job, lone, features))
    return found, remarks


def readings_of(folder: Path, job: Job, *, keep_suspects: bool = False) -> Import:
    """Return what the readings files of a job's folder hold; nothing when there is none yet.

    Raises
    ------
    TrackerError
        If a file cannot be read.
    """
    from tracker.readings import Import, read_readings, readings_frame
    from tracker.readings.files import readings_files
    from tracker.readings.imports import refused_frame

    if readings_files(folder):
        return read_readings(folder, job, keep_suspects=keep_suspects)
    suspects = readings_frame().assign(question="", suggestion="")
    said = f"no readings file in {folder.name}; the answer is the drawing's alone"
    return Import(
        readings=readings_frame(), suspects=suspects, refused=refused_frame([]), understood=(said,), unit=job.unit
    )


def fingerprint(frame: pd.DataFrame) -> str:
    """Return a SHA-256 over the readings that count, whatever the order of rows and wherever they are kept."""
    columns = [
        list(map(repr, frame[name].tolist())) if name in ("value", "low", "high") else frame[name].astype(str).tolist()
        for name in FINGERPRINTED
    ]
    lines = sorted("\x1f".join(row) for row in zip(*columns))
    return hashlib.sha256("\n".join(lines).encode("utf-8")).hexdigest()


def _no_fit(job: Job) -> Verdict:
    return Verdict(
        word="cannot say",
        reason="No fit is stated, so whether anything goes together cannot be said.",
        action="Add a [fits.NAME] with internal, external and gap to job.toml; the features are judged below.",
        what_would_change_it="A fit with both sides measured.",
        assurance=job.assurance,
        wanted=0,
        internal=0,
        external=0,
        method="no fit",
    )


def _beyond_drawing(job: Job, fits: Sequence[FitCheck], features: Mapping[str, FeatureCheck]) -> tuple[str, ...]:
    """Return where a part would be cut outside its own drawing to suit its mates."""
    words = []
    for fit in fits:
        if fit.cut_next is None:
            continue
        scale = Scale(job.unit, min(features[name].step for name in (fit.internal, fit.external)))
        mates = fit.internal if fit.cut_next == fit.external else fit.external
        words.append(beyond_drawing(job.features[fit.cut_next], fit.cut_to, scale, mates))
    return tuple(word for word in words if word is not None)


def _outside(job: Job, features: Mapping[str, FeatureCheck]) -> tuple[str, ...]:
    """Return which measured pieces are outside their own drawing: they may go together and still not be to it."""
    found = (outside_words(item, Scale(job.unit, item.step)) for item in features.values())
    return tuple(f"not to the drawing: {words}" for words in found if words)


def _overdue(job: Job, frame: pd.DataFrame, today: datetime.date | None) -> tuple[str, ...]:
    """Return which readings without a time rest on a gauge past its date; those with a time are marked one by one."""
    if today is None:
        return ()
    words = []
    for name, feature in job.features.items():
        gauge = job.gauge_of(name)
        if gauge is None or gauge.due is None or gauge.due >= today:
            continue
        count = int(((frame["feature"] == name) & frame["time"].isna()).sum())
        if count:
            readings = f"{count} readings of" if count > 1 else "1 reading of"
            words.append(
                f"the calibration of the {gauge.name} was due on {gauge.due.isoformat()}: {readings}"
                f" {plain_name(feature.name)} {'have' if count > 1 else 'has'} no time and may be of later"
            )
    return tuple(words)


def _marked(frame: pd.DataFrame) -> tuple[str, ...]:
    marked = frame[frame["suspect"] != ""]
    return tuple(
        f"{len(group)} {noun(len(group), 'reading')} of {plain_name(str(feature))}"
        f" {noun(len(group), 'counts but is', 'count but are')} marked: {suspect}"
        for (feature, suspect), group in marked.groupby(["feature", "suspect"], sort=False)
    )
