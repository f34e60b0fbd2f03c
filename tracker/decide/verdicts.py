"""The verdict: one word, the figures it rests on, what to do next, and what would change it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from scipy import special

from tracker.decide.facts import Facts, checked
from tracker.decide.gauge_words import better_sizes, measured_again
from tracker.decide.words import (
    Say,
    count,
    first_up,
    number_word,
    plain_length,
    plural,
    set_aside_words,
    share,
    too_small,
)
from tracker.given import whole_number
from tracker.result import Result

PRESS, PAIR, SORT, REWORK, REMAKE, MEASURE = WORDS = (
    "press as they come",
    "pair",
    "sort",
    "rework",
    "remake",
    "measure better",
)
CANNOT_SAY = "cannot say"
"""Said when a batch is not measured at all, or the facts that decide are not given; with the next action."""

SORT_FROM = 30
"""Pairs from which on trays are offered before single pairs (common practice, no source)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Verdict(Result):
    """The verdict on one fit, or on a whole job.

    Attributes
    ----------
    word : str
        ``press as they come``, ``pair``, ``sort``, ``rework``, ``remake`` or ``measure better``; ``cannot say``
        when a batch is not measured at all, or what is needed to say more is not given.
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
    gap_uncertainty: float | None = None,
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
        Pairs within limits as measured in the best pairing; not given: not known, and nothing is taken from it.
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
    gap_uncertainty : float, optional
        Standard uncertainty of one gap, all parts in it; not given or 0: none was stated, and the answer says so.
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
        If a chance is not between 0 and 1, a count is negative, more pairs are named than there are pieces, or a length
        is not a number.

    Notes
    -----
    The first rule that applies: nothing measured, or one side only: cannot say, with the next action. A gauge that
    may not be used, or one so uncertain that gaps read dead in the middle would not be assured: measure
    better. Any order assured: press as they come. Very many pieces, trays and pairs assured: sort. Pairs assured:
    pair. Trays assured and single pairs not known (pieces without numbers): sort. All pairs within limits as
    measured but not assured, or so many within limits widened by the uncertainty: the gauge cannot tell, measure
    better. Else what the plan asks for: remake, or rework. Where what would decide is not given (no best pairing, or no
    chance that its pairs hold), and no plan either: cannot say, with what is missing.
    Trays count as assured when the expected number of spoiled assemblies is at most 1 - assurance, which bounds the
    chance of any (Markov).

    Examples
    --------
    >>> print(verdict(internal=8, external=8, chance_all=0.991, pairs_good=8, chance_pairs=0.999))
    Press as they come. In any order all eight go together with 99.1 % chance, and 95 % was asked. Press in any order.
    """
    facts = Facts(
        internal=internal,
        external=external,
        wanted=_pairs_of(internal, external) if wanted is None else wanted,
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
    facts = checked(facts)
    word, rule = _word(facts)
    reason, action, change = _SENTENCES[word](facts)
    return Verdict(
        word=word,
        reason=reason,
        action=action,
        what_would_change_it=change,
        assurance=assurance,
        wanted=facts.wanted,
        internal=facts.internal,
        external=facts.external,
        method=rule,
        unread="" if word in (MEASURE, CANNOT_SAY) else unread,
    )


def _pairs_of(internal: int, external: int) -> int:
    return min(whole_number(internal, "internal", 0), whole_number(external, "external", 0))


def _word(facts: Facts) -> tuple[str, str]:
    """Return the word and the rule that gave it."""
    if not facts.internal or not facts.external:
        return CANNOT_SAY, "a side is not measured"
    if facts.gauge_fault:
        return MEASURE, "a gauge may not be used as it is"
    if facts.best_possible < facts.assurance:
        return MEASURE, "not even gaps in the middle of the limits would be assured"
    enough = facts.enough
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


def _when_nothing_is_assured(facts: Facts) -> tuple[str, str]:
    if facts.pairs_good is not None and facts.pairs_good >= facts.wanted:
        if facts.chance_pairs is None:
            return CANNOT_SAY, "the chance that the pairs hold is not known"
        return MEASURE, "all pairs within limits as measured, but nearer to them than the gauge can tell"
    if facts.pairs_good_most is not None and facts.pairs_good_most >= facts.wanted:
        return MEASURE, "within the gauge's 95 % uncertainty all pairs could be good"
    if facts.pairs_good is None and facts.enough and not (facts.reworked or facts.remade):
        return CANNOT_SAY, "the best pairing is not known"
    if facts.reworked and not facts.remade:
        return REWORK, "the plan needs rework only"
    return REMAKE, "the plan needs new pieces" if facts.remade else "pieces without a mate, no rework planned"


def _press(facts: Facts) -> tuple[str, str, str]:
    asked = share(facts.assurance)
    if facts.chance_all is None:
        chance = facts.said(facts.chance_pairs)
        reason = f"The one pair is good with {chance} chance, and {asked} was asked."
    else:
        reason = f"In any order {_every(facts)} with {facts.said(facts.chance_all)} chance, and {asked} was asked."
    change = "An assurance asked above that chance, tighter gap limits or a worse gauge would call for pairing."
    action = "Press it." if facts.wanted == 1 else "Press in any order."
    return reason, f"{action}{set_aside_words(facts.unread)}", change


def _pair(facts: Facts) -> tuple[str, str, str]:
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


def _sort(facts: Facts) -> tuple[str, str, str]:
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


def _rework(facts: Facts) -> tuple[str, str, str]:
    reworked = facts.reworked or 0
    reason = f"{_short(facts)}, and {count(reworked, 'piece')} with material left can be brought to size."
    return reason, _worked(facts, facts.work or f"Rework {count(reworked, 'piece')}."), _limits_change(facts)


def _remake(facts: Facts) -> tuple[str, str, str]:
    number = facts.remade or facts.wanted - _pairs_known(facts)
    also = f" beside {count(facts.reworked, 'rework')}" if facts.reworked else ""
    at_least = "at least " if facts.pairs_good is None and not facts.remade else ""
    reason = f"{_short(facts)}, and that takes {at_least}{count(number, 'new piece')}{also}."
    at = f" to {facts.say(facts.target)}" if facts.target is not None else ""
    planned = facts.work if facts.remade or facts.reworked else ""  # a plan that takes the risk is no way out of it
    return reason, _worked(facts, planned or f"Make {at_least}{count(number, 'new piece')}{at}."), _limits_change(facts)


def _worked(facts: Facts, work: str) -> str:
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


def _measure(facts: Facts) -> tuple[str, str, str]:
    asked = share(facts.assurance)
    doubt, stated = facts.gap_uncertainty or 0.0, bool(facts.gap_uncertainty)
    u = facts.say(doubt)
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
        better = better_sizes(doubt, facts.gap_common, facts.gap_operators)
        return reason, better, _gauge_change(facts, width / 2)
    margin = "" if facts.worst_margin is None else f", the nearest {facts.say(abs(facts.worst_margin))} from a limit"
    if (facts.pairs_good or 0) >= facts.wanted:
        known = f"with {u} of standard uncertainty in a gap they all" if stated else "they all"
        reason = (
            f"All {facts.wanted} pairs are within limits as measured{margin}, but {known} hold with "
            f"{too_small(facts.said(facts.chance_pairs))} chance, and {asked} was asked."
        )
    else:
        good = "It is not known how many" if facts.pairs_good is None else f"{facts.pairs_good}"
        known = f"{u} standard in a gap" if stated else "not stated"
        reason = (
            f"{good} of {facts.wanted} pairs are within limits as measured, and within the gauge's "
            f"uncertainty ({known}) {facts.pairs_good_most} could be: it cannot tell about the rest."
        )
    near = f"the {count(facts.near, 'pair')} near a limit" if facts.near else "the pieces near a limit"
    if not stated:
        action = (
            f"State the standard uncertainty of the sizes: none is stated, so what stands in the way cannot be said. "
            f"Then measure {near} again."
        )
        return reason, action, _gauge_change(facts, facts.worst_margin)
    action = measured_again(doubt, facts.gap_common, near, facts.gap_operators)
    return reason, action, _gauge_change(facts, facts.worst_margin)


def _unknown(facts: Facts) -> tuple[str, str, str]:
    """Say what is not known, and what is missing to say more."""
    known = ""
    if facts.chance_all is not None:
        known = (
            f"In any order {_every(facts)} with {facts.said(facts.chance_all)} chance, and {share(facts.assurance)} "
        )
        known += "was asked; "
    if facts.pairs_good is None:
        said = "how many pairs are within limits in the best pairing is not known"
        missing = (
            "Pair the pieces" if facts.chance_all is not None else "Work out the chance in any order, or pair them"
        )
        return (
            f"{first_up(known + said)}.",
            f"{missing}: give the pairs within limits and the chance that they hold.",
            "The best pairing and the chance that its pairs hold.",
        )
    said = (
        f"all {facts.wanted} pairs are within limits as measured, but the chance that they hold in truth is not known"
    )
    return (
        f"{first_up(known + said)}.",
        "Work out that chance from how well the sizes are known.",
        "The chance that the pairs hold.",
    )


def _unmeasured(facts: Facts) -> tuple[str, str, str]:
    if facts.internal and facts.external:
        return _unknown(facts)
    inner, outer = facts.names
    if not facts.internal and not facts.external:
        reason = f"No {inner} and no {outer} is measured yet."
        if facts.drawing:
            reason += f" {facts.drawing}"
        return reason, f"Measure at least two of each {inner} and {outer}.", "Readings."
    have, missing, number = (inner, outer, facts.internal) if facts.internal else (outer, inner, facts.external)
    reason = f"{first_up(count(number, have))} measured, no {missing} yet."
    if facts.target is None:
        return reason, f"Measure at least two {plural(missing)}.", f"Readings of the {plural(missing)}."
    action = (
        f"Cut the {plural(missing)} to {facts.say(facts.target)}, which suits the {plural(have)} as measured, then"
        " measure them."
    )
    return reason, action, f"Readings of the {plural(missing)}."


_SENTENCES = {
    PRESS: _press,
    PAIR: _pair,
    SORT: _sort,
    REWORK: _rework,
    REMAKE: _remake,
    MEASURE: _measure,
    CANNOT_SAY: _unmeasured,
}


def _every(facts: Facts) -> str:
    return "the pair goes together" if facts.wanted == 1 else f"all {number_word(facts.wanted)} go together"


def _short(facts: Facts) -> str:
    if min(facts.internal, facts.external) < facts.wanted:
        have = f"{facts.internal} {facts.names[0]} and {facts.external} {facts.names[1]} sizes are there"
        within = "" if facts.pairs_good is None else f", {facts.pairs_good} pairs of them within limits"
        return f"{first_up(have)} for {facts.wanted} assemblies{within}"
    if facts.pairs_good is None:
        return f"How many of {facts.wanted} pairs are within limits is not known"
    if not facts.pairs_good:
        return f"No pair of these pieces is within limits, {facts.wanted} {'are' if facts.wanted > 1 else 'is'} wanted"
    return f"In the best pairing only {facts.pairs_good} of {facts.wanted} pairs are within limits"


def _pairs_known(facts: Facts) -> int:
    """Return the pairs within limits; where they are not known, as many as there could be."""
    return min(facts.internal, facts.external, facts.wanted) if facts.pairs_good is None else facts.pairs_good


def _limits_change(facts: Facts) -> str:
    missing = max(facts.wanted - _pairs_known(facts), 0)
    if missing in (0, facts.wanted):
        return "Wider gap limits."
    return f"Wider gap limits, or {count(missing, 'assembly', 'assemblies')} fewer wanted."


def _gauge_change(facts: Facts, margin: float | None) -> str:
    """Say how small the uncertainty of a gap would have to be."""
    if margin is None or margin <= 0:
        return "A smaller uncertainty of the sizes."
    each = facts.assurance ** (1 / max(facts.wanted, 1))
    enough = margin / float(special.ndtri((1 + each) / 2))
    if facts.say(enough) == facts.say(0.0):
        return "No gauge could tell at so small a distance; a pairing with more room, or other pieces, would."
    return f"A standard uncertainty of a gap of {facts.say(enough)} or less would do."
