"""The app: one page at an address, judged from the record, drawn in the look of the house; nothing from outside."""

from __future__ import annotations

import logging
from collections.abc import Callable
from dataclasses import replace
from importlib import import_module
from typing import Any

import flask
from dash import Dash, Input, Output, State, dcc, html, no_update

from dashboard.bounds import bound_numbers, bound_requests
from dashboard.entry_routes import entry_routes
from dashboard.event_routes import event_routes
from dashboard.figures.drawing import FONT_FILES, rules
from dashboard.gauge_routes import gauge_routes
from dashboard.interface.routes import answer_in_json, interface_routes
from dashboard.job_routes import job_routes
from dashboard.pages import batch, fit, gauges, history, job_form, jobs, next_cut, plan, sheets, wear
from dashboard.pages import help as help_page
from dashboard.pages import log as log_page
from dashboard.pages import people as people_page
from dashboard.parts.address import Address, read_address
from dashboard.parts.answers import Answer, Answers
from dashboard.parts.frame import frame
from dashboard.parts.panels import Page, empty
from dashboard.parts.pictures import picture_routes
from dashboard.parts.sentences import sentence
from dashboard.people import rights
from dashboard.people.door import OWN_COOKIE, OWN_HEADER, Door, allowed, guard, host_name, is_loopback, person
from dashboard.people.routes import people_routes
from dashboard.people.sign_in import sign_in_routes
from dashboard.people.throttle import Throttle
from dashboard.sheet_routes import sheet_routes
from dashboard.sign_off_routes import sign_off_routes
from dashboard.theme import THEMES, style_sheet
from tracker.errors import TrackerError
from tracker.record import Record

log = logging.getLogger(__name__)

OfJob = Callable[[Answer, Address], Page]

PAGES: dict[str, OfJob] = {
    "log": log_page.page,
    "batch": batch.page,
    "fit": fit.page,
    "next": next_cut.page,
    "wear": wear.page,
    "gauges": gauges.page,
    "plan": plan.page,
    "sheets": sheets.page,
}
"""The pages of one job, by the first part of their path; their names stand in `dashboard.parts.frame.PAGES`."""

ROOMS = (
    "tracker.readings.tables",
    "tracker.readings.suspects",
    "tracker.judge.assembly",
    "tracker.judge.put_together",
    "tracker.record.frames",
    "tracker.record.exports",
)
"""Loaded before the first request: two requests that load one room at the same time may each find half of it."""

NOT_FOR_ALL = {"log": log_page.QUESTION, "new": job_form.QUESTION, "bring": job_form.BRING_QUESTION}
"""The questions of the pages that not every role may open (`rights.PAGES`)."""

LOOK_AGAIN_MS = 2000
UNREADABLE = -1
THEME_COOKIE = "tenthwise-theme"
LARGEST_REQUEST = 2_000_000

PRELOAD = '<link rel="preload" href="/assets/fonts/{}" as="font" type="font/woff2" crossorigin>'
INDEX = """<!DOCTYPE html>
<html lang="en"{theme}>
<head>
<meta charset="utf-8"><meta name="viewport" content="width=device-width, initial-scale=1">
<title>tenthwise</title>
<link rel="icon" href="/assets/favicon.svg" type="image/svg+xml">
{fonts}
<link rel="stylesheet" href="/theme.css">
{css}
</head>
<body>
{app_entry}
<footer>{config}{scripts}{renderer}</footer>
</body>
</html>"""


class BenchApp(Dash):
    """Dash with an index that comes in the reader's theme from the first paint."""

    def interpolate_index(self, **parts: Any) -> str:
        """Return the page that loads the program."""
        theme = chosen_theme()
        return INDEX.format(
            theme=f' data-theme="{theme}"' if theme else "",
            fonts="".join(PRELOAD.format(file) for file in FONT_FILES.values()),
            css=parts["css"],
            app_entry=parts["app_entry"],
            config=parts["config"],
            scripts=parts["scripts"],
            renderer=parts["renderer"],
        )


def chosen_theme() -> str:
    """Return the theme that the reader chose, "" where none was."""
    theme = flask.request.cookies.get(THEME_COOKIE, "") if flask.has_request_context() else ""
    return theme if theme in THEMES else ""


def create_app(record: Record, *, bench: str = "", door: Door | None = None) -> Dash:
    """Return the dashboard over an open record.

    Parameters
    ----------
    record : Record
    bench : str
        Who logs here, written beside each reading: "bench 2". Where people sign in, their own name is.
    door : Door, optional
        How people come in; without, only this machine may ask, and nobody signs in.

    Returns
    -------
    Dash
        Its ``server`` is the WSGI application.
    """
    for room in ROOMS:
        import_module(room)
    answers = Answers(record)
    app = BenchApp(
        "dashboard",
        title="tenthwise",
        update_title="",
        serve_locally=True,
        suppress_callback_exceptions=True,
        compress=False,
        csrf_token_name=OWN_COOKIE,
        csrf_header_name=OWN_HEADER,
    )
    server = app.server
    door, throttle = door or Door(), Throttle()
    guard(server, record, door)
    bound_numbers(server)
    bound_requests(app)
    server.config["MAX_CONTENT_LENGTH"] = LARGEST_REQUEST
    server.register_blueprint(entry_routes(record, lambda job, unit: verdict_lines(answers, job, unit)))
    server.register_blueprint(event_routes(record))
    server.register_blueprint(job_routes(record))
    server.register_blueprint(picture_routes(answers))
    server.register_blueprint(sheet_routes(answers, bench))
    server.register_blueprint(sign_off_routes(record, answers))
    server.register_blueprint(gauge_routes(record))
    server.register_blueprint(help_page.help_routes())
    server.register_blueprint(sign_in_routes(record, door, chosen_theme, throttle))
    server.register_blueprint(people_routes(record, door, throttle))
    server.register_blueprint(interface_routes(record, answers))
    answer_in_json(server)
    _plain_routes(server, record)
    app.layout = html.Div(
        [
            dcc.Location(id="where", refresh=False),
            dcc.Interval(id="look-again", interval=LOOK_AGAIN_MS),
            dcc.Store(id="mark"),
            html.Div(waiting(), id="room"),
        ]
    )

    @app.callback(
        Output("room", "children"), Output("mark", "data"), Input("where", "pathname"), Input("where", "search")
    )
    def turn(path: str | None, search: str | None) -> tuple[Any, Any]:
        return rendered(answers, path, search, bench)

    @app.callback(
        Output("room", "children", allow_duplicate=True),
        Output("mark", "data", allow_duplicate=True),
        Input("look-again", "n_intervals"),
        State("mark", "data"),
        State("where", "pathname"),
        State("where", "search"),
        prevent_initial_call=True,
    )
    def again(_: int, mark: Any, path: str | None, search: str | None) -> tuple[Any, Any]:
        if read_address(path, search).page in (
            "log",
            "people",
            *job_form.PAGES,
        ):  # these are typed into, and look for themselves
            return no_update, no_update
        if mark is None or mark_of(answers) == mark:
            return no_update, no_update
        return rendered(answers, path, search, bench)

    _guard(app, door)
    return app


def waiting() -> html.Main:
    """Return what stands until the first page is there."""
    return html.Main(
        html.P("Reading the record.", className="question"), className="waiting", id="answer", tabIndex="-1"
    )


def mark_of(answers: Answers) -> int:
    """Return the number of the last change of the record; -1 while it cannot be read."""
    try:
        return answers.mark()
    except TrackerError:
        return UNREADABLE


def rendered(answers: Answers, path: str | None, search: str | None, bench: str = "") -> tuple[Any, int]:
    """Return the page at an address, and the number of the last change it shows."""
    address = read_address(path, search)
    mark = mark_of(answers)
    own_unit, me = "in", person()
    try:
        if not allowed(rights.PAGES.get(address.page, rights.READS)):
            page = not_for(address)
        elif address.page == "help":
            page = help_page.page(path)
        elif address.page == "people":
            page = people_page.page(me)
        else:
            page, address, own_unit = page_at(answers, address)
        page = with_job(answers, address, page)
    except TrackerError as error:
        log.warning("the page %s: %s", path, error)
        page = fault(sentence(str(error)))
    return frame(address, page, own_unit=own_unit, theme=chosen_theme(), bench=bench, me=me), mark


def page_at(answers: Answers, address: Address) -> tuple[Page, Address, str]:
    """Return the page at an address, the address with its job filled in, and the job's own unit.

    Raises
    ------
    TrackerError
        If the record or the job cannot be read.
    """
    if address.page == "":
        infos = answers.record.jobs()
        return jobs.page(answers, address), address, infos[0].unit if infos else "in"
    if address.page == "history":
        page, unit = history.page(answers, address)
        return page, address, unit
    if address.page in job_form.PAGES:
        own = {info.id: info.unit for info in answers.record.jobs()}
        return job_form.PAGES[address.page](answers, address), address, own.get(address.job or 0, "in")
    make = PAGES.get(address.page)
    if make is None:
        return nowhere(address), address.to(page=""), "in"
    infos = answers.record.jobs() if address.job is None else []
    if address.job is None and not infos:
        return jobs.page(answers, address), address, "in"
    number = address.job if address.job is not None else infos[0].id
    answer = answers.of(number, address.unit)
    found = address.to(job=number)
    return answers.made(make, answer, found, person()), found, answer.own_unit


def with_job(answers: Answers, address: Address, page: Page) -> Page:
    """Return a page of no job with the name of the job that it was opened from, as its links lead back there."""
    if page.job or address.job is None or address.page not in ("history", "help"):
        return page
    names = (info.name for info in answers.record.jobs() if info.id == address.job)
    return replace(page, job=next(names, ""))


def nowhere(address: Address) -> Page:
    """Return what stands at an address with no page."""
    return Page(
        question=f"/{address.page}",
        answer="There is no such page.",
        body=[empty("Look here instead", "The pages stand on the scale above.", links=[("all jobs", Address().href)])],
    )


def not_for(address: Address) -> Page:
    """Return what stands in place of a page that is made for doing what this role may not."""
    me = person()
    words = "" if me is None else rights.refusal(me.name, me.role, rights.PAGES[address.page])
    return Page(
        question=NOT_FOR_ALL[address.page],
        answer="You may look at all that is kept, and not add to it here.",
        reasons=[sentence(words)],
        body=[empty("Look here instead", "Every job can be read.", links=[("all jobs", Address().href)])],
    )


def fault(words: str) -> Page:
    """Return the page of a fault: what was found, and what to do."""
    return Page(
        question="Something is in the way",
        answer="This page cannot be shown.",
        reasons=[words],
        word="cannot say",
        body=[
            empty(
                "Nothing is lost",
                "What was acknowledged on Log is in the record. This page looks again by itself every two seconds.",
                links=[("all jobs", Address().href)],
            )
        ],
    )


def verdict_lines(answers: Answers, job_id: int, unit: str = "") -> list[dict[str, str]]:
    """Return the verdict of each fit in words, for the line under the entry field; "" is the job's own unit."""
    try:
        fits = answers.of(job_id, unit).check.fits
    except TrackerError as error:
        log.warning("the verdict of job %s: %s", job_id, error)
        return []
    return [{"fit": item.name, "word": item.verdict.word, "reason": item.verdict.reason} for item in fits]


def _plain_routes(server: flask.Flask, record: Record) -> None:
    @server.get("/health")
    def health() -> tuple[str, int, dict[str, str]]:
        plain = {"Content-Type": "text/plain; charset=utf-8", "Cache-Control": "no-store"}
        try:
            record.ping()
        except TrackerError as error:
            log.error("the record cannot be read: %s", error)
            return "the record cannot be read", 503, plain
        return "ok", 200, plain

    @server.get("/theme.css")
    def theme() -> flask.Response:
        return flask.Response(style_sheet() + rules(), mimetype="text/css")


def keeps_to_its_own(door: Door) -> bool:
    """Return whether a browser honours an opener policy: it does by https and on this machine, else it complains."""
    return door.https or flask.request.is_secure or is_loopback(host_name(flask.request.host))


def _guard(app: Dash, door: Door) -> None:
    """Set the headers that keep other sites and foreign scripts out."""
    scripts: list[str] = []

    def policy() -> str:
        if not scripts:
            scripts.extend(f"'{item}'" if not item.startswith("'") else item for item in app.csp_hashes())
        return (
            "default-src 'none'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'; connect-src 'self'; "
            "font-src 'self' data:; img-src 'self' data: blob:; style-src 'self' 'unsafe-inline'; "
            f"script-src 'self' {' '.join(scripts)}"
        )

    @app.server.after_request
    def guarded(response: flask.Response) -> flask.Response:
        response.headers.setdefault("Content-Security-Policy", policy())
        response.headers.setdefault("X-Content-Type-Options", "nosniff")
        response.headers.setdefault("Referrer-Policy", "no-referrer")
        response.headers.setdefault("X-Frame-Options", "DENY")
        if keeps_to_its_own(door):
            response.headers.setdefault("Cross-Origin-Opener-Policy", "same-origin")
        response.headers.setdefault("Cross-Origin-Resource-Policy", "same-origin")
        response.headers.setdefault("Permissions-Policy", "camera=(), microphone=(), geolocation=()")
        return response
