"""The verdict on a press fit in one sentence: whether it presses and holds, or why it must not be pressed."""

from __future__ import annotations

from tracker.fit.press_results import MARGIN, PressFit, Service, is_thin, said, times, up_to
from tracker.plurals import noun

NO_PRESS = "none: a part passes its strength"


def verdict_of(fit: PressFit) -> str:
    """Return the verdict: do not press, does not hold, or presses and holds, with what is wanting."""
    force = fit.units["force"]
    if fit.yielding:
        return f"Do not press: {_passed(fit)}."
    if fit.loose:
        return f"Do not press as they are: {counted(fit.loose, fit.pairs, 'has', 'have')} no interference left."
    hot = fit.service
    if hot is not None and hot.loose:
        who = "no interference is left"
        if fit.pairs > 1:
            who = f"{counted(hot.loose, fit.pairs, 'has', 'have')} no interference left"
        return f"It presses, but does not hold in service: at {temperature_of(hot, fit.units['temperature'])} {who}."
    wanting = []
    thinnest = min(fit.margins, key=lambda name: fit.margins[name])
    if is_thin(fit.margins[thinnest]):
        keeps = up_to(fit.at_margin(MARGIN), fit.units["length"])
        wanting.append(
            f"with a margin of {times(fit.margins[thinnest])} ({thinnest} part), under the {MARGIN:g} that is asked; up"
            f" to {keeps} of interference keeps that"
        )
    elif hot is not None and is_thin(min(hot.margins.values())):
        thinnest = min(hot.margins, key=lambda name: hot.margins[name])
        wanting.append(
            f"in service with a margin of {times(hot.margins[thinnest])} ({thinnest} part), under the {MARGIN:g} that"
            " is asked"
        )
    if hot is not None and hot.little:
        wanting.append(f"in service little of it is left: {hot.holding_force.text(force)}")
    holds = f"It presses, and holds {fit.ranges['holding_force'].text(force)}"
    if hot is not None and not hot.little:
        holds += f" ({hot.holding_force.text(force)} in service)"
    return f"{holds}{''.join(f', but {words}' for words in wanting)}."


def counted(number: int, pairs: int, one: str, several: str) -> str:
    """Return so many of the pairs with their verb: ``1 of 3 pairs goes``."""
    return f"{number} of {pairs} pairs {noun(number, one, several)}"


def temperature_of(service: Service, degrees: str) -> str:
    """Return the temperature in service, or both."""
    inner, outer = said(service.inner_temperature, degrees), said(service.outer_temperature, degrees)
    return inner if inner == outer else f"inner {inner}, outer {outer}"


def _passed(fit: PressFit) -> str:
    """Return which part passes its strength, cold or in service, and the most interference it stands."""
    hot = fit.service
    if not fit.past_elastic and hot is not None:
        which = _parts([name for name, margin in hot.margins.items() if margin < 1])
        return f"at {temperature_of(hot, fit.units['temperature'])}, in service, {which}"
    which = _parts([name for name, margin in fit.margins.items() if margin < 1])
    unit = fit.units["length"]
    most, given = up_to(fit.elastic_limit, unit), said(fit.interference.high, unit)
    some = f"with {fit.past_elastic} of {fit.pairs} pairs " if fit.pairs > 1 else ""
    return f"{some}{which}; up to {most} of interference stays elastic, and up to {given} is given"


def _parts(names: list[str]) -> str:
    if len(names) == 1:
        return f"the {names[0]} part passes its strength"
    return "both parts pass their strength"
