"""One closure judged: a signed sum of measured lengths against its limits, whichever pieces meet."""

from __future__ import annotations

import dataclasses
import math
from typing import Any

import numpy as np
from scipy import special

from tracker.decide import Verdict
from tracker.decide.words import listed, share
from tracker.errors import NotEnoughData
from tracker.fit import Closure, closure
from tracker.job import ClosureTerms, Job
from tracker.judge.answers import ClosureCheck, ClosurePair, FeatureCheck
from tracker.judge.features import attempt
from tracker.judge.joined import Joined, own_pairing
from tracker.judge.words import Scale, plain_name


def judge_closure(
    job: Job, terms: ClosureTerms, features: dict[str, FeatureCheck], joined: Joined | None = None
) -> ClosureCheck:
    """Return the answer for one closure.

    Parameters
    ----------
    job, terms : Job, ClosureTerms
    features : mapping of str to FeatureCheck
        Judged already; the drawing's limits stand in for those not measured.
    joined : Joined, optional
        The assembly that the closure is in, judged: its terms lie on two parts, and who goes with whom is known.

    Returns
    -------
    ClosureCheck
        Its verdict is ``press as they come`` when the least and the greatest sum that these pieces can give lie within
        limits by more than the gauge's uncertainty, at the assurance asked; that of the assembly when its pairs must
        meet other fits or closures too, or when it holds by choosing pairs.
    """
    reasons: dict[str, str] = {}
    missing = [plain_name(name) for name in terms.terms if features[name].sizes is None]
    own, common = 0.0, 0.0
    for name, factor in terms.terms.items():
        found = features[name].sizes
        if found is not None:
            own = math.hypot(own, factor * float(np.sqrt(np.mean(np.square(found.uncertainty)))))
            common = math.hypot(common, factor * found.common_uncertainty)

    def compute() -> Closure:
        entries = {plain_name(name): (factor, _lengths(job, features, name)) for name, factor in terms.terms.items()}
        return closure(entries, terms.lower, terms.upper, uncertainty=own, common_uncertainty=common)

    result = attempt(reasons, "result", compute)
    verdict = _verdict(job, terms, features, result, missing, math.hypot(own, common), reasons)
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
        chance_pairs=None if joined is None else joined.pairing.chance_all,
        pairs=() if joined is None else _pairs(terms, joined),
        left_over=() if joined is None else joined.left_over(),
        assembly=joined.assembly.name if joined is not None and joined.several else None,
        reasons=reasons,
    )


def _as_paired(own: Verdict, joined: Joined) -> Verdict:
    """Return the verdict with what the best pairing gives; of a closure alone its own reason stays in front."""
    found = joined.verdict
    if joined.several or found.word != "pair":
        return found
    good, holds = joined.pairing.good, share(joined.pairing.chance_all or 0.0)
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


def _lengths(job: Job, features: dict[str, FeatureCheck], name: str) -> Any:
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
    uncertainty: float,
    reasons: dict[str, str],
) -> Verdict:
    counts = [len(found) for found in (features[name].sizes for name in terms.terms) if found is not None]
    word, reason, action = _answer(job, terms, features, result, missing, uncertainty, reasons)
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
    uncertainty: float,
    reasons: dict[str, str],
) -> tuple[str, str, str]:
    """Return word, reason and action."""
    name = plain_name(terms.name)
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
    if inside:
        return "press as they come", f"Whichever pieces meet, {ends}, within limits.", "Put them together in any order."
    if math.isfinite(result.upper - result.lower) and 2 * room >= result.upper - result.lower:
        return (
            "measure better",
            f"A sum of {name} is known to {scale.say(uncertainty)} (standard uncertainty), and its limits are"
            f" {scale.say(result.upper - result.lower)} apart.",
            "Take a better gauge, or repeat every reading.",
        )
    good = result.measured_share or 0.0
    if good > 0:
        if result.lower <= low and high <= result.upper:
            reason = f"As measured, {ends}: within limits, but by less than the gauge can tell."
            return "measure better", reason, "Measure again with a better gauge or more repeats."
        reason = f"Only {share(good)} of all ways to put these pieces together are within limits: {ends}."
        return "pair", reason, "Choose by their sizes which pieces go together, so that every sum is within limits."
    return (
        "remake",
        f"No way to put these pieces together is within limits: {ends}.",
        f"Change the size of {listed([plain_name(item) for item in terms.terms][:-1])}"
        f" or {plain_name(list(terms.terms)[-1])}: {_off(result, scale)}.",
    )


def _off(result: Closure, scale: Scale) -> str:
    nearer = result.lower if result.mean < result.lower else result.upper
    side = "under the lower" if result.mean < result.lower else "over the upper"
    return f"the mean sum {scale.size(result.mean)} {scale.unit} is {scale.say(abs(result.mean - nearer))} {side} limit"
