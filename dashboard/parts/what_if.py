"""What if: a job judged again with other costs or another assurance, as the address asks."""

from __future__ import annotations

import dataclasses
import datetime
import threading
from collections import OrderedDict
from dataclasses import dataclass

from dashboard.parts.answers import Answer
from dashboard.parts.at_once import assembly_of
from tracker.job import Costs, Job
from tracker.judge import FitCheck, check, plain_name

LEAST_SURE, MOST_SURE = 0.5, 0.999
DEAREST = 1e6
MOST_KEPT = 64


@dataclass(frozen=True, slots=True, kw_only=True)
class Idea:
    """One figure that can be tried.

    Attributes
    ----------
    name, words, unit : str
        Its name in the address, what it is called, and its unit.
    own : float or None
        What the job says; None where it says nothing.
    value : float or None
        What the plan uses now; None where this step is not done at all.
    tried : bool
        Whether the address asks for it.
    high, step : float
        Of the slider, which begins at ``low``.
    """

    name: str
    words: str
    own: float | None
    value: float | None
    tried: bool
    low: float = 0.0
    high: float
    step: float
    unit: str = ""


def ideas_of(job: Job, fit: FitCheck, asked: tuple[tuple[str, str], ...]) -> list[Idea]:
    """Return what can be tried on the plan of a fit; ``fit`` is judged with what is asked already."""
    if fit.plan is None:
        return []
    tried = _tried(asked)
    costs, used = job.costs, fit.plan.prices
    found: list[tuple[str, str, float | None, float | None]] = [
        ("spoiled", "a spoiled assembly", costs.spoiled_assembly, used.spoiled_assembly),
        ("press", "pressing one", costs.press, used.press),
    ]
    sides = (("external", fit.external), ("internal", fit.internal))
    for kind, stated, now in (("rework", costs.rework, used.rework), ("remake", costs.remake, used.remake)):
        word = "reworking a" if kind == "rework" else "making a new"
        found += [
            (f"{kind}-{name}", f"{word} {plain_name(name)}", stated.get(name), tried.get(f"{kind}-{name}", now_of))
            for side, name in sides
            for now_of in [stated.get(name, now.get(side) if not stated else None)]
        ]
    sure = Idea(
        name="assurance",
        words="how sure it must be",
        own=100 * job.assurance,
        value=100 * fit.plan.assurance,
        tried="assurance" in tried,
        low=100 * LEAST_SURE,
        high=100 * MOST_SURE,
        step=0.1,
        unit="%",
    )
    return [
        sure,
        *[
            Idea(name=name, words=words, own=own, value=value, tried=name in tried, high=high, step=high / 200)
            for name, words, own, value in found
            for high in [_round_up(4 * max(own or 0.0, value or 0.0, 2.5))]
        ],
    ]


def _tried(asked: tuple[tuple[str, str], ...]) -> dict[str, float]:
    return {name: value for name, text in asked if (value := read_figure(text)) is not None}


def read_figure(text: str) -> float | None:
    """Return a plain figure of zero or more; None for anything else, which is then passed over.

    Examples
    --------
    >>> read_figure("4.5"), read_figure("nan"), read_figure("four")
    (4.5, None, None)
    """
    try:
        value = float(text)
    except ValueError:
        return None
    return value if 0 <= value <= DEAREST else None


def changed_job(job: Job, fit: FitCheck, asked: tuple[tuple[str, str], ...]) -> Job:
    """Return the job with the figures that are tried in place of its own; ``fit`` is judged without them."""
    if fit.plan is None:
        return job
    tried, used = _tried(asked), fit.plan.prices
    sides = {fit.internal: "internal", fit.external: "external"}
    tables = {}
    for kind, stated, now in (("rework", job.costs.rework, used.rework), ("remake", job.costs.remake, used.remake)):
        new = {name: tried[f"{kind}-{name}"] for name in sides if f"{kind}-{name}" in tried}
        before = {name: now[side] for name, side in sides.items() if side in now} if new else {}
        tables[kind] = {**before, **stated, **new}
    costs = Costs(
        press=tried.get("press", job.costs.press),
        rework=tables["rework"],
        remake=tables["remake"],
        spoiled_assembly=tried.get("spoiled", job.costs.spoiled_assembly),
        touch=job.costs.touch,
        too_tight=job.costs.too_tight,
        too_loose=job.costs.too_loose,
        stated=job.costs.stated,
    )
    sure = job.assurance
    if "assurance" in tried:
        sure = min(max(tried["assurance"] / 100, LEAST_SURE), MOST_SURE)
    return dataclasses.replace(job, costs=costs, assurance=sure)


_kept: OrderedDict[tuple[str, str, str], FitCheck] = OrderedDict()
_turn = threading.Lock()


def fit_if(answer: Answer, fit: FitCheck, asked: tuple[tuple[str, str], ...]) -> FitCheck:
    """Return the fit judged with what the address asks; the fit itself where nothing is asked.

    The last few are kept, by the fingerprint of the readings, so that a page and its picture are judged once.
    """
    job = changed_job(answer.job, fit, asked)
    if job == answer.job:
        return fit
    item = assembly_of(answer, fit)
    fits, closures = ((fit.name,), ()) if item is None else (item.fits, item.closures)
    sides = {name for one in fits for name in (answer.job.fits[one].internal, answer.job.fits[one].external)}
    sides |= {name for one in closures for name in answer.job.closures[one].terms}
    job = dataclasses.replace(
        job,
        fits={name: answer.job.fits[name] for name in fits},
        features={name: feature for name, feature in answer.job.features.items() if name in sides},
        closures={name: answer.job.closures[name] for name in closures},
    )
    key = (answer.check.readings.fingerprint, answer.unit, repr(job))
    with _turn:
        if key in _kept:
            _kept.move_to_end(key)
            return _kept[key]
    frame = answer.readings.readings
    readings = dataclasses.replace(answer.readings, readings=frame[frame["feature"].isin(sides)].reset_index(drop=True))
    events = [event for event in answer.events if event.feature in sides]
    judged = check(job, readings, events, today=datetime.date.today())
    found = next(one for one in judged.fits if one.name == fit.name)
    with _turn:
        _kept[key] = found
        while len(_kept) > MOST_KEPT:
            _kept.popitem(last=False)
    return found


def _round_up(value: float) -> float:
    for top in (10, 20, 50, 100, 200, 500, 1000, 2000, 5000, 10000):
        if value <= top:
            return float(top)
    return value
