"""One fit judged: two measured batches meet in one question, will they go together."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

import numpy as np

from tracker.decide import Verdict
from tracker.fit import Chance, Pairing, chance_any
from tracker.judge.answers import FeatureCheck, FitCheck, LeftOver, PairRow
from tracker.judge.cuts import NextCut, planned_cuts
from tracker.judge.features import attempt
from tracker.judge.joined import Joined, own_pairing
from tracker.judge.joints import seat_of
from tracker.judge.planned import planned_pairs
from tracker.judge.strength import NO_SHIFT
from tracker.judge.unmade import one_side
from tracker.judge.words import Scale

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
        return one_side(job, fit, inner, outer)
    pairing = own_pairing(joined, fit.name, is_fit=True)
    reasons = dict(joined.reasons)
    chance = joined.chance
    if joined.several:
        chance = attempt(reasons, "chance", lambda: _chance(fit, inner, outer))
    reasons |= cut.reasons
    seat = None
    planned = planned_pairs(fit, joined, features)
    pressed = joined.pressed.get(fit.name)
    if pressed is not None and pressed.why:
        reasons["press"] = pressed.why
    shift = cut.shift
    if shift is not None and pressed is not None and pressed.press is not None and pressed.press.yielding:
        shift, reasons["shift"] = None, NO_SHIFT
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
        shift=shift,
        plan=joined.plan,
        planned_cuts=planned_cuts(
            job.features[cut.side],
            shift,
            joined.plan,
            joined.column(fit.name, is_fit=True),
            "internal" if cut.side in joined.tables[0].features else "external",
            Scale(job.unit, min(inner.step, outer.step)),
        ),
        planned=planned,
        press=None if pressed is None else pressed.press,
        press_over="" if pressed is None else pressed.over,
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
