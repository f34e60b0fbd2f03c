"""What a request may look like at all: numbers that a record can hold, bodies that can be read, known callbacks."""

from __future__ import annotations

import json
from typing import Any

import flask
from dash import Dash
from dash.exceptions import DependencyException, InvalidResourceError
from flask.json.provider import DefaultJSONProvider
from werkzeug.routing import IntegerConverter, Map

from dashboard.people.door import refused

LARGEST_NUMBER = 2**31 - 1
CALLBACKS = "/_dash-update-component"
ANY_PATH = "/<path:path>"


class Number(IntegerConverter):
    """A whole number of an address, as large as both databases take one."""

    def __init__(self, map: Map, *args: Any, **more: Any) -> None:
        super().__init__(map, *args, **({"max": LARGEST_NUMBER} | more))


class CarefulJSON(DefaultJSONProvider):
    """JSON as the standard has it: no NaN, no infinity; what is too deep to be read is no JSON either."""

    def loads(self, s: str | bytes, **more: Any) -> Any:
        """Return what a text holds.

        Raises
        ------
        ValueError
            If it is not JSON.
        """
        try:
            return json.loads(s, **({"parse_constant": _no_number} | more))
        except RecursionError as error:
            raise ValueError("it is too deep") from error


def _no_number(name: str) -> None:
    raise ValueError(f"{name} is not a number")


def bound_numbers(server: flask.Flask) -> None:
    """Take smaller numbers and stricter JSON; before any route is added."""
    server.url_map.converters["int"] = Number
    server.json = CarefulJSON(server)


def bound_requests(app: Dash) -> None:
    """Refuse what no page of ours sends, before it can go wrong further in."""
    server = app.server

    @server.before_request
    def known() -> flask.Response | None:
        if flask.request.endpoint == CALLBACKS:
            fault = callback_fault(flask.request.get_json(silent=True), app.callback_map)
            return None if fault is None else refused(400, f"this is no request of our pages: {fault}")
        first, _, rest = flask.request.path.strip("/").partition("/")
        if flask.request.endpoint == ANY_PATH and (first == "api" or (rest and first != "help")):
            return refused(404, "there is nothing at this address")
        return None

    @server.errorhandler(DependencyException)
    @server.errorhandler(InvalidResourceError)
    def no_such_file(_: Exception) -> flask.Response:
        return refused(404, "there is no such file")


def callback_fault(body: Any, known: dict[str, Any]) -> str | None:
    """Return what is wrong with the body of a callback, None where our own pages could have sent it."""
    if not isinstance(body, dict):
        return "the body is not a JSON object"
    output = body.get("output")
    asked = known.get(output) if isinstance(output, str) else None
    if asked is None:
        return "the output is not known"
    for key, least in (("inputs", asked["inputs"]), ("state", asked["state"])):
        given = body.get(key, [])
        if not isinstance(given, list) or [_named(item) for item in given] != [_named(item) for item in least]:
            return f"the {key} are not those of this output"
        if not all(isinstance(item.get("value"), str | int | None) for item in given):
            return f"a value of the {key} is neither a text nor a number"
    outputs, changed = body.get("outputs"), body.get("changedPropIds", [])
    if not isinstance(outputs, list) or len(outputs) != len(asked["output"]) or None in map(_named, outputs):
        return "the outputs are not those of this callback"
    if not isinstance(changed, list) or not all(isinstance(item, str) for item in changed):
        return "what changed is not a list of names"
    return None


def _named(item: Any) -> tuple[str, str] | None:
    """Return the component and the property that an item names, None where it names none."""
    if not isinstance(item, dict):
        return None
    names = (item.get("id"), item.get("property"))
    return names if all(isinstance(name, str) for name in names) else None  # type: ignore[return-value]
