"""The next cut in a sentence: why, and what to enter at the machine."""

from __future__ import annotations

import math

import numpy as np

from tracker.decide.levels import below
from tracker.decide.shift_terms import Terms
from tracker.decide.words import Say, count, first_up, share
from tracker.result import Interval

NEARER = 0.001
"""A drop of the share within limits from which on it is said."""

COARSE = 0.5
"""Share within limits at the best setting under which a step is called too coarse (common practice, no source)."""

LEAST_SAVED = 0.01
"""A saving under this is not worth a figure (our choice, no source)."""


def is_out(mean: float, terms: Terms) -> bool:
    """Return whether a mean lies beyond a limit."""
    under = terms.lower is not None and mean < terms.lower
    return under or (terms.upper is not None and mean > terms.upper)


def reason_of(
    because: str, wanted: Interval, noise: float, change: float, bias: Interval, terms: Terms, aimed: float
) -> str:
    """Return the sentence with the figures that decide; ``aimed`` is what is aimed off to the cheaper side."""
    level, say = terms.level, terms.say
    since = f" since the last event ({level.last_event})" if level.last_event else ""
    on_target = say(abs(bias.estimate)) == say(0.0)
    where = f"{'on' if on_target else _side(bias.estimate, say, 'above', 'below')} the target, {say(terms.target)}"
    seen = f"the last of {count(level.n, 'piece')}" if level.slope else f"the mean of {count(level.n, 'piece')}"
    if level.n == 1:
        seen = "the one piece"
    text = f"{first_up(seen)}{since} stands {where}"
    if level.slope:
        step = say(abs(level.slope))
        text += f" and size {'grows' if level.slope > 0 else 'falls'} by {step} a piece"
    ends = f"between {_side(wanted.low, say, 'larger', 'smaller')} and {_side(wanted.high, say, 'larger', 'smaller')}"
    if because == "noise" and say(level.scatter) == say(0.0):
        return f"{text}, and pieces that all read alike do not show what is noise; a finer gauge would."
    if because == "noise" and terms.settled:
        return f"{text}; set-ups are stated to land on their aim, so what the pieces are off is their own scatter."
    if because == "noise":
        text += "; with" if on_target else ", but with"
        text += (
            f" a spread of {say(level.scatter)} anything within {say(noise)} of it is noise "
            f"({share(wanted.confidence)} sure of the direction is asked), and chasing noise adds to the spread"
        )
        if not math.isinf(level.dof) and level.dof < 3:
            text += f"; {count(level.n_all, 'piece')} can hardly tell, measure more or state the spread"
        return text + "."
    if because == "under one step":
        text += f": the shift called for, {say(abs(wanted.estimate))}, is under half a step of the machine"
        return f"{text}{_too_coarse(terms)}."
    before, after = (terms.outcome(value)[1] for value in (0.0, change)) if terms.limited else (None, None)
    within = "" if before is None or after is None else f"{share(before)} of the next pieces {terms.within} as it is"
    if within and level.slope and terms.ahead.size == 1:
        within = f"{share(before or 0.0)} of pieces {terms.within} if made as the tool stands now"
    if because == "not worth it":
        saved = terms.saved(change) or 0.0
        ahead = count(terms.ahead.size, "piece")
        if terms.touch == 0:
            return (
                f"{text}, but {within} and {share(after or 0.0)} after a shift: the target stands nearer to a limit"
                " than the pieces do. Look at the target first."
            )
        return (
            f"{text}, but {within} and {share(after or 0.0)} after a shift: over {ahead} that saves {_money(saved)}, "
            f"and touching the machine costs {terms.touch:.3g}."
        )
    text += f"; the shift called for is {ends} ({share(wanted.confidence)} sure{_direction(wanted, terms)})"
    text += _aimed(aimed, terms)
    if abs(wanted.estimate) <= noise:
        text += ", which is far from sure, but the mean itself lies beyond a limit"
    if before is None or after is None:
        return f"{text}."
    text += f"; {within}, {share(after)} after"
    if after >= before - NEARER:
        return f"{text}."
    if terms.leans:
        return f"{text}: the target leans to the {terms.leans} side, where a miss costs less."
    return f"{text}: more miss, on the side where a miss costs less."


def _direction(wanted: Interval, terms: Terms) -> str:
    """Say how sure the direction alone is, where the interval of the shift takes in none at all."""
    if wanted.low * wanted.high > 0 or terms.middle_sd == 0:
        return ""
    away, scale = np.array([abs(wanted.estimate)]), np.array([terms.middle_sd])
    sure = 1.0 - float(below(0.0, away, scale, terms.level.dof)[0])
    return f", {share(sure)} sure that it is {'larger' if wanted.estimate > 0 else 'smaller'}"


def _too_coarse(terms: Terms) -> str:
    """Say what is within limits at this setting and at the better step beside it, where neither is good."""
    if not terms.limited or terms.increment is None:
        return ""
    here = terms.outcome(0.0)[1]
    beside = max(terms.outcome(terms.change(step))[1] for step in (-terms.increment, terms.increment))
    if max(here, beside) >= COARSE:
        return ""
    best = f"the better of the steps beside it gives {share(beside)}"
    return (
        f"; {share(here)} of the next pieces {terms.within} as it is and {best}: the step is too coarse for these"
        " limits, so set the size in another way"
    )


def _money(saved: float) -> str:
    """Return a saving; what is nothing to speak of is said so, not in powers of ten."""
    return "next to nothing" if abs(saved) < LEAST_SAVED else f"{saved:.3g}"


def _aimed(aimed: float, terms: Terms) -> str:
    """Say what of the shift is aimed off: to the side where a miss costs less, and against the wear to come."""
    text = ""
    if terms.say(abs(aimed)) != terms.say(0.0):
        side = "larger" if aimed > 0 else "smaller"
        text += f", {terms.say(abs(aimed))} of it to the {side} side, where a miss costs less"
    if terms.level.slope and terms.ahead.size > 1:
        text += f", half the wear of the {count(terms.ahead.size, 'piece')} to the next look aimed off"
    return text


def enter_of(offset: float, change: float, terms: Terms) -> str:
    """Return what to cut and what to enter, in the machine's sign."""
    sign = "+" if offset > 0 else "-"
    number = f"{sign}{terms.say_offset(abs(offset))}"
    size = terms.say(abs(change))
    on = terms.across if terms.diameter else "radius"
    larger = "larger" if change > 0 else "smaller"
    return f"Cut {size} {larger}: enter {number} on the {on} (plus makes the part {terms.plus_makes})."


def _side(value: float, say: Say, more: str, less: str) -> str:
    return f"{say(abs(value))} {more if value >= 0 else less}"
