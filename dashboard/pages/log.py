"""What does the next reading say: the entry field, the pieces against their limits, the last entries.

The page itself is drawn by ``assets/log-*.js`` from `dashboard.entry_routes`, because a gauge types faster than a page
redraws; here stands only the room it is drawn in.
"""

from __future__ import annotations

from dash import html

from dashboard.parts.address import Address
from dashboard.parts.answers import Answer
from dashboard.parts.panels import Page, chooser, empty
from tracker.judge import plain_name

QUESTION = "What does the next reading say?"


def page(answer: Answer, address: Address) -> Page:
    """Return the page where readings of one feature are logged."""
    found = answer.feature(address.feature)
    if found is None:
        return Page(
            question=QUESTION,
            answer="Nothing can be logged: this job has no feature.",
            word="cannot say",
            body=[empty("Add a feature", "Give the job a [features.NAME] with its kind and its nominal.")],
            job=answer.check.job,
        )
    name = plain_name(found.name)
    options = [(plain_name(item.name), address.to(feature=item.name)) for item in answer.check.features]
    room = html.Div(
        html.P("Reading the record.", className="quiet"),
        id="log-room",
        key=f"{answer.job_id} {found.name} {answer.unit}",
        **{"data-job": str(answer.job_id), "data-feature": found.name, "data-unit": answer.unit},
    )
    return Page(
        question=f"What does the next {name} reading say?",
        answer="",
        choosers=[chooser("part", options, name)],
        body=[room],
        job=answer.check.job,
    )
