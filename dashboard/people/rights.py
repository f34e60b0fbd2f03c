"""Who may do what: one table for every route, every callback and every page; what is not in it is refused."""

from __future__ import annotations

READS, LOGS, SIGNS_OFF, ADMINISTERS = "reads", "logs", "signs off", "administers"
ANYONE = ""
"""Needs no sign-in: what the sign-in page itself is made of, and whether the server is there."""
TOKENS = {
    "v1.jobs": READS,
    "v1.job": READS,
    "v1.batches": READS,
    "v1.verdicts": READS,
    "v1.readings": READS,
    "v1.add_readings": LOGS,
}
"""Endpoint of the interface for programs -> the role that its token needs. It knows no cookie and no session."""

ROUTES = {
    "static": ANYONE,
    "_dash_assets.static": ANYONE,
    "/_dash-component-suites/<string:package_name>/<path:fingerprinted_path>": ANYONE,
    "/_favicon.ico": ANYONE,
    "health": ANYONE,
    "theme": ANYONE,
    "v1.document": ANYONE,
    "v1.nowhere": ANYONE,
    "sign_in.ask": ANYONE,
    "sign_in.come_in": ANYONE,
    "/": READS,
    "/<path:path>": READS,
    "/_dash-layout": READS,
    "/_dash-dependencies": READS,
    "/_reload-hash": READS,
    "/_dash-update-component": READS,
    "pictures.drawn": READS,
    "sheets.written": READS,
    "help.picture": READS,
    "entry.log": READS,
    "jobs.export": READS,
    "jobs.filled": READS,
    "jobs.look": READS,
    "jobs.of_text": READS,
    "sign_in.go_out": READS,
    "people.listed": READS,
    "people.own_password": READS,
    "entry.keep": LOGS,
    "entry.strike": LOGS,
    "entry.confirm": LOGS,
    "entry.change": LOGS,
    "events.keep": LOGS,
    "jobs.bring": LOGS,
    "jobs.keep": LOGS,
    "jobs.drop": LOGS,
    "jobs.refused_rows": LOGS,
    "jobs.blank": SIGNS_OFF,
    "jobs.begin": SIGNS_OFF,
    "jobs.revise": SIGNS_OFF,
    "sign_offs.keep": SIGNS_OFF,
    "gauges.enter": SIGNS_OFF,
    "people.add": ADMINISTERS,
    "people.change": ADMINISTERS,
    "people.add_token": ADMINISTERS,
    "people.revoke_token": ADMINISTERS,
}
"""Endpoint -> the role it needs. A job says by which limits everything is judged: who makes one signs off.

Readings may be brought into a job by who logs; `NEW_JOB` is asked for where a new job comes with them.
"""

NEW_JOB = SIGNS_OFF

DRAWN = frozenset({"room", "mark"})
"""What callbacks put on the page. They only read; a callback with any other output is refused to all but the last."""

PAGES = {"log": LOGS, "bring": LOGS, "new": SIGNS_OFF}
"""Pages made for doing something; every other may be looked at by who reads."""


def needed_at(endpoint: str | None) -> str:
    """Return what an endpoint needs; of one that is not in the table the highest role.

    Where no endpoint was found there is nothing to do but to say so.
    """
    return ANYONE if endpoint is None else ROUTES.get(endpoint, ADMINISTERS)


def needed_for(output: object) -> str:
    """Return what a callback needs, by its output such as ``..room.children...mark.data..``."""
    if not isinstance(output, str):
        return ADMINISTERS
    parts = [part.partition(".")[0] for part in output.strip(".").split("...")]
    return READS if parts and all(part in DRAWN for part in parts) else ADMINISTERS


def refusal(name: str, role: str, needed: str) -> str:
    """Return why someone may not do this, and who could."""
    return f"{name} {role}, and this is for who {needed}; ask someone who administers"
