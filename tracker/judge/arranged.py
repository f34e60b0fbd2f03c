"""A closure over three parts or more: which pieces go together, what that is worth, and what to do where it fails."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from tracker.decide.gauge_words import measured_again
from tracker.decide.words import listed, share
from tracker.fit.assemblies import Assemblies, assemblies
from tracker.fit.batch_spread import given_readings
from tracker.fit.together import all_hold
from tracker.judge.answers import ClosureAssembly, FeatureCheck, LeftOver
from tracker.judge.joined import COVERAGE, NEVER_SURE
from tracker.judge.operators import doubt_from_operators
from tracker.judge.words import Scale, plain_name

if TYPE_CHECKING:
    from tracker.job import ClosureTerms, Job

MOST_NAMED = 6
"""Pieces that are named one by one to be changed; with more the whole batch is spoken of."""


@dataclass(frozen=True, slots=True)
class Share:
    """What one part brings to the sum: one feature with its factor, or several of the same pieces added up.

    ``factors`` are those of its features by their names, ``factor`` that of ``lengths`` (1 where they are added up);
    ``uncertainty`` is the own standard uncertainty of each length.
    """

    factors: Mapping[str, float]
    factor: float
    lengths: Any
    uncertainty: Any
    piece: tuple[str, ...]

    @property
    def names(self) -> tuple[str, ...]:
        """Its features."""
        return tuple(self.factors)

    @property
    def called(self) -> str:
        """The names of its features."""
        return listed([plain_name(name) for name in self.names])

    @property
    def noise(self) -> float:
        """Root mean square of the uncertainties."""
        return float(np.sqrt(np.mean(np.square(self.uncertainty)))) if np.size(self.uncertainty) else 0.0


@dataclass(frozen=True, slots=True)
class Arranged:
    """The pieces of a closure put together; ``spread`` is the standard uncertainty of each sum, gauges and all.

    ``common`` is what all sums share of it, ``chance`` that those within limits are so in truth; None without one.
    """

    shares: tuple[Share, ...]
    found: Assemblies
    spread: np.ndarray
    common: float
    chance: float | None

    @property
    def wanted(self) -> int:
        """As many as the shortest part has pieces."""
        return len(self.found.sums)

    def rows(self) -> tuple[ClosureAssembly, ...]:
        """Return the assemblies with the names of their pieces, those within limits first."""
        within = self.found.within
        return tuple(
            ClosureAssembly(
                pieces={
                    name: share_of.piece[int(self.found.picks[row, place])]
                    for place, share_of in enumerate(self.shares)
                    for name in share_of.names
                },
                total=float(self.found.sums[row]),
                margin=max(float(self.found.margins[row]), 0.0 if within[row] else -math.inf),
                uncertainty=float(self.spread[row]),
                within=bool(within[row]),
                near=bool(COVERAGE * self.spread[row] > abs(self.found.margins[row]) and self.spread[row] > 0),
            )
            for row in np.argsort(~within, kind="stable").tolist()
        )

    def left_over(self) -> tuple[LeftOver, ...]:
        """Return the pieces that are in no sum within limits."""
        left = []
        for place, share_of in enumerate(self.shares):
            placed = self.found.picks[:, place]
            good = placed[self.found.within]
            for index, label in enumerate(share_of.piece):
                why = "out of limits with all that is left" if index in placed else "there are fewer of another part"
                if index not in good:
                    left.append(LeftOver(feature=share_of.names[0], piece=label, why=why))
        return tuple(left)


def arranged(shares: Sequence[Share], lower: float | None, upper: float | None, common: float) -> Arranged:
    """Return the pieces put together, most sums within limits first.

    Notes
    -----
    The chance that the sums hold takes each true length from its reading and its batch, as `tracker.fit.pair` does.

    Raises
    ------
    TrackerError
        As `tracker.fit.assemblies.assemblies`.
    """
    found = assemblies([(item.factor, item.lengths) for item in shares], lower, upper)
    spread, truth, doubt = np.zeros(len(found.sums)), np.zeros(len(found.sums)), np.zeros(len(found.sums))
    for place, item in enumerate(shares):
        picked = found.picks[:, place]
        noise = np.asarray(item.uncertainty, dtype=float)
        likely, still = given_readings(np.asarray(item.lengths, dtype=float), noise)
        spread = np.hypot(spread, item.factor * noise[picked])
        truth = truth + item.factor * likely[picked]
        doubt = np.hypot(doubt, item.factor * still[picked])
    within = found.within
    chance = None
    if within.any():
        near = 1e-9 * max(float(np.abs(found.sums).max()), 1e-300)
        chance = all_hold(truth[within], doubt[within], found.lower, found.upper, common, near)
    return Arranged(tuple(shares), found, np.hypot(spread, common), common, chance)


def answer_of(
    job: Job, terms: ClosureTerms, features: Mapping[str, FeatureCheck], made: Arranged, ends: str, scale: Scale
) -> tuple[str, str, str]:
    """Return word, reason and action where not every way to put the pieces of three parts and more together will do.

    Parameters
    ----------
    job, terms, features : Job, ClosureTerms, mapping of str to FeatureCheck
    made : Arranged
    ends : str
        What the sums run to at worst, in words.
    scale : Scale
    """
    name, found, wanted = plain_name(terms.name), made.found, made.wanted
    doubt = float(np.sqrt(np.mean(np.square(made.spread))))
    operators = doubt_from_operators(features, terms.terms)
    how = f" ({found.method})" if found.good < found.most else ""
    if found.good == wanted:
        holds, asked = share(min(made.chance or 0.0, NEVER_SURE), beside=job.assurance), share(job.assurance)
        if (made.chance or 0.0) >= job.assurance:
            reason = (
                f"Not every way to put these pieces together is surely within limits: {ends}. As listed {wanted} of"
                f" {wanted} are, and all hold with {holds} chance ({asked} asked)."
            )
            return "pair", reason, f"Put the pieces together as listed.{_besides(job, terms)}"
        reason = (
            f"As listed all {wanted} sums of {name} are within limits as measured, but with {scale.say(doubt)} of"
            f" standard uncertainty in a sum they all hold with only {holds} chance, and {asked} was asked."
        )
        return "measure better", reason, measured_again(doubt, made.common, "the pieces near a limit", operators)
    wide = COVERAGE * doubt
    could = arranged(made.shares, _less(terms.lower, wide), _more(terms.upper, wide), made.common).found.good
    if could == wanted:
        reason = (
            f"{found.good} of {wanted} sums of {name} are within limits as measured{how}, and within the gauge's"
            f" uncertainty ({scale.say(doubt)} standard in a sum) {could} could be: it cannot tell about the rest."
        )
        return "measure better", reason, measured_again(doubt, made.common, "the pieces near a limit", operators)
    if found.good < found.most:
        count = f"{found.good} of {wanted} were found that can"
    else:
        count = f"only {found.good} of {wanted} can" if found.good else f"none of {wanted} can"
    reason = f"Of {name} {count} be put together within limits{how}: {ends}. {_mean_words(made, scale)}"
    word, action = _remedy(job, features, made, scale)
    return word, reason.rstrip(), action


def _besides(job: Job, terms: ClosureTerms) -> str:
    """Say which other fits and closures on the same features this arrangement does not look at."""
    own = set(terms.terms)
    parts = {job.features[name].part for name in own} - {""}
    near = {name for name, feature in job.features.items() if name in own or feature.part in parts}
    others = [name for name, fit in job.fits.items() if near & {fit.internal, fit.external}]
    others += [name for name, item in job.closures.items() if name != terms.name and near & set(item.terms)]
    if not others:
        return ""
    return f" What these pieces must meet besides ({listed([plain_name(name) for name in others])}) is not in that."


def _mean_words(made: Arranged, scale: Scale) -> str:
    """Return what the mean of the sums says: with no piece left over it is the same in every arrangement."""
    low, high = made.found.lower, made.found.upper
    mean = sum(item.factor * float(np.mean(item.lengths)) for item in made.shares)
    alike = len({len(item.piece) for item in made.shares}) == 1
    words = f"The mean sum, {scale.size(mean)} {scale.unit},"
    if alike:
        words += " is the same in every arrangement and"
    if mean > high:
        return f"{words} stands {scale.say(mean - high)} over the upper limit."
    if mean < low:
        return f"{words} stands {scale.say(low - mean)} under the lower limit."
    return f"{words} lies within limits, but the pieces differ too much." if alike else ""


def _remedy(job: Job, features: Mapping[str, FeatureCheck], made: Arranged, scale: Scale) -> tuple[str, str]:
    """Return word and action: one length of all its pieces changed, where that brings every sum in; else of some."""
    found = made.found
    mean = sum(item.factor * float(np.mean(item.lengths)) for item in made.shares)
    change = _into(found) - mean
    place, name, factor = _term_to_change(features, made, change)
    if not found.lower <= mean <= found.upper:
        moved = [
            (item.factor, item.lengths + (change / item.factor if k == place else 0.0))
            for k, item in enumerate(made.shares)
        ]
        after = assemblies(moved, _open(found.lower), _open(found.upper))
        if after.good == made.wanted:
            by = change / factor
            size = features[name].sizes
            assert size is not None
            way = "smaller" if by < 0 else "larger"
            average = float(np.mean(size.size))
            action = (
                f"Bring every {plain_name(name)} {scale.say(abs(by))} {way} (their mean from {scale.size(average)} to"
                f" {scale.size(average + by)} {scale.unit}), by rework or with new pieces: chosen by their sizes,"
                f" {after.good} of {made.wanted} sums are within limits then.{_outside(features[name], average + by)}"
            )
            return _word(job, name, [by]), action
    bad = np.flatnonzero(~found.within)
    each = (_into(found) - found.sums[bad]) / factor
    where = []
    for row, by in zip(bad.tolist(), each.tolist()):
        mates = [
            f"{item.called} {item.piece[int(found.picks[row, k])]}" for k, item in enumerate(made.shares) if k != place
        ]
        piece = made.shares[place].piece[int(found.picks[row, place])]
        way = "smaller" if by < 0 else "larger"
        where.append(f"{plain_name(name)} {piece} {scale.say(abs(by))} {way} (to go with {listed(mates)})")
    put = "Put those together that are within limits, as listed; for" if found.good else "For"
    if len(where) > MOST_NAMED:
        span = f"{scale.say(float(np.abs(each).min()))} to {scale.say(float(np.abs(each).max()))}"
        action = (
            f"{put} the other {len(where)} change {plain_name(name)} by {span}, each to its mates, or make new ones."
        )
    else:
        action = f"{put} the others bring {listed(where)}, by rework or with new pieces."
    return _word(job, name, each.tolist()), action


def _outside(feature: FeatureCheck, size: float) -> str:
    low = feature.lower is not None and size < feature.lower
    high = feature.upper is not None and size > feature.upper
    return " That is outside its drawing: ask before cutting." if low or high else ""


def _into(found: Assemblies) -> float:
    """Return the sum to bring others to: the middle of the limits, the one limit where there is one."""
    if math.isfinite(found.lower) and math.isfinite(found.upper):
        return (found.lower + found.upper) / 2
    return found.lower if math.isfinite(found.lower) else found.upper


def _term_to_change(features: Mapping[str, FeatureCheck], made: Arranged, change: float) -> tuple[int, str, float]:
    """Return the place, name and factor of the length to change: that whose change brings it nearest to its own aim."""
    best: tuple[float, int, str, float] | None = None
    for place, item in enumerate(made.shares):
        for name in item.names:
            size = features[name].sizes
            assert size is not None
            factor = item.factors[name]
            bias = float(np.mean(size.size)) - features[name].target
            gain = abs(bias) - abs(bias + change / factor)
            if best is None or gain > best[0]:
                best = gain, place, name, factor
    assert best is not None
    return best[1:]


def _word(job: Job, name: str, changes: Sequence[float]) -> str:
    """Return rework where material is left for it; to which side a length can be cut the job does not say."""
    kind = job.features[name].kind
    cut = {"external": all(by < 0 for by in changes), "internal": all(by > 0 for by in changes)}
    return "rework" if cut.get(kind, False) else "remake"


def _open(limit: float) -> float | None:
    return limit if math.isfinite(limit) else None


def _less(limit: float | None, by: float) -> float | None:
    return None if limit is None else limit - by


def _more(limit: float | None, by: float) -> float | None:
    return None if limit is None else limit + by
