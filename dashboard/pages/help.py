"""Help: the guide, the keys of a job, the commands and the methods, in the look of the house."""

from __future__ import annotations

import posixpath
from typing import Any

import flask
from dash import html

from dashboard.help.contents import FIRST, HelpPage, help_pages, help_pictures
from dashboard.help.prose import Block, Part, slug
from dashboard.parts.panels import Page, empty
from dashboard.parts.tables import Column, table

PLACE = "at-"
"""What the id of a heading begins with, so that none meets an id of the frame."""


def page(path: str | None) -> Page:
    """Return the page of the help at a path: ``/help``, ``/help/guide``, ``/help/methods/chance``."""
    name = (path or "").strip("/").removeprefix("help").strip("/") or FIRST
    found = help_pages().get(name)
    if found is None:
        return Page(
            question="Help",
            answer="There is no such page in the help.",
            body=[
                empty("Look here instead", "Every page is listed on the first.", links=[("all of the help", "/help")])
            ],
        )
    body = [component for block in found.blocks[1:] for component in _block(block, found.name)]
    return Page(
        question="Help",
        answer=found.title,
        body=[html.Div([html.Article(body, className="panel prose"), _contents(found)], className="columns help")],
    )


def help_routes() -> flask.Blueprint:
    """Return the route of the pictures: only names that are known, each with its own file."""
    routes = flask.Blueprint("help", __name__)

    @routes.get("/help/pictures/<name>")
    def picture(name: str) -> flask.Response:
        file = help_pictures().get(name)
        if file is None:
            flask.abort(404)
        return flask.Response(file.read_bytes(), mimetype="image/png", headers={"Cache-Control": "max-age=3600"})

    return routes


def _contents(here: HelpPage) -> html.Nav:
    """Return the list of all pages."""
    pages = list(help_pages().values())
    plain = [item for item in pages if "/" not in item.name]
    methods = [item for item in pages if "/" in item.name]

    def links(items: list[HelpPage]) -> html.Ul:
        return html.Ul(
            [
                html.Li(html.A(item.title, href=item.href, **({"aria-current": "page"} if item is here else {})))
                for item in items
            ]
        )

    return html.Nav(
        [links(plain), html.H2("Methods"), links(methods)],
        className="panel contents",
        **{"aria-label": "pages of the help"},
    )


def _block(block: Block, name: str) -> list[Any]:
    if block.kind == "heading":
        tag = {1: html.H2, 2: html.H2, 3: html.H3}[block.level]
        return [tag(_line(block.rows[0], name), id=PLACE + slug(block.plain))]
    if block.kind == "text":
        return [html.P(_line(block.rows[0], name))]
    if block.kind == "caution":
        return [html.P(_line(block.rows[0], name), className="caution")]
    if block.kind in ("list", "numbered"):
        holder = html.Ul if block.kind == "list" else html.Ol
        return [holder([html.Li(_line(row, name)) for row in block.rows])]
    if block.kind == "code":
        return [html.Pre(html.Code(block.words), tabIndex="0", role="group", **{"aria-label": "text to type or read"})]
    if block.kind == "picture":
        source = "/help/pictures/" + posixpath.basename(block.target)
        return [html.Figure([html.Img(src=source, alt=block.words), html.Figcaption(block.words)])]
    head, *rows = [block.rows[start : start + block.width] for start in range(0, len(block.rows), block.width)]
    columns = [Column(_line(cell, name)) for cell in head]
    cells = [[html.Td(_line(cell, name)) for cell in row] for row in rows]
    label = ", ".join("".join(part.words for part in cell) for cell in head)
    return [table(columns, cells, label=label)]


def _line(parts: tuple[Part, ...], name: str) -> list[Any]:
    return [_part(part, name) for part in parts]


def _part(part: Part, name: str) -> Any:
    if part.kind == "code":
        return html.Code(part.words)
    if part.kind == "strong":
        return html.Strong(part.words)
    if part.kind == "link":
        return html.A(part.words, href=link(part.target, name))
    return part.words


def link(target: str, name: str) -> str:
    """Return where a link of a page leads in the dashboard.

    Examples
    --------
    >>> link("../guide.md", "methods/chance"), link("index.md", "guide"), link("#the-verdict", "guide")
    ('/help/guide', '/help', '#at-the-verdict')
    """
    file, _, place = target.partition("#")
    if not file:
        return f"#{PLACE}{place}"
    found = posixpath.normpath(posixpath.join(posixpath.dirname(name), file)).removesuffix(".md")
    return "/help" if found == FIRST else f"/help/{found}"
