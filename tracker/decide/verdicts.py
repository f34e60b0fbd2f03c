"""The verdict: one word, the figures it rests on, what to do next, and what would change it."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy import special

from tracker.decide.demands import Aim, chance_of_all
from tracker.decide.gauge_words import better_sizes, measured_again
from tracker.decide.words import Say, count, first_up, number_word, plain_length, set_aside_words, share, too_small
from tracker.errors import TrackerError
from tracker.result import Result

PRESS, PAIR, SORT, REWORK, REMAKE, MEASURE = WORDS = (
    "press as they come",
    "pair",
    "sort",
    "rework",
    "remake",
    "measure better",
)
CANNOT_SAY = "cannot say"  # a batch is not measured at all: no verdict on pieces, but with the next action

SORT_FROM = 30
"""Pairs from which on trays are offered before single pairs (common practice, no source)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Verdict(Result):
    """The verdict on one fit, or on a whole job.

    Attributes
    ----------
    word : str
        ``press as they come``, ``pair``, ``sort``, ``rework``, ``remake`` or ``measure better``; ``cannot say``
        when a batch is not measured at all.
    reason : str
        One sentence with the figures it rests on.
    action : str
        What to do next.
    what_would_change_it : str
        What would have to be different for another word.
    assurance : float
        How sure a verdict had to be.
    wanted, internal, external : int
        Assemblies wanted, and pieces measured a side.
    method : str
        The rule that decided.
    unread : str
        What belongs to the batch and has no size, so that the word does not hold for it.
    """

    word: str
    reason: str
    action: str
    what_would_change_it: str
    assurance: float
    wanted: int
    internal: int
    external: int
    method: str
    unread: str = ""

    def __str__(self) -> str:
        return f"{first_up(self.word)}. {self.reason} {self.action}"

    @property
    def exit_status(self) -> int:
        """0: press as they come; 1: something is to be done first, if only to set pieces aside; 2: cannot say."""
        return {PRESS: 1 if self.unread else 0, MEASURE: 2, CANNOT_SAY: 2}.get(self.word, 1)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Facts:
    """All that the verdict may rest on; see `verdict`."""

    internal: int
    external: int
    wanted: int
    chance_all: float | None
    pairs_good: int | None
    chance_pairs: float | None
    pairs_good_most: int | None
    near: int
    class_good: float | None
    class_count: int | None
    reworked: int | None
    remade: int | None
    chance_planned: float | None
    unmade: int
    work: str
    unread: str
    assurance: float
    gap_tolerance: float | None
    gap_uncertainty: float
    gap_common: float
    gap_operators: float
    worst_margin: float | None
    gauge_fault: str
    target: float | None
    drawing: str
    names: tuple[str, str]
    sort_from: int
    say: Say

    def said(self, chance: float | None) -> str:
        """Return a chance as it is said beside the assurance asked."""
        return share(chance or 0.0, beside=self.assurance)

    @property
    def best_possible(self) -> float:
        """Chance that all assemblies are good if every gap read dead in the middle of its limits."""
        if self.gap_uncertainty <= 0 or self.gap_tolerance is None or math.isinf(self.gap_tolerance):
            return 1.0
        half, own = self.gap_tolerance / 2, math.sqrt(max(self.gap_uncertainty**2 - self.gap_common**2, 0.0))
        middle = Aim(low=-half, high=half, gap=0.0, common=self.gap_common, increment=None, least_cut=0.0)
        wanted = max(self.wanted, 1)
        return chance_of_all(np.zeros(wanted), np.full(wanted, own), middle)

    @property
    def classes_hold(self) -> bool:
        """Whether trays give all good with the assurance: a mean of spoiled ones under it bounds the chance of any."""
        return self.class_good is not None and self.wanted - self.class_good <= 1 - self.assurance + 1e-12

    @property
    def pairs_hold(self) -> bool:
        """Whether the best pairing gives all good with the assurance."""
        all_made = self.pairs_good is not None and self.pairs_good >= self.wanted
        return all_made and self.chance_pairs is not None and self.chance_pairs >= self.assurance


def verdict(
    *,
    internal: int,
    external: int,
    wanted: int | None = None,
    chance_all: float | None = None,
    pairs_good: int | None = None,
    chance_pairs: float | None = None,
    pairs_good_most: int | None = None,
    near: int = 0,
    class_good: float | None = None,
    class_count: int | None = None,
    reworked: int | None = None,
    remade: int | None = None,
    chance_planned: float | None = None,
    unmade: int = 0,
    work: str | Sequence[str] = "",
    unread: str = "",
    assurance: float = 0.95,
    gap_tolerance: float | None = None,
    gap_uncertainty: float = 0.0,
    gap_common: float = 0.0,
    gap_operators: float = 0.0,
    worst_margin: float | None = None,
    gauge_fault: str = "",
    target: float | None = None,
    drawing: str = "",
    names: tuple[str, str] = ("internal piece", "external piece"),
    sort_from: int = SORT_FROM,
    say: Say = plain_length,
) -> Verdict:
    """Return the verdict on one fit from plain facts.

    Parameters
    ----------
    internal, external : int
        Pieces measured a side.
    wanted : int, optional
        Assemblies wanted; as many as the shorter side has pieces when not given.
    chance_all : float, optional
        Chance that the measured pieces, pressed in any order, are all good, the gauge's uncertainty in it.
    pairs_good : int, optional
        Pairs within limits as measured in the best pairing.
    chance_pairs : float, optional
        Chance that these pairs are all good in truth.
    pairs_good_most : int, optional
        Pairs that the best pairing would have with the limits widened by the gauge's 95 % uncertainty.
    near : int
        Pairs nearer to a limit than the gauge can tell.
    class_good, class_count : float and int, optional
        Good assemblies expected from sorted trays (the gauge's uncertainty in it), and how many trays a side.
    reworked, remade : int, optional
        Pieces that the plan reworks and remakes; ``work`` is its list of work in words.
    chance_planned : float, optional
        Chance that all assemblies that the plan makes are good.
    unmade : int
        Assemblies that the plan leaves unmade.
    unread : str
        Which pieces that belong to the batch have no size, so that they are not pressed by chance.
    assurance : float
        How sure a verdict must be.
    gap_tolerance : float, optional
        Width of the gap limits; not given or infinite when one is open.
    gap_uncertainty : float
        Standard uncertainty of one gap, all parts in it.
    gap_common : float
        The part of it that all gaps share (calibration, temperature, operators who read apart).
    gap_operators : float
        The part of ``gap_common`` that comes from operators.
    worst_margin : float, optional
        Least distance of a paired gap to its limit.
    gauge_fault : str
        Why a gauge may not be used as it is, for example past its calibration date.
    target : float, optional
        Size to cut the side that is not made yet to.
    drawing : str
        What the drawing alone says, for a fit with nothing measured.
    names : (str, str)
        What an internal and an external piece are called.
    sort_from : int
        Pairs from which on trays come before single pairs.
    say : callable
        Writes a length for the sentences.

    Returns
    -------
    Verdict

    Raises
    ------
    TrackerError
        If a chance is not between 0 and 1, or a count is negative.

    Notes
    -----
    The first rule that applies: nothing measured, or one side only: cannot say, with the next action. A gauge that
    may not be used, or one so uncertain that gaps read dead in the middle would not be assured: measure
    better. Any order assured: press as they come. Very many pieces, trays and pairs assured: sort. Pairs assured:
    pair. Trays assured and single pairs not known (pieces without numbers): sort. All pairs within limits as
    measured but not assured, or so many within limits widened by the uncertainty: the gauge cannot tell, measure
    better. Else what the plan asks for: remake, or rework.
    Trays count as assured when the expected number of spoiled assemblies is at most 1 - assurance, which bounds the
    chance of any (Markov).

    Examples
    --------
    >>> print(verdict(internal=8, external=8, chance_all=0.991, pairs_good=8, chance_pairs=0.999))
    Press as they come. In any order all eight go together with 99.1 % chance, and 95 % was asked. Press in any order.
    """
    facts = _Facts(
        internal=internal,
        external=external,
        wanted=min(internal, external) if wanted is None else wanted,
        chance_all=chance_all,
        pairs_good=pairs_good,
        chance_pairs=chance_pairs,
        pairs_good_most=pairs_good_most,
        near=near,
        class_good=class_good,
        class_count=class_count,
        reworked=reworked,
        remade=remade,
        chance_planned=chance_planned,
        unmade=unmade,
        unread=unread,
        work=work if isinstance(work, str) else " ".join(work),
        assurance=assurance,
        gap_tolerance=gap_tolerance,
        gap_uncertainty=gap_uncertainty,
        gap_common=gap_common,
        gap_operators=gap_operators,
        worst_margin=worst_margin,
        gauge_fault=gauge_fault,
        target=target,
        drawing=drawing,
        names=names,
        sort_from=sort_from,
        say=say,
    )
    _check(facts)
    word, rule = _word(facts)
    reason, action, change = _SENTENCES[word](facts)
    return Verdict(
        word=word,
        reason=reason,
        action=action,
        what_would_change_it=change,
        assurance=assurance,
        wanted=facts.wanted,
        internal=internal,
        external=external,
        method=rule,
        unread="" if word in (MEASURE, CANNOT_SAY) else unread,
    )


def _word(facts: _Facts) -> tuple[str, str]:
    """Return the word and the rule that gave it."""
    if not facts.internal or not facts.external:
        return CANNOT_SAY, "a side is not measured"
    if facts.gauge_fault:
        return MEASURE, "a gauge may not be used as it is"
    if facts.best_possible < facts.assurance:
        return MEASURE, "not even gaps in the middle of the limits would be assured"
    enough = min(facts.internal, facts.external) >= facts.wanted
    if enough and facts.chance_all is not None and facts.chance_all >= facts.assurance:
        return PRESS, "any order assured"
    if enough and facts.pairs_hold and facts.internal == facts.external == 1:
        return PRESS, "the one pair assured"
    if enough and facts.classes_hold and facts.pairs_hold and facts.wanted >= facts.sort_from:
        return SORT, "trays assured, and very many pieces"
    if facts.pairs_hold:
        return PAIR, "pairs assured"
    if enough and facts.classes_hold and facts.chance_pairs is None:
        return SORT, "trays assured, single pairs not known"
    return _when_nothing_is_assured(facts)


def _when_nothing_is_assured(facts: _Facts) -> tuple[str, str]:
    if facts.pairs_good is not None and facts.pairs_good >= facts.wanted:
        return MEASURE, "all pairs within limits as measured, but nearer to them than the gauge can tell"
    if facts.pairs_good_most is not None and facts.pairs_good_most >= facts.wanted:
        return MEASURE, "within the gauge's 95 % uncertainty all pairs could be good"
    if facts.reworked and not facts.remade:
        return REWORK, "the plan needs rework only"
    return REMAKE, "the plan needs new pieces" if facts.remade else "pieces without a mate, no rework planned"


def _press(facts: _Facts) -> tuple[str, str, str]:
    asked = share(facts.assurance)
    if facts.chance_all is None:
        chance = facts.said(facts.chance_pairs)
        reason = f"The one pair is good with {chance} chance, and {asked} was asked."
    else:
        reason = f"In any order {_every(facts)} with {facts.said(facts.chance_all)} chance, and {asked} was asked."
    change = "An assurance asked above that chance, tighter gap limits or a worse gauge would call for pairing."
    action = "Press it." if facts.wanted == 1 else "Press in any order."
    return reason, f"{action}{set_aside_words(facts.unread)}", change


def _pair(facts: _Facts) -> tuple[str, str, str]:
    if facts.chance_all is None:
        any_order = "How any order would do is not known"
    else:
        any_order = f"In any order {_every(facts)} with {too_small(facts.said(facts.chance_all))} chance"
    reason = (
        f"{any_order}, but as paired {facts.pairs_good} of {facts.wanted} are within limits and all hold with "
        f"{facts.said(facts.chance_pairs)} chance ({share(facts.assurance)} asked)."
    )
    action = f"Press each {facts.names[1]} in the {facts.names[0]} it is paired with.{set_aside_words(facts.unread)}"
    change = f"A chance of at least {share(facts.assurance)} in any order would make pairing needless."
    return reason, action, change


def _sort(facts: _Facts) -> tuple[str, str, str]:
    trays = f" into {count(facts.class_count, 'tray')} a side" if facts.class_count else ""
    reason = (
        f"Sorted{trays}, {facts.class_good or 0.0:.2f} of {facts.wanted} assemblies are expected good, so that all are "
        f"with at least {share(facts.assurance)}"
    )
    if facts.chance_all is not None:
        reason += f"; in any order it would be {facts.said(facts.chance_all)}"
    change = (
        f"Under {count(facts.sort_from, 'pair')}, single pairs are less work than trays; a chance of at least "
        f"{share(facts.assurance)} in any order would make sorting needless."
    )
    return f"{reason}.", f"Sort both batches{trays} and press within a tray.{set_aside_words(facts.unread)}", change


def _rework(facts: _Facts) -> tuple[str, str, str]:
    reworked = facts.reworked or 0
    reason = f"{_short(facts)}, and {count(reworked, 'piece')} with material left can be brought to size."
    return reason, _worked(facts, facts.work or f"Rework {count(reworked, 'piece')}."), _limits_change(facts)


def _remake(facts: _Facts) -> tuple[str, str, str]:
    missing = facts.wanted - (facts.pairs_good or 0)
    number = facts.remade or missing
    also = f" beside {count(facts.reworked, 'rework')}" if facts.reworked else ""
    reason = f"{_short(facts)}, and that takes {count(number, 'new piece')}{also}."
    at = f" to {facts.say(facts.target)}" if facts.target is not None else ""
    planned = facts.work if facts.remade or facts.reworked else ""  # a plan that takes the risk is no way out of it
    return reason, _worked(facts, planned or f"Make {count(number, 'new piece')}{at}."), _limits_change(facts)


def _worked(facts: _Facts, work: str) -> str:
    """Return the work, and where it does not bring the assurance asked, that it does not, and what to do about it."""
    if facts.chance_planned is None or facts.chance_planned >= facts.assurance or not (facts.reworked or facts.remade):
        return f"{work}{set_aside_words(facts.unread)}"
    new = " and ".join(word for word, pieces in (("reworked", facts.reworked), ("made new", facts.remade)) if pieces)
    made = facts.wanted - facts.unmade
    which = "it holds" if made == 1 else f"all {number_word(made)} hold"
    return (
        f"{work} Measure what is {new} before pressing: pressed unmeasured, {which} with "
        f"{too_small(facts.said(facts.chance_planned))} chance, and {share(facts.assurance)} was asked."
        f"{set_aside_words(facts.unread)}"
    )


def _measure(facts: _Facts) -> tuple[str, str, str]:
    asked = share(facts.assurance)
    u = facts.say(facts.gap_uncertainty)
    if facts.gauge_fault:
        return (
            f"{first_up(facts.gauge_fault)}, so {count(facts.internal + facts.external, 'size')} rest on it.",
            "Put the gauge right, then measure again.",
            "A gauge in order.",
        )
    if facts.best_possible < facts.assurance:
        width = facts.gap_tolerance or 0.0
        reason = (
            f"A gap is known to {u} (standard uncertainty) and its limits are {facts.say(width)} apart: even gaps "
            f"read in the middle would all be good with {too_small(facts.said(facts.best_possible))} chance, and "
            f"{asked} was asked."
        )
        action = better_sizes(facts.gap_uncertainty, facts.gap_common, facts.gap_operators)
        return reason, action, _gauge_change(facts, width / 2)
    margin = "" if facts.worst_margin is None else f", the nearest {facts.say(abs(facts.worst_margin))} from a limit"
    if (facts.pairs_good or 0) >= facts.wanted:
        reason = (
            f"All {facts.wanted} pairs are within limits as measured{margin}, but with {u} of standard uncertainty in "
            f"a gap they all hold with {too_small(facts.said(facts.chance_pairs))} chance, and {asked} was asked."
        )
    else:
        reason = (
            f"{facts.pairs_good or 0} of {facts.wanted} pairs are within limits as measured, and within the gauge's "
            f"uncertainty ({u} standard in a gap) {facts.pairs_good_most} could be: it cannot tell about the rest."
        )
    near = f"the {count(facts.near, 'pair')} near a limit" if facts.near else "the pieces near a limit"
    action = measured_again(facts.gap_uncertainty, facts.gap_common, near, facts.gap_operators)
    return reason, action, _gauge_change(facts, facts.worst_margin)


def _unmeasured(facts: _Facts) -> tuple[str, str, str]:
    inner, outer = facts.names
    if not facts.internal and not facts.external:
        reason = f"No {inner} and no {outer} is measured yet."
        if facts.drawing:
            reason += f" {facts.drawing}"
        return reason, f"Measure at least two of each {inner} and {outer}.", "Readings."
    have, missing, number = (inner, outer, facts.internal) if facts.internal else (outer, inner, facts.external)
    reason = f"{first_up(count(number, have))} measured, no {missing} yet."
    if facts.target is None:
        return reason, f"Measure at least two of {missing}.", f"Readings of {missing}."
    action = f"Cut {missing} to {facts.say(facts.target)}, which suits the {have} sizes as measured, then measure it."
    return reason, action, f"Readings of {missing}."


_SENTENCES = {
    PRESS: _press,
    PAIR: _pair,
    SORT: _sort,
    REWORK: _rework,
    REMAKE: _remake,
    MEASURE: _measure,
    CANNOT_SAY: _unmeasured,
}


def _every(facts: _Facts) -> str:
    return "the pair goes together" if facts.wanted == 1 else f"all {number_word(facts.wanted)} go together"


def _short(facts: _Facts) -> str:
    if min(facts.internal, facts.external) < facts.wanted:
        have = f"{facts.internal} {facts.names[0]} and {facts.external} {facts.names[1]} sizes are there"
        return f"{first_up(have)} for {facts.wanted} assemblies, {facts.pairs_good or 0} pairs of them within limits"
    if not facts.pairs_good:
        return f"No pair of these pieces is within limits, {facts.wanted} {'are' if facts.wanted > 1 else 'is'} wanted"
    return f"In the best pairing only {facts.pairs_good} of {facts.wanted} pairs are within limits"


def _limits_change(facts: _Facts) -> str:
    missing = max(facts.wanted - (facts.pairs_good or 0), 0)
    if missing >= facts.wanted:
        return "Wider gap limits."
    return f"Wider gap limits, or {count(missing, 'assembly', 'assemblies')} fewer wanted."


def _gauge_change(facts: _Facts, margin: float | None) -> str:
    """Say how small the uncertainty of a gap would have to be."""
    if margin is None or margin <= 0:
        return "A smaller uncertainty of the sizes."
    each = facts.assurance ** (1 / max(facts.wanted, 1))
    enough = margin / float(special.ndtri((1 + each) / 2))
    if facts.say(enough) == facts.say(0.0):
        return "No gauge could tell at so small a distance; a pairing with more room, or other pieces, would."
    return f"A standard uncertainty of a gap of {facts.say(enough)} or less would do."


def _check(facts: _Facts) -> None:
    for name in ("internal", "external", "wanted", "near"):
        if getattr(facts, name) < 0:
            raise TrackerError(f"{name} is {getattr(facts, name)}; a count is zero or more")
    if facts.wanted < 1 and facts.internal and facts.external:
        raise TrackerError("no assembly is wanted; give wanted of one or more, or leave it out")
    for name in ("chance_all", "chance_pairs", "assurance"):
        value = getattr(facts, name)
        if value is not None and not 0 <= value <= 1:
            raise TrackerError(f"{name} is {value!r}; a chance lies between 0 and 1")
    if not 0 < facts.assurance < 1:
        raise TrackerError(f"assurance is {facts.assurance!r}; it lies between 0 and 1, for example 0.95")
    for name in ("gap_uncertainty", "gap_common", "gap_operators"):
        if getattr(facts, name) < 0:
            raise TrackerError(f"{name} is {getattr(facts, name)!r}; give zero or more")
