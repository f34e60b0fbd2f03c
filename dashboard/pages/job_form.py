"""What the drawing says: a new job, a job changed, and files brought in.

The form itself is drawn by ``assets/job-form.js`` and ``assets/bring.js`` from `dashboard.job_routes`, so that a page
that redraws takes nothing typed away; here stand the rooms they are drawn in, and what is known without them.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from dash import html

from dashboard.job_routes import LARGEST_UPLOAD, export_kinds
from dashboard.parts.address import Address
from dashboard.parts.answers import Answers
from dashboard.parts.panels import Page, empty, panel
from dashboard.people import rights
from dashboard.people.door import allowed, person
from tracker.decide.words import count
from tracker.judge import plain_name
from tracker.record import BatchInfo, JobInfo

QUESTION = "What does the drawing say?"
BRING_QUESTION = "What is in the folder?"


def new(answers: Answers, address: Address) -> Page:
    """Return the page of a job that is not there yet."""
    return Page(
        question=QUESTION,
        answer="A new job, not kept yet.",
        reasons=[
            "Fill in what the drawing says: lengths as you would write them, .6250, 15.88 mm or 5 um.",
            "What is wrong is said beside its field, and nothing is kept before all of it makes sense.",
        ],
        choosers=[_other_way(address, "bring", "drop in a folder instead")],
        body=[_form_room(0, 0, 0)],
    )


def job(answers: Answers, address: Address) -> Page:
    """Return the page of a job that is there: its revisions, its form, its batches, and its readings to take out."""
    infos = answers.record.jobs()
    info = next((item for item in infos if item.id == address.job), None)
    if info is None:
        return Page(
            question=QUESTION,
            answer="There is no such job." if address.job is not None else "No job is named.",
            body=[empty("Look here instead", "Every job stands on Jobs.", links=[("all jobs", Address().href)])],
        )
    may = allowed(rights.SIGNS_OFF)
    shown = address.revision if address.revision and address.revision <= info.revision else info.revision
    here = address.to(page="job", revision=None)
    return Page(
        question=QUESTION,
        answer=_holds(shown, info.revision),
        reasons=[
            *([] if may else [_only_read()]),
            f"{_first(info)} A change is kept as a new revision; earlier ones stay readable, and each batch keeps the"
            " one it began under.",
        ],
        choosers=[_revisions(here, info.revision, shown), _doors(here, info)],
        body=[
            _form_room(info.id, shown, info.revision, may=may),
            html.Div([_batches(answers.record.batches(info.id)), _out(info)], className="columns under-form"),
        ],
        job=info.name,
    )


def bring(answers: Answers, address: Address) -> Page:
    """Return the page where a folder is dropped in."""
    infos = answers.record.jobs()
    known = next((item for item in infos if item.id == address.job), None)
    room = html.Div(
        id="bring-room",
        key="bring",
        **{
            "data-job": str(known.id) if known else "",
            "data-most": str(LARGEST_UPLOAD),
            "data-jobs": "\n".join(f"{item.id} {item.name}" for item in infos),
        },
    )
    return Page(
        question=BRING_QUESTION,
        answer="Drop it here, and see before anything is kept.",
        reasons=[
            "A job.toml with its readings (CSV, XLSX or Parquet) and its events.csv; or readings of a job that is here."
        ],
        choosers=[_other_way(address, "new", "fill in a form instead")],
        body=[room],
        job=known.name if known else "",
    )


PAGES: dict[str, Callable[[Answers, Address], Page]] = {"new": new, "job": job, "bring": bring}
"""The pages that belong to Jobs, by the first part of their path."""


def _first(info: JobInfo) -> str:
    return f"{info.name} is in the record since {info.created[:10]}{f', by {info.by}' if info.by else ''}."


def _only_read() -> str:
    """Return why the form below may be read and not kept."""
    me = person()
    return (
        "" if me is None else f"You may read it, not change it: {rights.refusal(me.name, me.role, rights.SIGNS_OFF)}."
    )


def _form_room(job_id: int, revision: int, latest: int, *, may: bool = True) -> html.Div:
    return html.Div(
        id="job-form",
        key=f"job {job_id} {revision} of {latest}",
        **{
            "data-job": str(job_id or ""),
            "data-revision": str(revision if revision < latest else ""),
            **({} if may else {"data-read-only": "1"}),
        },
    )


def _holds(shown: int, latest: int) -> str:
    if shown < latest:
        return f"Revision {shown} of {latest} is shown, which holds no longer."
    return f"Revision {shown} holds." if latest > 1 else "It holds as it was first kept."


def _other_way(address: Address, path: str, words: str) -> html.Div:
    return html.Div(
        html.A(words, href=Address(page=path, unit=address.unit).href, className="button"), className="doors"
    )


def _revisions(here: Address, latest: int, shown: int) -> html.Nav | None:
    if latest < 2:
        return None
    numbers = sorted({*range(max(1, latest - 6), latest + 1), shown, 1})
    links = [
        html.A(
            str(number),
            href=here.to(revision=None if number == latest else number).href,
            **({"aria-current": "true"} if number == shown else {}),
        )
        for number in numbers
    ]
    return html.Nav(
        [html.Span("revision", className="quiet"), *links], className="chooser", **{"aria-label": "revision"}
    )


def _doors(here: Address, info: JobInfo) -> html.Div:
    return html.Div(
        [
            html.A("log", href=here.to(page="log").href, className="button strong"),
            html.A("fits", href=here.to(page="fit").href, className="button"),
            html.A("add files", href=here.to(page="bring").href, className="button"),
        ],
        className="doors",
    )


def _batches(found: list[BatchInfo]) -> html.Section:
    if not found:
        return panel(
            "No batch yet",
            html.P("The first reading of a feature begins its batch, under the revision that holds then."),
        )
    rows = [
        html.Tr(
            [
                html.Td(plain_name(item.feature)),
                html.Td(item.batch or "unnamed"),
                html.Td(f"{item.readings:,}", className="number"),
                html.Td(str(item.revision), className="number"),
                html.Td(item.begun[:10], className="tight wide"),
            ]
        )
        for item in found
    ]
    heads: list[Any] = [
        html.Th("part", scope="col"),
        html.Th("batch", scope="col"),
        html.Th("readings", scope="col", className="number"),
        html.Th("revision", scope="col", className="number"),
        html.Th("begun", scope="col", className="wide"),
    ]
    table = html.Div(html.Table([html.Thead(html.Tr(heads)), html.Tbody(rows)]), className="table-room")
    return panel(
        f"{count(len(found), 'batch', 'batches').capitalize()}, each under the revision it began with",
        table,
        how="The pages judge by the revision that holds now; the record keeps which one each batch began under",
    )


def _out(info: JobInfo) -> html.Section:
    links = [
        html.A(
            word,
            href=f"/exports/{info.id}.{ending}",
            download="",
            className="button",
            **{"aria-label": f"{word}, readings"},
        )
        for ending, word in export_kinds().items()
    ]
    text = html.A("job.toml", href=f"/exports/{info.id}.toml", download="", className="button")
    struck = html.A(
        "CSV with the struck-out ones", href=f"/exports/{info.id}.csv?struck=1", download="", className="struck-too"
    )
    return panel(
        f"Take out {info.readings:,} readings" if info.readings else "Nothing to take out yet, but the job itself",
        html.Div([*(links if info.readings or info.waiting or info.struck else []), text], className="buttons"),
        *([html.P(struck)] if info.struck else []),
        how="As they were typed, with the size each came to; no cell runs as a formula in a spreadsheet",
    )
