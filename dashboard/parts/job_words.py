"""A job in sentences: what was understood of its drawing, before anything is measured."""

from __future__ import annotations

from dashboard.figures.numbers import Numbers
from dashboard.parts.job_tables import shown_terms
from tracker.job import ClosureTerms, Feature, Fit, Job
from tracker.judge import plain_name
from tracker.units import convert, small_unit


def job_words(job: Job) -> list[str]:
    """Return what was understood of a job: a sentence a feature, and one or two a fit and a closure.

    Notes
    -----
    The gaps that the limits of size allow are the extremes, internal minus external; no distribution is assumed.
    """
    numbers = Numbers(job.unit, convert(0.1, small_unit(job.unit), job.unit))
    said = [_feature(item, numbers) for item in job.features.values()]
    said += [words for fit in job.fits.values() for words in _fit(fit, job, numbers)]
    return said + [words for closure in job.closures.values() for words in _closure(closure, job, numbers)]


def _feature(item: Feature, numbers: Numbers) -> str:
    low, high = item.lower, item.upper
    unit = numbers.unit
    if low is not None and high is not None:
        span = f"from {numbers.short(low)} to {numbers.short(high)} {unit}, {numbers.off(high - low, signed=False)}"
        limits = f"{span} {numbers.small} apart"
    elif low is not None:
        limits = f"at least {numbers.short(low)} {unit}"
    elif high is not None:
        limits = f"at most {numbers.short(high)} {unit}"
    else:
        limits = f"about {numbers.short(item.nominal)} {unit}, with no limits of its own"
    return f"{plain_name(item.name)}, {item.kind}: {limits}; aim {numbers.short(item.aim)}."


def _fit(fit: Fit, job: Job, numbers: Numbers) -> list[str]:
    name, low, high = plain_name(fit.name), fit.gap_lower, fit.gap_upper
    if low is not None and high is not None:
        asked = f"a gap from {numbers.off(low)} to {numbers.off(high)} {numbers.small}"
        kind = ", an interference" if high <= 0 else ", a clearance" if low >= 0 else ", a clearance or an interference"
    else:
        end = low if low is not None else high
        asked = f"a gap of at {'least' if low is not None else 'most'} {numbers.off(end or 0.0)} {numbers.small}"
        kind = ""
    said = [f"{name} asks for {asked}{kind}."]
    inner, outer = job.features[fit.internal], job.features[fit.external]
    if None in (inner.lower, inner.upper, outer.lower, outer.upper):
        return said
    least = (inner.lower or 0.0) - (outer.upper or 0.0)
    most = (inner.upper or 0.0) - (outer.lower or 0.0)
    tiny = 1e-3 * numbers.one
    every = (low is None or least >= low - tiny) and (high is None or most <= high + tiny)
    verdict = f"{'' if every else 'not '}every two within limits go together"
    said.append(f"The limits allow gaps from {numbers.off(least)} to {numbers.off(most)} {numbers.small}: {verdict}.")
    return said


def _closure(closure: ClosureTerms, job: Job, numbers: Numbers) -> list[str]:
    """Return what a signed sum of lengths asks for, and what the limits of its lengths allow."""
    name, low, high, unit = plain_name(closure.name), closure.lower, closure.upper, numbers.unit
    whole = {item: int(factor) if factor == int(factor) else factor for item, factor in closure.terms.items()}
    terms = shown_terms({plain_name(item): factor for item, factor in whole.items()})
    if low is not None and high is not None:
        span = numbers.off(high - low, signed=False)
        asked = f"from {numbers.short(low)} to {numbers.short(high)} {unit}, {span} {numbers.small} apart"
    elif low is not None or high is not None:
        end = low if low is not None else high
        asked = f"at {'least' if low is not None else 'most'} {numbers.short(end or 0.0)} {unit}"
    else:
        asked = "with no limits"
    said = [f"{name} is {terms}: {asked}."]
    parts = [(factor, job.features[item]) for item, factor in closure.terms.items()]
    least = most = 0.0
    for factor, item in parts:
        if item.lower is None or item.upper is None:
            return said
        ends = (factor * item.lower, factor * item.upper)
        least, most = least + min(ends), most + max(ends)
    tiny = 1e-3 * numbers.one
    every = (low is None or least >= low - tiny) and (high is None or most <= high + tiny)
    span = f"{numbers.short(least)} to {numbers.short(most)} {unit}"
    said.append(f"The limits allow sums from {span}: {'' if every else 'not '}every set within limits adds up.")
    return said
