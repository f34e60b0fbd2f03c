"""Which way of a plan the page goes by, beside the verdict: page, picture and steps all name the same one."""

from __future__ import annotations

from dashboard.figures.ways import PLANNED
from tracker.decide import Alternative, Plan
from tracker.judge import FitCheck

PLAIN = ("press in any order", "pair", "sort into classes")
WORD_OF = {"press in any order": "press as they come", "pair": "pair", "sort into classes": "sort"}
AS_CHEAP, NEARLY = 1.005, 1.05
"""A plainer way counts as being as cheap as the plan up to the first; the way the verdict names, up to the second."""


def chosen_way(fit: FitCheck, plan: Plan, asked: float) -> Alternative:
    """Return the way the verdict names if it costs hardly more than the plan, the plainest as cheap, or the plan.

    Where pieces are reworked or made first it is the plan: its pairs are those that the bench sheet lists.
    """
    by_name = {item.name: item for item in plan.alternatives}
    best = by_name[PLANNED]
    if fit.verdict.word in ("rework", "remake") and (plan.reworked or plan.remade):
        return best
    for name in (*[way for way, word in WORD_OF.items() if word == fit.verdict.word], *PLAIN):
        item = by_name.get(name)
        most = best.cost * (NEARLY if WORD_OF[name] == fit.verdict.word else AS_CHEAP)
        if item is None or item.assemblies > item.pressed:
            continue  # what is short is made new, and how stands in the plan only
        if item.cost <= most and (item.risk <= asked or item.risk <= best.risk):
            return item
    return best


def word_of(plan: Plan, chosen: Alternative) -> str:
    """Return the verdict that a way amounts to."""
    if chosen.name == PLANNED:
        return "remake" if plan.remade else "rework" if plan.reworked else "pair"
    return WORD_OF.get(chosen.name, "remake")
