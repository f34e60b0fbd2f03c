"""The sign-in page, plain HTML that needs no script, and the routes in and out."""

from __future__ import annotations

import datetime
import hmac
import logging
import secrets
from collections.abc import Callable
from urllib.parse import urlencode, urlsplit

import flask
from markupsafe import Markup, escape

from dashboard.people.door import OWN_COOKIE, SIGN_IN, Door, own_token, refused, signed
from dashboard.people.throttle import Throttle
from tracker.errors import TrackerError
from tracker.record import Record

log = logging.getLogger(__name__)

LASTING = datetime.timedelta(hours=12)
LARGEST_FORM = 10_000
LONGEST_NAME = 200
"""Longer than any user's; cut before tries are counted, so that what is counted is what is looked for."""

DOOR_COOKIE = "tenthwise-door"
WRONG = "This name and password do not go together."
STALE = "The page had been open for too long, or cookies are off. Type it once more."
POLICY = (
    "default-src 'none'; base-uri 'none'; form-action 'self'; frame-ancestors 'none'; "
    "style-src 'self'; font-src 'self'; img-src 'self'"
)

PAGE = Markup("""<!DOCTYPE html>
<html lang="en"{theme}>
<head>
<meta charset="utf-8"><meta name="viewport" content="width=device-width, initial-scale=1">
<title>Sign in · tenthwise</title>
<link rel="icon" href="/assets/favicon.svg" type="image/svg+xml">
<link rel="stylesheet" href="/theme.css">
<link rel="stylesheet" href="/assets/1-type.css">
<link rel="stylesheet" href="/assets/2-frame.css">
<link rel="stylesheet" href="/assets/people.css">
</head>
<body class="at-the-door">
<header class="head">
<span class="brand"><span class="mark-glyph" aria-hidden="true"></span><span>tenthwise</span></span>
</header>
<div class="scale door-scale" aria-hidden="true"></div>
<main class="door">
<p class="question">Who is at the bench?</p>
<h1>Sign in</h1>
{fault}
<form method="post" action="{action}" class="panel">
<input type="hidden" name="door" value="{door}">
<label class="door-field"><span>name</span>
<input name="name" value="{name}" maxlength="60" autocomplete="username" autocapitalize="none" spellcheck="false"
required{focus_name}></label>
<label class="door-field"><span>password</span>
<input name="password" type="password" maxlength="200" autocomplete="current-password"
required{focus_password}></label>
<button class="button strong" type="submit">sign in</button>
</form>
<p class="quiet">What you keep, strike out or sign off stands in the record under your name. Lost the password? Who
administers this server can give you a new one.</p>
</main>
</body>
</html>""")


def sign_in_routes(
    record: Record, door: Door, theme: Callable[[], str], throttle: Throttle | None = None
) -> flask.Blueprint:
    """Return the routes in (``/sign-in``) and out (``/sign-out``); ``theme`` gives the one that the reader chose."""
    routes = flask.Blueprint("sign_in", __name__)
    tries = throttle or Throttle()

    @routes.errorhandler(TrackerError)
    def not_now(error: TrackerError) -> flask.Response:
        log.error("sign-in: %s", error)
        if flask.request.path != SIGN_IN:
            return refused(503, str(error))
        return _page(door, theme(), flask.request.form.get("name", ""), f"Nobody can sign in now: {error}", 503)

    @routes.get(SIGN_IN)
    def ask() -> flask.Response:
        if not door.sign_in:
            return flask.redirect("/", 303)
        secret = flask.request.cookies.get(door.session_cookie, "")
        if secret and record.session_user(secret) is not None:
            return flask.redirect(own_path(flask.request.args.get("next", "")), 303)
        return _page(door, theme())

    @routes.post(SIGN_IN)
    def come_in() -> flask.Response:
        if not door.sign_in:
            return flask.redirect("/", 303)
        flask.request.max_content_length = LARGEST_FORM
        form = flask.request.form
        name, password = form.get("name", "").strip()[:LONGEST_NAME], form.get("password", "")
        kept, sent = flask.request.cookies.get(DOOR_COOKIE, ""), form.get("door", "")
        if not kept or not hmac.compare_digest(own_token(kept).encode(), sent.encode("utf-8", "surrogatepass")):
            return _page(door, theme(), name, STALE, 400)
        address = flask.request.remote_addr or ""
        wait = tries.begin(name, address)
        if wait:
            log.warning("sign-in of %r from %s: too many tries", name[:60], address)
            found = _page(door, theme(), name, f"Too many tries. Try again in {waiting_words(wait)}.", 429)
            found.headers["Retry-After"] = str(wait)
            return found
        user = record.user_with(name, password)
        if user is None:
            log.warning("sign-in of %r from %s: refused", name[:60], address)
            return _page(door, theme(), name, WRONG, 401)
        tries.succeeded(name, address)
        secret = record.begin_session(user.name, LASTING)
        response = flask.redirect(own_path(flask.request.args.get("next", "")), 303)
        let_in(response, door, secret)
        response.delete_cookie(DOOR_COOKIE, path=SIGN_IN)
        return response

    @routes.post("/sign-out")
    def go_out() -> flask.Response:
        record.end_session(flask.request.cookies.get(door.session_cookie, ""))
        log.info("%s signed out", signed(""))
        response = flask.jsonify(to=SIGN_IN)
        secure = door.https or flask.request.is_secure
        response.delete_cookie(door.session_cookie, path="/", secure=secure, httponly=True, samesite="Lax")
        response.delete_cookie(OWN_COOKIE, path="/", secure=secure, samesite="Strict")
        return response

    return routes


def let_in(response: flask.Response, door: Door, secret: str) -> None:
    """Give a browser the cookie of a session, and the one that our own pages answer with."""
    secure = door.https or flask.request.is_secure
    most = int(LASTING.total_seconds())
    response.set_cookie(
        door.session_cookie, secret, max_age=most, path="/", secure=secure, httponly=True, samesite="Lax"
    )
    response.set_cookie(OWN_COOKIE, own_token(secret), max_age=most, path="/", secure=secure, samesite="Strict")


def own_path(asked: str) -> str:
    r"""Return a path of this server to go on to; "/" for all that leads elsewhere.

    Examples
    --------
    >>> own_path("/log?job=1"), own_path("//elsewhere.example"), own_path("/\\elsewhere.example")
    ('/log?job=1', '/', '/')
    """
    if not asked.startswith("/") or asked.startswith("//") or "\\" in asked or not asked.isprintable():
        return "/"
    try:
        parts = urlsplit(asked)
    except ValueError:
        return "/"
    return "/" if parts.scheme or parts.netloc or "//" in parts.path or parts.path.startswith(SIGN_IN) else asked


def waiting_words(seconds: int) -> str:
    """Return a waiting time as said: 40 seconds, 5 minutes.

    Examples
    --------
    >>> waiting_words(1), waiting_words(40), waiting_words(61)
    ('1 second', '40 seconds', '2 minutes')
    """
    if seconds <= 60:
        return "1 second" if seconds == 1 else f"{seconds} seconds"
    return f"{-(-seconds // 60)} minutes"


def _page(door: Door, theme: str, name: str = "", fault: str = "", status: int = 200) -> flask.Response:
    kept = flask.request.cookies.get(DOOR_COOKIE, "") or secrets.token_urlsafe(24)
    onward = own_path(flask.request.args.get("next", ""))
    text = PAGE.format(
        theme=Markup(' data-theme="{}"').format(theme) if theme else "",
        fault=Markup('<p class="door-fault" role="alert">{}</p>').format(fault) if fault else "",
        action=SIGN_IN if onward == "/" else f"{SIGN_IN}?{urlencode({'next': onward})}",
        door=own_token(kept),
        name=escape(name[:60]),
        focus_name="" if name else Markup(" autofocus"),
        focus_password=Markup(" autofocus") if name else "",
    )
    response = flask.Response(text, status, mimetype="text/html")
    response.headers["Content-Security-Policy"] = POLICY
    response.headers["Cache-Control"] = "no-store"
    response.headers["Referrer-Policy"] = "same-origin"  # without it a browser names no origin when it sends the form
    secure = door.https or flask.request.is_secure
    response.set_cookie(DOOR_COOKIE, kept, path=SIGN_IN, secure=secure, httponly=True, samesite="Strict")
    return response
