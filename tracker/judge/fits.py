"""One fit judged: two measured batches meet in one question, will they go together."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

import numpy as np

from tracker.decide import Verdict, verdict
from tracker.decide.words import listed, plural, share
from tracker.errors import NotEnoughData
from tracker.fit import Chance, Closure, Pairing, Target, chance_any, closure
from tracker.judge.answers import FeatureCheck, FitCheck, LeftOver, PairRow, PlannedPair
from tracker.judge.cuts import NextCut, cut_to_suit, planned_cuts, target_of
from tracker.judge.features import attempt
from tracker.judge.joined import Joined, own_pairing
from tracker.judge.joints import press_of, seat_of
from tracker.judge.meeting import Meeting, meeting
from tracker.judge.planned import planned_pairs
from tracker.judge.words import Scale, plain_name
from tracker.spread.one_sided import some_of

if TYPE_CHECKING:
    from tracker.job import Fit, Job


def judge_fit(
    job: Job, fit: Fit, features: Mapping[str, FeatureCheck], cut: NextCut | None, joined: Joined | None
) -> FitCheck:
    """Return the answer for one fit.

    Parameters
    ----------
    job, fit : Job, Fit
    features : mapping of str to FeatureCheck
        Both sides, judged already.
    cut : NextCut or None
        The next cut; None while a side is not measured.
    joined : Joined or None
        The assembly that the fit is in, judged; None while a side is not measured.

    Returns
    -------
    FitCheck
    """
    inner, outer = features[fit.internal], features[fit.external]
    a, b = inner.sizes, outer.sizes
    if a is None or b is None or joined is None or cut is None:
        return _one_sided(job, fit, inner, outer)
    pairing = own_pairing(joined, fit.name, is_fit=True)
    reasons = dict(joined.reasons)
    chance = joined.chance
    if joined.several:
        chance = attempt(reasons, "chance", lambda: _chance(fit, inner, outer))
    reasons |= cut.reasons
    press = seat = None
    planned = planned_pairs(fit, joined, features)
    met = _meeting(fit, joined, pairing, planned, features)
    if fit.press and met.gaps.size:
        press = attempt(reasons, "press", lambda: press_of(job, fit, met.gaps))
    if fit.seat:
        seat = attempt(reasons, "seat", lambda: seat_of(job, fit))
    return FitCheck(
        name=fit.name,
        internal=fit.internal,
        external=fit.external,
        gap_lower=fit.gap_lower,
        gap_upper=fit.gap_upper,
        target=fit.aim,
        mean_gap=float(a.size.mean() - b.size.mean()),
        verdict=joined.verdict,
        chance=chance,
        from_drawing=None,
        pairing=pairing,
        pairs=_pair_rows(fit, joined, pairing, features),
        left_over=_left_over(fit, joined),
        classes=joined.trays,
        best_target=cut.target,
        cut_next=cut.side,
        cut_to=cut.cut_to,
        shift=cut.shift,
        plan=joined.plan,
        planned_cuts=planned_cuts(
            job.features[cut.side],
            cut.shift,
            joined.plan,
            joined.column(fit.name, is_fit=True),
            "internal" if cut.side in joined.tables[0].features else "external",
            Scale(job.unit, min(inner.step, outer.step)),
        ),
        planned=planned,
        press=press,
        press_over=met.over,
        seat=seat,
        assembly=joined.assembly.name if joined.several else None,
        reasons=reasons,
    )


def _chance(fit: Fit, inner: FeatureCheck, outer: FeatureCheck) -> Chance:
    """Return the chance of this fit alone, the other demands of its assembly left out."""
    a, b = inner.sizes, outer.sizes
    assert a is not None and b is not None
    common = float(np.hypot(a.common_uncertainty, b.common_uncertainty))
    return chance_any(
        a.size, b.size, fit.gap_lower, fit.gap_upper, (a.uncertainty, b.uncertainty), common_uncertainty=common
    )


def _meeting(
    fit: Fit,
    joined: Joined,
    pairing: Pairing,
    planned: Sequence[PlannedPair],
    features: Mapping[str, FeatureCheck],
) -> Meeting:
    """Return the pairs of this fit that its verdict lets meet."""
    sides = []
    for name in (fit.internal, fit.external):
        found = features[name].sizes
        assert found is not None
        pieces = next(table.piece for table in joined.tables if name in table.features)
        place = {piece: index for index, piece in enumerate(found.piece)}
        sides.append(found.size[[place[piece] for piece in pieces]])
    gaps = [pair.gap for pair in planned if pair.gap is not None]
    return meeting(joined.verdict.word, sides[0], sides[1], joined.trays, pairing.gap, gaps)


def _one_sided(job: Job, fit: Fit, inner: FeatureCheck, outer: FeatureCheck) -> FitCheck:
    """Return the answer when a side has no sizes: the target for the part not made yet.

    A side that is known from one side only is made; nothing is said then that its sizes could gainsay.
    """
    if inner.one_sided or outer.one_sided:
        return _held_up(job, fit, inner, outer)
    scale = Scale(job.unit, min(inner.step, outer.step))
    names = (plain_name(fit.internal), plain_name(fit.external))
    reasons: dict[str, str] = {}
    measured, missing = (inner, outer) if outer.sizes is None else (outer, inner)
    target, cut_to = None, None
    found = measured.sizes
    if found is not None:
        target = attempt(reasons, "best_target", lambda: target_of(job, fit, found, None, missing.name))
        cut_to = cut_to_suit(fit, found, target, missing.name)
    for item in (inner, outer):
        if item.sizes is None:
            reasons[item.name] = item.reasons.get("sizes", f"{item.name} has no readings")
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
    unmade = missing.name if measured.sizes is not None else None
    return _without_pairs(fit, word, reasons, drawn=drawn, target=target, cut_next=unmade, cut_to=cut_to)


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
    cut_next: str | None = None,
    cut_to: float | None = None,
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
        cut_next=cut_next,
        cut_to=cut_to,
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


def _pair_rows(fit: Fit, joined: Joined, pairing: Pairing, features: Mapping[str, FeatureCheck]) -> tuple[PairRow, ...]:
    """Return the pairs with the names and sizes of this fit's own features."""
    sizes = {}
    for name in (fit.internal, fit.external):
        found = features[name].sizes
        assert found is not None
        sizes[name] = dict(zip(found.piece, found.size.tolist()))
    spread = np.atleast_1d(pairing.uncertainty)
    inner, outer = joined.tables
    swapped = fit.external in inner.features  # the inner part of the assembly may carry the external feature
    rows = []
    for row, (i, j) in enumerate(zip(pairing.internal, pairing.external)):
        pieces = inner.piece[int(i)], outer.piece[int(j)]
        one, other = reversed(pieces) if swapped else pieces
        rows.append(
            PairRow(
                internal=one,
                external=other,
                internal_size=sizes[fit.internal][one],
                external_size=sizes[fit.external][other],
                gap=float(pairing.gap[row]),
                margin=float(pairing.margin[row]),
                uncertainty=float(spread[row]),
                near=bool(pairing.near[row]),
            )
        )
    return tuple(rows)


def _left_over(fit: Fit, joined: Joined) -> tuple[LeftOver, ...]:
    """Return the pieces without a mate, called by this fit's own features."""
    own = {
        table.features[0]: next(name for name in (fit.internal, fit.external) if name in table.features)
        for table in joined.tables
    }
    return tuple(LeftOver(feature=own[item.feature], piece=item.piece, why=item.why) for item in joined.left_over())


def worst(verdicts: Sequence[Verdict]) -> Verdict:
    """Return the verdict that holds the whole job up the most; of several one with pieces to set aside, the first."""
    order = ("cannot say", "measure better", "remake", "rework", "sort", "pair", "press as they come")
    return min(verdicts, key=lambda item: (order.index(item.word), not item.unread))
