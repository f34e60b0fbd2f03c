"""The door: looks at every request before anything else does, and says who asks."""

from __future__ import annotations

import hashlib
import hmac
import ipaddress
from dataclasses import dataclass
from urllib.parse import quote, urlsplit

import flask

from dashboard.people import rights
from tracker.errors import TrackerError
from tracker.record import OF_A_TOKEN, Record, TokenInfo, UserInfo, may

LOOPBACK = ("localhost", "127.0.0.1", "::1")
SAFE = ("GET", "HEAD", "OPTIONS")
OWN_HEADER = "X-Own-Token"
OWN_COOKIE = "tenthwise-own"
SESSION_COOKIE = "tenthwise-session"
SIGN_IN = "/sign-in"
LONGEST_SECRET = 200


@dataclass(frozen=True, slots=True, kw_only=True)
class Door:
    """How people come in.

    Attributes
    ----------
    sign_in : bool
        Whether everybody must sign in. Without, only this machine may ask, and nobody is known by name.
    https : bool
        Whether browsers always come by https, so that cookies are never sent without it.
    names : tuple of str
        The names that the server is asked by, such as ``bench.example``; any, when none is given.
    """

    sign_in: bool = False
    https: bool = False
    names: tuple[str, ...] = ()

    @property
    def session_cookie(self) -> str:
        """The name of the cookie; with https a prefix that browsers hold to this very host and to https."""
        return f"__Host-{SESSION_COOKIE}" if self.https else SESSION_COOKIE


def person() -> UserInfo | None:
    """Return who is signed in; None where nobody has to be."""
    return flask.g.get("person") if flask.has_request_context() else None


def signed(said: str) -> str:
    """Return the name that goes into the record: of who is signed in, or of the token; else what the page said."""
    found, token = person(), flask.g.get("token") if flask.has_request_context() else None
    if token is not None:
        return f"{token.name}{OF_A_TOKEN}"
    return said if found is None else found.name


def allowed(needed: str) -> bool:
    """Return whether who asks may do what needs a role; without a sign-in everybody may."""
    found = person()
    return found is None or may(found.role, needed)


def own_token(secret: str) -> str:
    """Return what a page must send along with a session's secret: only our own pages can read it."""
    return hashlib.sha256(b"own page " + secret.encode("utf-8", "surrogatepass")).hexdigest()


def guard(server: flask.Flask, record: Record, door: Door) -> None:
    """Look at every request of a server: where it comes from, who asks, and whether that role may."""

    @server.before_request
    def look() -> flask.Response | None:
        by_token = rights.TOKENS.get(flask.request.endpoint or "")
        needed = rights.needed_at(flask.request.endpoint)
        fault = _wrong_host(door) or (None if by_token else _foreign())
        if fault is not None:
            return fault
        try:
            if by_token:
                return _with_token(record, by_token)
            return _known(record, door, needed) if door.sign_in and needed != rights.ANYONE else None
        except TrackerError as error:
            return refused(503, str(error))

    @server.after_request
    def keep_to_oneself(response: flask.Response) -> flask.Response:
        endpoint = flask.request.endpoint
        if endpoint in rights.TOKENS or (door.sign_in and rights.needed_at(endpoint) != rights.ANYONE):
            response.headers["Cache-Control"] = "no-store"
        return response


def _known(record: Record, door: Door, needed: str) -> flask.Response | None:
    """Note who asks; return the refusal where nobody does, the page is not ours, or the role is too low."""
    request = flask.request
    secret = request.cookies.get(door.session_cookie, "")[:LONGEST_SECRET]
    found = record.session_user(secret) if secret else None
    if found is None:
        page = request.endpoint in ("/", "/<path:path>") and not request.path.startswith("/api/")
        if request.method == "GET" and page:
            back = request.full_path.rstrip("?")
            return _plain(flask.redirect(SIGN_IN if back == "/" else f"{SIGN_IN}?next={quote(back)}", 303))
        return refused(401, "sign in first; what was typed waits on the page")
    flask.g.person = found
    if request.method not in SAFE:
        sent = request.headers.get(OWN_HEADER, "")
        if not hmac.compare_digest(sent.encode(), own_token(secret).encode()):
            return refused(403, "this request does not come from a page of this server; load the page again")
    if request.endpoint == "/_dash-update-component":
        body = request.get_json(silent=True)
        needed = rights.needed_for(body.get("output") if isinstance(body, dict) else None)
    if not may(found.role, needed):
        return refused(403, rights.refusal(found.name, found.role, needed))
    return None


def _wrong_host(door: Door) -> flask.Response | None:
    """Refuse a request under a name that is not ours: so another site's name cannot be made to lead here."""
    name = host_name(flask.request.host)
    if not door.sign_in:
        if "X-Forwarded-For" in flask.request.headers or "Forwarded" in flask.request.headers:
            return refused(403, "a proxy stands before this server; start it with --proxy ADDRESS, and people sign in")
        if not is_loopback(name):
            return refused(421, f"asked for as {name[:80]!r}; without a sign-in accepted are {', '.join(LOOPBACK)}")
        return None
    if not name or (door.names and name not in door.names and not is_loopback(name)):
        accepted = ", ".join(door.names) or "a host name"
        return refused(421, f"asked for as {name[:80]!r}; accepted are {accepted} (--name adds one)")
    return None


def _with_token(record: Record, needed: str) -> flask.Response | None:
    """Note which token asks; return the refusal where there is none or it may not. A cookie counts for nothing here."""
    kind, _, secret = flask.request.headers.get("Authorization", "").partition(" ")
    found: TokenInfo | None = None
    if kind.casefold() == "bearer" and 0 < len(secret) <= LONGEST_SECRET:
        found = record.token_of(secret.strip())
    if found is None:
        answer = refused(401, "a valid token is missing; send the header Authorization: Bearer TOKEN")
        answer.headers["WWW-Authenticate"] = 'Bearer realm="tenthwise"'
        return answer
    if not may(found.role, needed):
        return refused(403, f"the token {found.name} {found.role}, and this is for one that {needed}")
    flask.g.token = found
    return None


def _foreign() -> flask.Response | None:
    """Refuse what another site's page sends to change something."""
    request = flask.request
    if request.method in SAFE:
        return None
    origin = request.headers.get("Origin")
    site = request.headers.get("Sec-Fetch-Site", "same-origin")
    if site not in ("same-origin", "none") or (origin is not None and origin.partition("://")[2] != request.host):
        return refused(403, "this request comes from another site; accepted are requests of this server's own pages")
    return None


def host_name(host: str) -> str:
    """Return the name of a ``Host`` header without its port.

    Examples
    --------
    >>> host_name("bench.example:8050"), host_name("[::1]:8050")
    ('bench.example', '::1')
    """
    try:
        return (urlsplit(f"//{host}").hostname or "").rstrip(".")
    except ValueError:
        return ""


def is_loopback(name: str) -> bool:
    """Return whether a host name means this very machine."""
    if name == "localhost":
        return True
    try:
        return ipaddress.ip_address(name).is_loopback
    except ValueError:
        return False


def refused(status: int, words: str) -> flask.Response:
    """Return a refusal in the form that our pages show."""
    answer = flask.jsonify(error=words)
    answer.status_code = status
    return _plain(answer)


def _plain(response: flask.Response) -> flask.Response:
    response.headers["Cache-Control"] = "no-store"
    return response
