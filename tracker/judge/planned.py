"""The pairs of a plan as one fit sees them: pieces by their names, sizes as they read or as they are cut."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

from tracker.decide.edges import NOT_MADE
from tracker.decide.plan_results import PlanPair
from tracker.judge.answers import FeatureCheck, PlannedPair

if TYPE_CHECKING:
    from tracker.job import Fit
    from tracker.judge.joined import Joined


def planned_pairs(fit: Fit, joined: Joined, features: Mapping[str, FeatureCheck]) -> tuple[PlannedPair, ...]:
    """Return every assembly that the plan makes; nothing where it neither reworks nor remakes a piece.

    The gap is that of the sizes beside it, as they read and as they are cut, so that it can be checked on paper; the
    plan itself weighs the likeliest gap.
    """
    plan = joined.plan
    if plan is None or not (plan.reworked or plan.remade):
        return ()
    column = joined.column(fit.name, is_fit=True)
    swapped = fit.external in joined.tables[0].features  # the inner part of the assembly may carry the external feature
    sides = (("external", fit.internal), ("internal", fit.external))
    if not swapped:
        sides = (("internal", fit.internal), ("external", fit.external))
    found = []
    for pair in plan.pairs:
        if pair.way == NOT_MADE:
            continue
        names, sizes, cuts = [], [], []
        for side, feature in sides:
            name, size, cut = _one(pair, side, feature, column, joined, features)
            names.append(name)
            sizes.append(size)
            cuts.append(cut)
        gap = sizes[0] - sizes[1] if sizes[0] is not None and sizes[1] is not None else _expected(pair, column)
        found.append(
            PlannedPair(
                internal=names[0],
                external=names[1],
                internal_size=sizes[0],
                external_size=sizes[1],
                internal_cut=cuts[0],
                external_cut=cuts[1],
                gap=gap,
                chance=pair.chance,
                work=pair.way,
            )
        )
    return tuple(found)


def _one(
    pair: PlanPair,
    side: str,
    feature: str,
    column: int,
    joined: Joined,
    features: Mapping[str, FeatureCheck],
) -> tuple[str | None, float | None, bool]:
    """Return the name of a side's piece (None: new), its size in the assembly (None: open), and whether it is cut."""
    index = pair.internal if side == "internal" else pair.external
    table = joined.tables[0 if side == "internal" else 1]
    name = None if index is None else table.piece[index]
    cut = next((one.size for one in pair.cuts if one.gap == column and one.side == side), None)
    if cut is not None:
        return name, cut, True
    sizes = features[feature].sizes
    if name is None or sizes is None:
        return name, None, name is None
    return name, float(sizes.size[sizes.piece.index(name)]), False


def _expected(pair: PlanPair, column: int) -> float | None:
    """Return the gap that the plan expects, where both pieces are made to suit each other."""
    return pair.gaps[column] if column < len(pair.gaps) else None
