"""One closure judged: a signed sum of measured lengths against its limits, whichever pieces meet."""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Mapping
from typing import Any

import numpy as np
from scipy import special

from tracker.decide import Verdict
from tracker.decide.gauge_words import better_sizes, measured_again
from tracker.decide.words import first_up, listed, plural, share
from tracker.errors import NotEnoughData
from tracker.fit import Closure, closure
from tracker.job import ClosureTerms, Job
from tracker.judge.answers import ClosureCheck, ClosurePair, FeatureCheck
from tracker.judge.arranged import Arranged, Share, answer_of, arranged
from tracker.judge.features import attempt
from tracker.judge.joined import NEVER_SURE, Joined, own_pairing
from tracker.judge.operators import doubt_from_operators
from tracker.judge.parts import Parts
from tracker.judge.unmade import one_sided_verdict
from tracker.judge.words import Scale, plain_name

Doubt = tuple[float, float, float]
"""Standard uncertainty of a sum, what all sums share of it, and what of that comes from operators."""


def judge_closure(
    job: Job,
    terms: ClosureTerms,
    features: dict[str, FeatureCheck],
    joined: Joined | None = None,
    parts: Parts | None = None,
) -> ClosureCheck:
    """Return the answer for one closure.

    Parameters
    ----------
    job, terms : Job, ClosureTerms
    features : mapping of str to FeatureCheck
        Judged already; the drawing's limits stand in for those not measured.
    joined : Joined, optional
        The assembly that the closure is in, judged: its terms lie on two parts, and who goes with whom is known.
    parts : Parts, optional
        Which terms are dimensions of the same pieces: those are added up piece by piece. Without it none are.

    Returns
    -------
    ClosureCheck
        Its verdict is ``press as they come`` when the least and the greatest sum that these pieces can give lie within
        limits by more than the gauge's uncertainty, at the assurance asked; that of the assembly when its pairs must
        meet other fits or closures too, or when it holds by choosing pairs. With all terms on one part each piece has
        its sum already, and one out of limits is to be remade.
    """
    involved = [features[name] for name in terms.terms]
    if any(item.one_sided for item in involved):
        held_up = one_sided_verdict(job, involved)
        return ClosureCheck(
            name=terms.name,
            lower=terms.lower,
            upper=terms.upper,
            step=min(item.step for item in involved),
            verdict=held_up,
            result=None,
            reasons={"result": held_up.reason.rstrip(".")},
        )
    reasons: dict[str, str] = {}
    missing = [plain_name(name) for name in terms.terms if features[name].sizes is None]
    own, common = 0.0, 0.0
    for name, factor in terms.terms.items():
        found = features[name].sizes
        if found is not None:
            own = math.hypot(own, factor * float(np.sqrt(np.mean(np.square(found.uncertainty)))))
            common = math.hypot(common, factor * found.common_uncertainty)
    shares: list[Share] = []

    def compute() -> Closure:
        shares.extend(_shares(job, terms, features, parts))
        return closure(
            {item.called: (item.factor, item.lengths) for item in shares},
            terms.lower,
            terms.upper,
            uncertainty={item.called: item.noise for item in shares},
            common_uncertainty=common,
        )

    result = attempt(reasons, "result", compute)
    made = None
    if result is not None and not missing and joined is None and len(shares) > 1:
        made = attempt(reasons, "which together", lambda: arranged(shares, terms.lower, terms.upper, common))
    doubt = math.hypot(own, common), common, doubt_from_operators(features, terms.terms)
    verdict = _verdict(job, terms, features, result, missing, doubt, reasons, shares, made)
    if joined is not None and (joined.several or verdict.word == "pair"):
        verdict = _as_paired(verdict, joined)
    return ClosureCheck(
        name=terms.name,
        lower=terms.lower,
        upper=terms.upper,
        step=min(features[name].step for name in terms.terms),
        verdict=verdict,
        result=result,
        sides=None if joined is None else joined.names,
        parts=None if joined is None else _parts(terms, joined),
        chance_pairs=joined.pairing.chance_all if joined is not None else None if made is None else made.chance,
        pairs=() if joined is None else _pairs(terms, joined),
        made=() if made is None else made.rows(),
        made_how="" if made is None else made.found.method,
        left_over=joined.left_over() if joined is not None else () if made is None else made.left_over(),
        assembly=joined.assembly.name if joined is not None and joined.several else None,
        reasons=reasons,
    )


def _as_paired(own: Verdict, joined: Joined) -> Verdict:
    """Return the verdict with what the best pairing gives; of a closure alone its own reason stays in front."""
    found = joined.verdict
    if joined.several or found.word != "pair":
        return found
    good, holds = joined.pairing.good, share(min(joined.pairing.chance_all or 0.0, NEVER_SURE))
    reason = f"{own.reason} As paired {good} of {found.wanted} are, and all hold with {holds} chance."
    return dataclasses.replace(own, reason=reason, action=found.action)


def _parts(terms: ClosureTerms, joined: Joined) -> tuple[tuple[str, ...], tuple[str, ...]]:
    demand = joined.assembly.demands[joined.column(terms.name, is_fit=False)]
    return tuple(demand.inner), tuple(demand.outer)


def _pairs(terms: ClosureTerms, joined: Joined) -> tuple[ClosurePair, ...]:
    pairing = own_pairing(joined, terms.name, is_fit=False)
    inner, outer = joined.tables
    spread = np.atleast_1d(pairing.uncertainty)
    return tuple(
        ClosurePair(
            internal=inner.piece[int(i)],
            external=outer.piece[int(j)],
            total=float(pairing.gap[row]),
            margin=float(pairing.margin[row]),
            uncertainty=float(spread[row]),
            near=bool(pairing.near[row]),
        )
        for row, (i, j) in enumerate(zip(pairing.internal, pairing.external))
    )


def _shares(job: Job, terms: ClosureTerms, features: Mapping[str, FeatureCheck], parts: Parts | None) -> list[Share]:
    """Return what each part brings, in the order of the terms; a feature that is not measured stands alone."""
    by_part: dict[str, list[str]] = {}
    for name in terms.terms:
        alone = parts is None or features[name].sizes is None
        by_part.setdefault(f"feature {name}" if alone or parts is None else parts.of[name], []).append(name)
    return [_share(job, terms, features, names) for names in by_part.values()]


def _share(job: Job, terms: ClosureTerms, features: Mapping[str, FeatureCheck], names: list[str]) -> Share:
    sizes = [found for found in (features[name].sizes for name in names) if found is not None]
    if len(names) == 1:
        factors = {names[0]: terms.terms[names[0]]}
        lengths, factor = _lengths(job, features, names[0]), terms.terms[names[0]]
        if not sizes:
            return Share(factors, factor, lengths, np.zeros(0), ())
        return Share(factors, factor, lengths, sizes[0].uncertainty, sizes[0].piece)
    places = [{label: index for index, label in enumerate(found.piece)} for found in sizes]
    pieces = tuple(label for label in sizes[0].piece if all(label in place for place in places))
    if not pieces:
        raise NotEnoughData(
            f"no piece has readings of {listed([plain_name(name) for name in names])} together; measure them on the"
            " same pieces"
        )
    total, variance = np.zeros(len(pieces)), np.zeros(len(pieces))
    for name, found, place in zip(names, sizes, places):
        rows = [place[label] for label in pieces]
        total += terms.terms[name] * found.size[rows]
        variance += np.square(terms.terms[name] * found.uncertainty[rows])
    return Share({name: terms.terms[name] for name in names}, 1.0, total, np.sqrt(variance), pieces)


def _lengths(job: Job, features: Mapping[str, FeatureCheck], name: str) -> Any:
    found, feature = features[name].sizes, job.features[name]
    if found is not None:
        return found.size
    if feature.spread is not None:
        return (feature.aim, feature.spread)
    if feature.lower is None or feature.upper is None:
        raise NotEnoughData(f"{plain_name(name)} is not measured and has no limits to reckon with; measure two pieces")
    return (feature.nominal, feature.lower, feature.upper)


def _verdict(
    job: Job,
    terms: ClosureTerms,
    features: dict[str, FeatureCheck],
    result: Closure | None,
    missing: list[str],
    doubt: Doubt,
    reasons: dict[str, str],
    shares: list[Share],
    made: Arranged | None,
) -> Verdict:
    counts = [len(found) for found in (features[name].sizes for name in terms.terms) if found is not None]
    word, reason, action = _answer(job, terms, features, result, missing, doubt, reasons, shares, made)
    return Verdict(
        word=word,
        reason=reason,
        action=action,
        what_would_change_it="Readings." if missing or result is None else "Wider limits, or other sizes of its terms.",
        assurance=job.assurance,
        wanted=min(counts, default=0),
        internal=max(counts, default=0),
        external=min(counts, default=0),
        method="least and greatest sum of these pieces, the gauge's uncertainty beside them",
    )


def _answer(
    job: Job,
    terms: ClosureTerms,
    features: dict[str, FeatureCheck],
    result: Closure | None,
    missing: list[str],
    doubt: Doubt,
    reasons: dict[str, str],
    shares: list[Share],
    made: Arranged | None,
) -> tuple[str, str, str]:
    """Return word, reason and action."""
    name, uncertainty = plain_name(terms.name), doubt[0]
    measure = f"Measure {listed(missing)}." if missing else "Measure two pieces of each of its terms."
    if result is None:
        return "cannot say", f"Of {name} nothing can be said: {reasons['result']}.", measure
    scale = Scale(job.unit, min(features[item].step for item in terms.terms))
    low, high = result.worst_case.low, result.worst_case.high
    ends = f"sums of {name} run from {scale.size(low)} to {scale.size(high)} {scale.unit} at worst"
    room = float(special.ndtri((1 + job.assurance) / 2)) * uncertainty
    inside = result.lower <= low - room and high + room <= result.upper
    if missing:
        by = f"With the drawing for {listed(missing)} (not measured), {ends}"
        if inside:
            return "press as they come", f"{by}, within limits.", "Nothing."
        return "cannot say", f"{by}: not surely within limits.", measure
    if len(shares) == 1:
        return _piece_by_piece(job, terms, result, shares[0], room, doubt, scale)
    if inside:
        return "press as they come", f"Whichever pieces meet, {ends}, within limits.", "Put them together in any order."
    if math.isfinite(result.upper - result.lower) and 2 * room >= result.upper - result.lower:
        return "measure better", _too_coarse(name, result, uncertainty, scale), better_sizes(*doubt)
    if made is not None:
        return answer_of(job, terms, features, made, ends, scale)
    good = result.measured_share or 0.0
    if good > 0 and result.lower <= low and high <= result.upper:
        reason = f"As measured, {ends}: within limits, but by less than the gauge can tell."
        return "measure better", reason, measured_again(*doubt[:2], operators=doubt[2])
    if "which together" in reasons:
        reason = f"Not every way to put these pieces together is within limits: {ends}. {reasons['which together']}."
        return "cannot say", first_up(reason), "Judge them in smaller lots."
    if good > 0:
        reason = f"Only {share(good)} of all ways to put these pieces together are within limits: {ends}."
        return "pair", reason, "Choose by their sizes which pieces go together, so that every sum is within limits."
    return (
        "remake",
        f"No way to put these pieces together is within limits: {ends}.",
        f"Change the size of {listed([plain_name(item) for item in terms.terms][:-1])}"
        f" or {plain_name(list(terms.terms)[-1])}: {_off(result, scale)}.",
    )


def _too_coarse(name: str, result: Closure, uncertainty: float, scale: Scale) -> str:
    return (
        f"A sum of {name} is known to {scale.say(uncertainty)} (standard uncertainty), and its limits are"
        f" {scale.say(result.upper - result.lower)} apart."
    )


def _piece_by_piece(
    job: Job,
    terms: ClosureTerms,
    result: Closure,
    share_of: Share,
    room: float,
    doubt: Doubt,
    scale: Scale,
) -> tuple[str, str, str]:
    """Return word, reason and action where all terms lie on one part: no choice of mates changes its sum."""
    name, total = plain_name(terms.name), np.asarray(share_of.factor * share_of.lengths)
    part = plain_name(job.features[next(iter(terms.terms))].part) or "piece"
    ends = f"sums of {name} run from {scale.size(total.min())} to {scale.size(total.max())} {scale.unit}"
    beyond = np.maximum(result.lower - total, total - result.upper)
    out = [(share_of.piece[k], total[k]) for k in np.flatnonzero(beyond > 1e-9 * scale.step)]
    if math.isfinite(result.upper - result.lower) and 2 * room >= result.upper - result.lower:
        return "measure better", _too_coarse(name, result, doubt[0], scale), better_sizes(*doubt)
    if not out and beyond.max() <= -room:
        return "press as they come", f"Piece by piece, {ends}, within limits.", "Nothing."
    if not out or beyond.max() <= room:
        where = f"{len(out)} out of limits" if out else "within limits"
        reason = f"Piece by piece, {ends}: {where}, but by less than the gauge can tell."
        return "measure better", reason, measured_again(*doubt[:2], operators=doubt[2])
    said = listed([f"{label} ({scale.size(value)})" for label, value in out])
    many = len(out) > 1
    several = plural(part) if many else part
    reason = (
        f"{len(out)} of {len(total)} {plural(part)} {'are' if many else 'is'} out of the limits of {name} by"
        f" {'themselves' if many else 'itself'}, whatever they meet: {several} {said}."
    )
    where = listed([label for label, _ in out])
    return "remake", reason, f"Remake {several} {where}, or rework where there is material left."


def _off(result: Closure, scale: Scale) -> str:
    mean = f"the mean sum {scale.size(result.mean)} {scale.unit} is"
    if result.lower <= result.mean <= result.upper:
        return f"{mean} within limits, but no two of the pieces suit each other"
    nearer, side = (result.lower, "under the lower") if result.mean < result.lower else (result.upper, "over the upper")
    return f"{mean} {scale.say(abs(result.mean - nearer))} {side} limit"
