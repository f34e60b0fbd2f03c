"""A fit of which a side has no sizes: what to cut it to, how close, and what may be expected then."""

from __future__ import annotations

import dataclasses
from collections.abc import Sequence
from typing import TYPE_CHECKING

from tracker.decide import Verdict, verdict
from tracker.decide.words import count, listed, plural, share
from tracker.errors import NotEnoughData
from tracker.fit import Closure, Target, Unmade, closure, unmade
from tracker.judge.answers import FeatureCheck, FitCheck
from tracker.judge.cuts import cut_to_suit, spread_stated, target_of
from tracker.judge.features import attempt
from tracker.judge.misses import misses_of
from tracker.judge.words import Scale, plain_name
from tracker.spread.one_sided import some_of

if TYPE_CHECKING:
    from tracker.job import Feature, Fit, Job
    from tracker.spread import Sizes


def one_side(job: Job, fit: Fit, inner: FeatureCheck, outer: FeatureCheck) -> FitCheck:
    """Return the answer when a side has no sizes: the target for the part not made yet.

    A side that is known from one side only is made; nothing is said then that its sizes could gainsay.
    """
    if inner.one_sided or outer.one_sided:
        return _held_up(job, fit, inner, outer)
    scale = Scale(job.unit, min(inner.step, outer.step))
    names = (plain_name(fit.internal), plain_name(fit.external))
    reasons: dict[str, str] = {}
    measured, missing = (inner, outer) if outer.sizes is None else (outer, inner)
    target = cut_to = expected = drawn = None
    found = measured.sizes
    if found is not None:
        target = attempt(reasons, "best_target", lambda: target_of(job, fit, found, None, missing.name))
        cut_to = cut_to_suit(fit, found, target, missing.name) or _middle(fit, found, missing.name)
    for item in (inner, outer):
        if item.sizes is None:
            reasons[item.name] = item.reasons.get("sizes", f"{item.name} has no readings")
    if found is not None and cut_to is not None:
        expected = _expected(job, fit, found, missing.name, cut_to)
    else:
        drawn = attempt(reasons, "from_drawing", lambda: _from_drawing(job, fit, inner, outer))
    word = verdict(
        internal=0 if inner.sizes is None else len(inner.sizes),
        external=0 if outer.sizes is None else len(outer.sizes),
        assurance=job.assurance,
        target=cut_to,
        drawing="" if drawn is None else drawing_words(drawn),
        names=names,
        say=scale.say,
    )
    if expected is None:
        return _without_pairs(fit, word, reasons, drawn=drawn, target=target)
    leans = "" if fit.target is not None or target is None else misses_of(job, job.features[missing.name]).leans
    return dataclasses.replace(
        _without_pairs(fit, word, reasons, target=target),
        cut_next=missing.name,
        cut_to=cut_to,
        unmade=expected,
        unmade_words=_unmade_words(expected, job.features[missing.name], leans, scale),
    )


def _middle(fit: Fit, mates: Sizes, side: str) -> float | None:
    """Return the size that leaves the extreme mates the same room, where no spread is known to weigh them by."""
    if fit.gap_lower is None or fit.gap_upper is None:
        return None
    gap = (fit.gap_lower + fit.gap_upper) / 2
    return float(mates.size.min() + mates.size.max()) / 2 + (gap if side == fit.internal else -gap)


def _expected(job: Job, fit: Fit, mates: Sizes, side: str, cut_to: float) -> Unmade:
    return unmade(
        mates.size,
        cut_to,
        fit.gap_lower,
        fit.gap_upper,
        "external" if side == fit.external else "internal",
        sd=spread_stated(job.features[side]),
        uncertainty=mates.uncertainty,
        common_uncertainty=mates.common_uncertainty,
        assurance=job.assurance,
    )


def _unmade_words(found: Unmade, feature: Feature, leans: str, scale: Scale) -> str:
    """Return what may be expected of the parts to be cut, and how closely they must be held."""
    name, asked = plain_name(feature.name), share(found.assurance)
    these = plural(name)
    words = f"{these} cut to {scale.size(found.target)} {scale.unit}"
    if found.sd is None:
        words += f": how many pairs will be good hangs on the spread of the {these}, which is not known"
    else:
        whose = (
            "the spread that the job states" if feature.spread is not None else "a sixth of their tolerance as spread"
        )
        rule = "" if feature.spread is not None else ", a rule of thumb"
        good, tight, loose = (share(part or 0.0) for part in (found.share_good, found.share_tight, found.share_loose))
        words += (
            f" with {whose} ({scale.say(found.sd)}{rule}): a pair is good with {good} chance, too tight with"
            f" {tight}, too loose with {loose}"
        )
    if leans:
        words += f"; the size leans to the {leans} side, where a miss costs less"
    mates = count(found.n_mates, "pair")
    every = f"all {mates}" if found.n_mates > 1 else "the pair"
    if found.sd_allowed is None:
        return (
            f"{words}. No spread is small enough for {every} to be good with {asked} chance: the mates differ too much."
        )
    return (
        f"{words}. For {every} to be good with {asked} chance their spread may be {scale.say(found.sd_allowed)} at most"
        " (standard deviation)."
    )


def _held_up(job: Job, fit: Fit, inner: FeatureCheck, outer: FeatureCheck) -> FitCheck:
    """Return the answer when pieces are known from one side only: that, and what to measure."""
    reasons = {
        item.name: item.reasons.get("sizes", f"{item.name} has no readings")
        for item in (inner, outer)
        if item.sizes is None
    }
    return _without_pairs(fit, one_sided_verdict(job, (inner, outer)), reasons)


def _without_pairs(
    fit: Fit,
    word: Verdict,
    reasons: dict[str, str],
    *,
    drawn: Closure | None = None,
    target: Target | None = None,
) -> FitCheck:
    """Return the answer for a fit of which no pair can be looked at."""
    return FitCheck(
        name=fit.name,
        internal=fit.internal,
        external=fit.external,
        gap_lower=fit.gap_lower,
        gap_upper=fit.gap_upper,
        target=fit.aim,
        mean_gap=None,
        verdict=word,
        chance=None,
        from_drawing=drawn,
        pairing=None,
        pairs=(),
        left_over=(),
        classes=None,
        best_target=target,
        cut_next=None,
        cut_to=None,
        shift=None,
        plan=None,
        reasons=reasons,
    )


def one_sided_verdict(job: Job, features: Sequence[FeatureCheck]) -> Verdict:
    """Return the verdict where pieces of some of these features are known from one side only, and nothing bounds them.

    Parameters
    ----------
    job : Job
    features : sequence of FeatureCheck
        All that the question rests on.
    """
    open_ones = [item for item in features if item.one_sided]
    names = [plain_name(item.name) if len(item.one_sided) == 1 else plural(plain_name(item.name)) for item in open_ones]
    pieces = [f"{name} {some_of(item.one_sided)}" for name, item in zip(names, open_ones)]
    missing = [plain_name(item.name) for item in features if item.sizes is None and not item.one_sided]
    also = f" Then measure {listed(missing)}." if missing else ""
    return Verdict(
        word="measure better",
        reason=f"What goes together cannot be said: {'; '.join(item.reasons['sizes'] for item in open_ones)}.",
        action=f"Try the missing gauge on {'; '.join(pieces)}, or take readings with numbers.{also}",
        what_would_change_it="The readings that are missing.",
        assurance=job.assurance,
        wanted=0,
        internal=0,
        external=0,
        method="a piece known from one side only has no size",
    )


def _from_drawing(job: Job, fit: Fit, inner: FeatureCheck, outer: FeatureCheck) -> Closure:
    """Return the gap with the drawing in place of what is not measured: its aim and stated spread, else its limits."""
    terms: dict[str, tuple[float, object]] = {}
    for factor, item in ((1.0, inner), (-1.0, outer)):
        feature = job.features[item.name]
        if item.sizes is not None and len(item.sizes) > 1:
            terms[item.name] = (factor, item.sizes.size)
        elif feature.spread is not None:
            terms[item.name] = (factor, (feature.aim, feature.spread))
        elif feature.lower is None or feature.upper is None:
            raise NotEnoughData(
                f"{item.name} has no limits of size to reckon with; give lower and upper, or target and spread,"
                " in job.toml"
            )
        else:
            terms[item.name] = (factor, ((feature.lower + feature.upper) / 2, feature.lower, feature.upper))
    return closure(terms, fit.gap_lower, fit.gap_upper)


def drawing_words(drawn: Closure) -> str:
    """Return what the drawing says of a fit, with the assumption it rests on."""
    sources = {item.source for item in drawn.contributions}
    assumed = []
    if "stated spread" in sources:
        assumed.append("sizes about their aim with the spread that the job states")
    if "drawing" in sources:
        assumed.append(
            "sizes about the middle of their limits, which are six standard deviations apart: a rule of thumb"
        )
    return (
        f"With the drawing for what is not measured ({'; '.join(assumed)}) a pair is good with {share(drawn.chance)}"
        " chance."
    )
