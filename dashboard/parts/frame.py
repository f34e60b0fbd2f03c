"""The frame around every page: name and job, units and theme, the scale as navigation."""

from __future__ import annotations

from typing import Any

from dash import html

from dashboard.parts.address import UNITS, Address
from dashboard.parts.badge import glyph
from dashboard.parts.panels import Page, answer_block
from tracker.record import UserInfo

PAGES = (
    ("", "Jobs", "jobs"),
    ("log", "Log", "log"),
    ("batch", "Batch", "batch"),
    ("fit", "Fit", "pair"),
    ("next", "Next cut", "shift"),
    ("wear", "Wear", "change-the-tool"),
    ("gauges", "Gauges", "gauges"),
    ("plan", "Plan", "plan"),
    ("sheets", "Sheets", "sheets"),
    ("history", "History", "history"),
    ("help", "Help", "help"),
)
"""Path, name and glyph of each page, in the order of the scale."""

OF_JOBS = ("", "new", "job", "bring")
"""The paths that belong to Jobs."""

BELOW = ("log", "fit", "next", "wear")
"""What the bar at the bottom of a phone holds; the rest stands under More."""


def frame(
    address: Address, page: Page, *, own_unit: str, theme: str, bench: str = "", me: UserInfo | None = None
) -> html.Div:
    """Return a whole page: frame, answer and body.

    Parameters
    ----------
    address : Address
    page : Page
    own_unit : str
        The unit used where the address names none.
    theme : str
        ``light`` or ``dark`` where chosen, else "".
    bench : str
        Who logs here.
    me : UserInfo, optional
        Who is signed in; the name takes the place of ``bench``.
    """
    who = {"data-role": me.role, "data-person": me.name} if me is not None else {}
    choosers = [item for item in page.choosers if item is not None]
    body = [
        answer_block(page),
        *([html.Div(choosers, className="choosers")] if choosers else []),
        *page.body,
    ]
    title = f"{page.answer or page.question} · {page.job or 'tenthwise'}"
    return html.Div(
        [
            html.A("to the answer", href="#answer", className="skip"),
            _head(address, page.job, address.unit or own_unit, theme, me),
            _scale(address),
            html.Main(body, id="answer", tabIndex="-1"),
            html.Footer(page.foot, className="foot") if page.foot else None,
            _below(address, theme, me),
        ],
        id="page-room",
        className=f"page page-{address.page or 'jobs'}",
        **{
            "data-title": title,
            "data-bench": bench if me is None else me.name,
            "data-page": address.page or "jobs",
            **who,
        },
    )


def _head(address: Address, job: str, unit: str, theme: str, me: UserInfo | None) -> html.Header:
    brand = html.A(
        [glyph("mark"), html.Span("tenthwise", className="brand-word")],
        href=Address(unit=address.unit).href,
        className="brand",
        title="tenthwise: all jobs",
    )
    units = html.Div(
        [
            html.A(name, href=address.to(unit=name).href, **({"aria-current": "true"} if name == unit else {}))
            for name in UNITS
        ],
        className="switch",
        role="group",
        **{"aria-label": "unit"},
    )
    return html.Header(
        [
            brand,
            html.Span(job, className="job-name", title=job),
            html.Div([*_who(me), units, html.Div(_themes(theme), className="themes")], className="switches"),
        ],
        className="head",
    )


def _who(me: UserInfo | None) -> list[html.Div]:
    """Return who is signed in, and the way out; nothing where nobody signs in."""
    if me is None:
        return []
    name = html.A(me.name, href="/people", className="who", title=f"{me.name}, who {me.role}: people")
    return [html.Div([name, _out()], className="who-out")]


def _out() -> html.Button:
    return html.Button("sign out", type="button", className="plain", **{"data-sign-out": "1"})


def _themes(theme: str) -> html.Div:
    return html.Div(
        [
            html.Button(name, type="button", **{"data-theme-choice": name, "aria-pressed": str(name == theme).lower()})
            for name in ("light", "dark")
        ],
        className="switch",
        role="group",
        **{"aria-label": "light or dark"},
    )


def _page_link(address: Address, path: str, name: str, sign: str = "", **more: Any) -> html.A:
    here = Address(unit=address.unit) if not path else address.to(page=path)
    at_it = address.page in OF_JOBS if not path else address.page == path
    current = {"aria-current": "page"} if at_it else {}
    words = [glyph(sign), html.Span(name)] if sign else name
    return html.A(words, href=here.href, **current, **more)


def _scale(address: Address) -> html.Nav:
    links = [_page_link(address, path, name) for path, name, _ in PAGES]
    return html.Nav(html.Div(links, className="scale-marks"), className="scale", **{"aria-label": "pages"})


def _below(address: Address, theme: str, me: UserInfo | None) -> html.Nav:
    bar = [_page_link(address, path, name, sign) for path, name, sign in PAGES if path in BELOW]
    rest = [_page_link(address, path, name, sign) for path, name, sign in PAGES if path not in BELOW]
    own = [] if me is None else [_page_link(address, "people", me.name), _out()]
    more = html.Details(
        [html.Summary([glyph("more"), html.Span("More")]), html.Div([*rest, *own, _themes(theme)], className="rest")],
        className="more-pages",
    )
    return html.Nav([*bar, more], className="below", **{"aria-label": "pages, below"})
