"""Who may do what: the users and tokens for who administers, everybody's own password.

The forms are drawn by ``assets/people.js`` from `dashboard.people.routes`; here stands the room they are drawn in.
"""

from __future__ import annotations

from dash import html

from dashboard.parts.panels import Page, empty
from tracker.record import ROLES, UserInfo


def page(me: UserInfo | None) -> Page:
    """Return the page of people as this user sees it."""
    if me is None:
        return Page(
            question="Who may do what?",
            answer="Only this machine may ask, and nobody signs in.",
            body=[
                empty(
                    "To serve a shop",
                    "Make the first user, who administers: tenthwise users add NAME --role administers",
                    "Then serve an address that others reach: tenthwise serve --host ADDRESS",
                    links=[("how a shop is served", "/help/serving")],
                )
            ],
        )
    lets_in = me.role == ROLES[-1]
    question = "Who may do what?" if lets_in else "Who are you here?"
    answer = "The people and programs that may come in." if lets_in else f"{me.name}, who {me.role}."
    room = html.Div(html.P("Reading the record.", className="quiet"), id="people-room", key=f"{me.name} {me.role}")
    return Page(question=question, answer=answer, body=[room])
