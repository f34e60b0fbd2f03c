"""One question answered in plain text: pairing, next cut, wear, gauge."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from tracker.decide import Shift
from tracker.decide.words import count, listed, plural, share
from tracker.drift import watch_runs
from tracker.errors import NotEnoughData
from tracker.gauge import GuardedLimits, RepeatabilityStudy
from tracker.gauge.repeatability import share_words
from tracker.judge.answers import Check, FeatureCheck, FitCheck
from tracker.judge.assembly_text import no_press_lines
from tracker.judge.features import SEE_EVENTS
from tracker.judge.layout import chance_words, labelled, set_aside_lines
from tracker.judge.text import (
    finer,
    interval_words,
    left_over_lines,
    pair_table,
    wear_verdict,
    wear_words,
)
from tracker.judge.words import Scale, plain_name, signal_words
from tracker.plurals import noun

if TYPE_CHECKING:
    from tracker.fit import Classes
    from tracker.judge.gauges import GaugeCheck


def pair_lines(answer: Check, fit: FitCheck) -> Iterator[str]:
    """Yield the pairing of one fit, every pair a line."""
    inner, outer = answer.feature(fit.internal), answer.feature(fit.external)
    scale = Scale(answer.unit, min(inner.step, outer.step))
    pairing = fit.pairing
    if pairing is None:
        yield f"{plain_name(fit.name)}: cannot be paired"
        for reason in fit.reasons.values():
            yield from labelled("cannot say", reason)
        return
    possible = min(pairing.n_internal, pairing.n_external)
    yield f"{plain_name(fit.name)}: {pairing.good} of {possible} {noun(possible, 'pair')} within limits"
    if fit.assembly is not None:
        yield from labelled("at once", f"the pairs meet {plain_name(fit.assembly)}; gap and room are of this fit")
    if pairing.chance_all is not None:
        yield from labelled("chance", f"all these pairs hold: {chance_words(pairing.chance_all)}")
    yield from no_press_lines(fit)
    if pairing.worst_margin is not None and pairing.worst_margin != float("inf"):
        yield from labelled("worst", f"{scale.off(pairing.worst_margin, signed=False)} {scale.small} from its limit")
    if fit.pairs:
        yield from pair_table(fit, scale, most=None)
    yield from left_over_lines(fit)
    yield from set_aside_lines(fit.verdict)


def tray_lines(fit: FitCheck, found: Classes, scale: Scale) -> Iterator[str]:
    """Yield the trays that both sides of one fit are sorted into, a line each."""
    inner, outer = plain_name(fit.internal), plain_name(fit.external)
    wanted = min(found.n_internal, found.n_external)
    trays = len(found.labels)
    yield (
        f"{plain_name(fit.name)}: sorted into {count(trays, 'tray')} a side,"
        f" {found.expected_good:.1f} of {wanted} {noun(wanted, 'assembly is', 'assemblies are')} expected good"
    )
    yield from no_press_lines(fit)
    left = sum(map(abs, found.surplus.tolist()))
    outside = [
        count(there - int(sum(many)), name)
        for name, there, many in (
            (inner, found.n_internal, found.count_internal.tolist()),
            (outer, found.n_external, found.count_external.tolist()),
        )
        if there > sum(many)
    ]
    beyond = f"; in no tray, beyond the outer limits: {listed(outside)}" if outside else ""
    yield from labelled("left over", f"{count(left, 'piece')} without a mate in the tray{beyond}")
    for index, label in enumerate(found.labels):
        spans = [
            f"{plural(name)} {scale.size(float(edges[index]))} to {scale.size(float(edges[index + 1]))}"
            f" ({int(many[index])})"
            for name, edges, many in (
                (inner, found.edges_internal, found.count_internal),
                (outer, found.edges_external, found.count_external),
            )
        ]
        empty = not int(found.count_internal[index]) or not int(found.count_external[index])
        good = "no pair in it" if empty else f"of pairs good {chance_words(float(found.share[index]))}"
        yield from labelled(f"tray {label}", f"{', '.join(spans)} {scale.unit}; {good}")
    yield from labelled("how", f"a piece on an edge belongs to the tray above it; {found.method}")


def shift_lines(answer: Check, feature: FeatureCheck, shift: Shift) -> Iterator[str]:
    """Yield the next cut of one feature, and where it is the shift of a fit, the new pieces of its plan.

    What was found in the job about the feature stands with it: the sign of the offset may hang on it.
    """
    scale = Scale(answer.unit, feature.step)
    head = "leave it alone" if shift.leave_alone else f"shift by {scale.off(shift.change)} {scale.small}"
    yield f"{plain_name(feature.name)}: {head}"
    yield from labelled("do", shift.enter)
    for fit in answer.fits:
        if fit.shift is shift:
            for planned in fit.planned_cuts:
                yield from labelled("", planned.words)
    for remark in answer.remarks:
        if remark.startswith((f"[features.{feature.name}]", f'[features."{feature.name}"]')):
            yield from labelled("note", remark)
    yield from labelled("why", shift.reason)
    yield from labelled("target", f"{scale.size(shift.target)} {answer.unit}")
    yield from labelled("wanted", interval_words(shift.shift, scale.off, scale.small, signed=True))
    yield from labelled("noise", f"up to {scale.off(shift.noise, signed=False)} {scale.small} either way is noise")
    if shift.within_before is not None and shift.within_after is not None:
        yield from labelled(
            "within",
            f"coming pieces {shift.within}: {chance_words(shift.within_before)} untouched,"
            f" {chance_words(shift.within_after)} after",
        )
    yield from labelled("from", shift.method)


def why_not(feature: FeatureCheck, what: str) -> str:
    """Return why wear or shift cannot be said; where it is for an event, the event is named."""
    reason = feature.reasons.get(what) or feature.reasons.get("sizes") or "no readings"
    if SEE_EVENTS not in reason or "events" not in feature.reasons:
        return reason
    return f"{reason.replace(SEE_EVENTS, '')}: {feature.reasons['events']}"


def wear_lines(answer: Check, feature: FeatureCheck) -> Iterator[str]:
    """Yield the wear of one feature, run by run."""
    scale = Scale(answer.unit, feature.step)
    wear = feature.wear
    if wear is None:
        yield f"{plain_name(feature.name)}: {why_not(feature, 'wear')}"
        return
    yield f"{plain_name(feature.name)}: {wear_verdict(wear)}"
    yield from labelled("why", wear_words(feature, scale))
    yield from labelled("sure", f"a slope this far from zero without wear: {share(wear.p_value)}")
    if wear.one_slope_assumed:
        yield from labelled("mind", wear.one_slope_assumed)
    for run in wear.runs:
        words = f"pieces {run.first:g} to {run.last:g}"
        if run.event:
            words += f", after {run.event}"
        if run.slope is not None:
            words += f": {interval_words(run.slope, finer(scale), scale.small + ' a piece', signed=True)}"
        if run.jump is not None:
            words += f"; the size jumped {interval_words(run.jump, scale.off, scale.small, signed=True)}"
        yield from labelled("run", words)
    yield from _signal_lines(feature)


def _signal_lines(feature: FeatureCheck) -> Iterator[str]:
    if feature.sizes is None:
        return
    try:
        watched = watch_runs(feature.sizes.size, feature.events, feature.wear)
    except NotEnoughData as error:
        yield from labelled("signals", f"cannot be looked for: {error}")
        return
    if not watched.signals:
        yield from labelled("signals", f"nothing stands out from {watched.about}")
    for signal in watched.signals:
        yield from labelled("signal", signal_words(signal, feature.name, feature.sizes.piece))


def gauge_lines(answer: Check, item: GaugeCheck) -> Iterator[str]:
    """Yield what is known of the gauge of one feature."""
    scale = Scale(answer.unit, item.step)
    word = {True: "good enough", False: "not good enough", None: "cannot be judged"}[item.serves]
    yield f"{item.gauge or 'gauge'} on {plain_name(item.feature)}: {word}"
    yield from labelled("why", item.reason)
    if item.due is not None:
        yield from labelled("due", f"next calibration {item.due}")
    if item.resolution is not None:
        yield from labelled("resolution", item.resolution.words)
    if item.repeatability is not None:
        value = interval_words(item.repeatability, finer(scale), f"{scale.small} (standard deviation)")
        yield from labelled("repeats", value)
    if item.uncertainty is not None:
        yield from labelled(
            "uncertainty", f"{finer(scale)(item.uncertainty)} {scale.small} (standard), of one piece's size"
        )
    if item.guarded is not None:
        yield from labelled("accept", _accept_words(item.guarded, scale))
    if item.study is not None:
        measured = answer.feature(item.feature).sizes
        yield from labelled("study", study_words(item.study, scale, 0 if measured is None else len(measured)))
    for what, reason in item.reasons.items():
        yield from labelled("cannot say", f"{what}: {reason}")


def study_words(study: RepeatabilityStudy, scale: Scale, pieces: int) -> str:
    """Return what a study of operators says, lengths in the shop's small unit; whether it serves is said above it.

    ``pieces`` is how many pieces have a size: a study of several positions on each has more places than that.
    """
    write = finer(scale)
    judged = f"{share_words(study.share_of_total_interval)} of the total spread"
    if study.share_of_tolerance_interval is not None:
        judged = f"{share_words(study.share_of_tolerance_interval)} of the tolerance and {judged}"
    what = "piece" if study.pieces <= pieces else "place"
    words = f"one reading by any of the operators takes {judged}"
    if study.distinct_categories is not None:
        apart = count(study.distinct_categories, "category", "categories")
        words += f" and tells {apart} of these {plural(what)} apart"
    named = [f"repeatability {write(study.repeatability_sd.estimate)}"]
    if study.reproducibility_sd is not None:
        named.append(f"reproducibility {write(study.reproducibility_sd.estimate)}")
    named.append(f"{plural(what)} {write(study.piece_sd.estimate)}")
    repeats = "varying repeats" if study.repeats is None else count(study.repeats, "repeat")
    words += (
        f". Standard deviations: gauge {interval_words(study.gauge_sd, write, scale.small)}; {listed(named)}"
        f" {scale.small} ({count(study.pieces, what)}, {count(study.operators, 'operator')}, {repeats};"
        f" {study.method})."
    )
    return " ".join([words, *study.remarks])


def _accept_words(guarded: GuardedLimits, scale: Scale) -> str:
    low, high = guarded.accept_lower, guarded.accept_upper
    if low is not None and high is not None and low > high:
        return "no size that this gauge reads is surely within limits"
    ends = [f"{word} {scale.size(value)}" for word, value in (("from", low), ("to", high)) if value is not None]
    return f"sizes read {' '.join(ends)} are within limits with 95 % or more"
