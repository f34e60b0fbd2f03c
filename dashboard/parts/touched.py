"""Buttons that log what was done to the machine, after the last piece measured."""

from __future__ import annotations

from dash import html

from dashboard.parts.answers import Answer
from tracker.judge import FeatureCheck, plain_name


def touched_button(
    answer: Answer, found: FeatureCheck, event: str, words: str, *, amount: float | None = None, strong: bool = False
) -> html.Button:
    """Return a button that logs an event after the last piece, asked once more before it does.

    Parameters
    ----------
    answer : Answer
    found : FeatureCheck
        With sizes.
    event : str
        ``tool_change``, ``offset_change``, ``dressing`` or ``setup``.
    words : str
        What the button says.
    amount : float, optional
        By how much the part changes, in the job's own unit.
    strong : bool
        Whether it is the first thing to do.
    """
    last = "" if found.sizes is None else found.sizes.piece[-1]
    after = f"after {plain_name(found.name)} {last}" if last else "before the first piece"
    data = {
        "data-event": event,
        "data-job": str(answer.job_id),
        "data-feature": found.name,
        "data-after": last,
        "data-amount": "" if amount is None else repr(float(amount)),
    }
    says = [
        html.Span(words, className="first"),
        html.Span(f"sure? {after}", className="sure"),
        html.Span("logged", className="kept"),
        html.Span("not logged; try again", className="failed"),
    ]
    return html.Button(says, type="button", className="button strong" if strong else "button", **data)
