"""A press beside the verdict: over which pairs it is, and no verdict to press where a part passes its strength."""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping
from typing import TYPE_CHECKING

from tracker.decide import Verdict
from tracker.fit.press_results import MARGIN, said, times, up_to
from tracker.judge.answers import BEYOND_STRENGTH, FeatureCheck
from tracker.judge.features import attempt
from tracker.judge.joined import Joined, Pressed, own_pairing
from tracker.judge.joints import press_of
from tracker.judge.meeting import PLANNED, Meeting, meeting
from tracker.judge.planned import planned_pairs
from tracker.judge.words import plain_name

if TYPE_CHECKING:
    from tracker.fit.press_results import PressFit
    from tracker.job import Fit, Job

BY_PLAN = "the pairs as the cheapest plan would have them"
NO_SHIFT = "by these gap limits the next pieces would be cut for more interference than a part stands"
NO_PLAN = "by these gap limits every plan ends at the press, and a part does not stand that"


def with_presses(job: Job, joined: Joined, features: Mapping[str, FeatureCheck]) -> Joined:
    """Return the assembly with the presses of its fits, each over the pairs that the verdict lets meet.

    Where a part passes its strength there, cold or in service, the gap limits cannot be answered by pressing: the
    verdict says so, and there is no plan. Every page, sheet and command takes it from here.
    """
    pressed = {}
    for demand in joined.assembly.demands:
        if demand.is_fit and job.fits[demand.name].press:
            found = _pressed(job, job.fits[demand.name], joined, features)
            if found is not None:
                pressed[demand.name] = found
    beyond = [name for name, item in pressed.items() if item.press is not None and item.press.yielding]
    if not beyond:
        return dataclasses.replace(joined, pressed=pressed)
    for name, item in pressed.items():
        if item.over == PLANNED:  # and that plan is not offered
            pressed[name] = dataclasses.replace(item, over=BY_PLAN)
    first = pressed[beyond[0]]
    assert first.press is not None
    return dataclasses.replace(
        joined,
        pressed=pressed,
        verdict=_no_press(joined.verdict, job.fits[beyond[0]], first.press, first.over, several=joined.several),
        plan=None,
        reasons={**joined.reasons, "plan": NO_PLAN},
    )


def _pressed(job: Job, fit: Fit, joined: Joined, features: Mapping[str, FeatureCheck]) -> Pressed | None:
    """Return the press over every pair of a fit that may meet, or why there is none; nothing where none may."""
    met = _meeting(fit, joined, features)
    if not met.gaps.size:
        return None
    why: dict[str, str] = {}
    press = attempt(why, "press", lambda: press_of(job, fit, met.gaps))
    return Pressed(press=press, over=met.over, why=why.get("press", ""))


def _meeting(fit: Fit, joined: Joined, features: Mapping[str, FeatureCheck]) -> Meeting:
    """Return the pairs of this fit that its verdict lets meet."""
    sides = []
    for name in (fit.internal, fit.external):
        found = features[name].sizes
        assert found is not None
        pieces = next(table.piece for table in joined.tables if name in table.features)
        place = {piece: index for index, piece in enumerate(found.piece)}
        sides.append(found.size[[place[piece] for piece in pieces]])
    gaps = [pair.gap for pair in planned_pairs(fit, joined, features) if pair.gap is not None]
    listed = own_pairing(joined, fit.name, is_fit=True).gap
    return meeting(joined.verdict.word, sides[0], sides[1], joined.trays, listed, gaps)


def _no_press(verdict: Verdict, fit: Fit, press: PressFit, over: str, *, several: bool) -> Verdict:
    """Return the verdict on pieces of which one would pass its strength: which, by how much, and what would do."""
    margins = press.margins if press.past_elastic or press.service is None else press.service.margins
    part = min(margins, key=lambda name: margins[name])
    called = {"outer": f"the {plain_name(fit.internal)}", "inner": f"the {plain_name(fit.external)}"}[part]
    where = f"in {plain_name(fit.name)}, " if several else ""
    reason = (
        f"{press.verdict} That is {where}over {over}: the margin of the {part} part ({called}) is"
        f" {times(margins[part])}, and {MARGIN:g} is asked."
    )
    stronger = f"a stronger or thicker {part} part"
    if press.service is not None and not press.past_elastic:
        stronger += ", or a service nearer to room temperature"
    unit = press.units["length"]
    keeps = _keeps(press)
    if keeps <= press.roughness_loss:
        action = f"Do not press. No interference keeps that margin: it takes {stronger}."
    elif fit.gap_upper is not None and keeps <= -fit.gap_upper:
        action = (
            f"Do not press. Up to {up_to(keeps, unit)} of interference keeps that margin, and the gap limits ask for"
            f" {said(-fit.gap_upper, unit)} or more: it takes other gap limits, or {stronger}."
        )
    elif fit.gap_lower is not None and keeps >= -fit.gap_lower:
        action = (
            f"Do not press. Up to {up_to(keeps, unit)} of interference keeps that margin, and the gap limits allow no"
            " more: press no pair that is outside them."
        )
    else:
        action = (
            f"Do not press. Up to {up_to(keeps, unit)} of interference keeps that margin: make -{up_to(keeps, unit)}"
            f" the lower gap limit and check again, or take {stronger}."
        )
    return dataclasses.replace(
        verdict,
        word="cannot say",
        reason=reason,
        action=action,
        what_would_change_it=f"Gap limits that the parts stand, or {stronger}.",
        method=BEYOND_STRENGTH,
    )


def _keeps(press: PressFit) -> float:
    """Return the most interference that keeps the margin that is asked, cold and in service."""
    keeps = press.at_margin(MARGIN)
    if press.service is not None:
        hot = press.service.effective_interference.high
        keeps = min(keeps, press.interference.high - hot * (1 - min(press.service.margins.values()) / MARGIN))
    return keeps
