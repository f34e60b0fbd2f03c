"""The HTTP interface behind the page of people: users and tokens for who administers, everybody's own password."""

from __future__ import annotations

from typing import Any

import flask
from flask import Blueprint, Response, jsonify

from dashboard.entry_routes import Refused, answer_faults, json_body, text_of
from dashboard.people.door import Door, allowed, person, signed
from dashboard.people.sign_in import LASTING, let_in
from dashboard.people.throttle import Throttle
from tracker.record import ROLES, Record, UserInfo

ROLE_WORDS = (
    ("reads", "looks and prints"),
    ("logs", "readings, strike-outs, what was done to the machine"),
    ("signs off", "jobs, sheets, gauges"),
    ("administers", "people and tokens"),
)
WORDS_OF_NONE = "nobody is signed in here; start the server with --sign-in to change who may do what"


def people_routes(record: Record, door: Door, throttle: Throttle | None = None) -> Blueprint:
    """Return the routes that change users, tokens and passwords."""
    routes = Blueprint("people", __name__, url_prefix="/api/people")
    tries = throttle or Throttle()

    answer_faults(routes)

    @routes.get("")
    def listed() -> Response:
        me = _me()
        found: dict[str, object] = {"me": me.to_dict(), "roles": ROLE_WORDS}
        if allowed(ROLES[-1]):
            found |= {
                "users": [user.to_dict() for user in record.users()],
                "tokens": [token.to_dict() for token in record.tokens()],
                "token_roles": ROLES[1::-1],
            }
        return jsonify(found)

    @routes.post("")
    def add() -> Response:
        body = _body()
        name, role, password = (text_of(body, key, needed=True) for key in ("name", "role", "password"))
        return jsonify(user=record.add_user(name, role, password, by=signed("")).to_dict())

    @routes.post("/change")
    def change() -> Response:
        body = _body()
        off = body.get("disabled")
        if off is not None and not isinstance(off, bool):
            raise Refused(400, f"disabled is {off!r}; accepted are true and false")
        user = record.change_user(
            text_of(body, "name", needed=True),
            role=text_of(body, "role") or None,
            password=text_of(body, "password") or None,
            disabled=off,
            by=signed(""),
        )
        return jsonify(user=user.to_dict())

    @routes.post("/own-password")
    def own_password() -> Response:
        body = _body()
        me = _me()
        old, new = text_of(body, "old", needed=True), text_of(body, "new", needed=True)
        address = flask.request.remote_addr or ""
        wait = tries.begin(me.name, address)
        if wait:
            raise Refused(429, f"too many tries; try again in {wait} seconds")
        if record.user_with(me.name, old) is None:
            raise Refused(403, "the old password is not the right one")
        tries.succeeded(me.name, address)
        record.change_user(me.name, password=new, by=me.name)
        answer = jsonify(user=me.to_dict())
        let_in(answer, door, record.begin_session(me.name, LASTING))  # the change ended every session, this one too
        return answer

    @routes.post("/tokens")
    def add_token() -> Response:
        body = _body()
        token, secret = record.add_token(
            text_of(body, "name", needed=True), text_of(body, "role", needed=True), by=signed("")
        )
        return jsonify(token=token.to_dict(), secret=secret)

    @routes.post("/tokens/revoke")
    def revoke_token() -> Response:
        body = _body()
        return jsonify(token=record.revoke_token(text_of(body, "name", needed=True), by=signed("")).to_dict())

    return routes


def _me() -> UserInfo:
    found = person()
    if found is None:
        raise Refused(403, WORDS_OF_NONE)
    return found


def _body() -> dict[str, Any]:
    _me()
    return json_body()
