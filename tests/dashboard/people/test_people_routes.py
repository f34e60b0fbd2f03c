"""The page of people: users and tokens made and changed by who administers, everybody's own password."""

import json

from dashboard.people.routes import ROLE_WORDS
from dashboard.server import rendered
from tracker.record import ROLES

WORDS = "four words at the bench"
NEW = "another four plain words"


def test_who_administers_makes_and_changes_users(shop):
    lead = shop.browser("administers")
    made = lead.post("/api/people", json={"name": "operator A", "role": "logs", "password": WORDS, "by": "x"})
    assert made.json["user"] | {"at": ""} == {
        "name": "operator A",
        "role": "logs",
        "disabled": False,
        "by": "administers",
        "at": "",
    }
    assert lead.post("/api/people/change", json={"name": "operator A", "role": "reads"}).json["user"]["role"] == "reads"
    assert lead.post("/api/people/change", json={"name": "operator A", "password": NEW}).status_code == 200
    assert shop.record.user_with("operator A", NEW).role == "reads"
    assert lead.post("/api/people/change", json={"name": "operator A", "disabled": True}).json["user"]["disabled"]
    for body in (
        {"name": "operator A", "role": "logs", "password": WORDS},
        {"name": "operator B", "role": "owns", "password": WORDS},
        {"name": "operator B", "role": "logs", "password": "short"},
        {"name": "operator B", "role": "logs"},
    ):
        assert lead.post("/api/people", json=body).status_code == 400
    for body in (
        {"name": "nobody", "role": "logs"},
        {"name": "logs", "disabled": "yes"},
        {"name": "logs", "role": "x"},
    ):
        assert lead.post("/api/people/change", json=body).status_code == 400
    alone = lead.post("/api/people/change", json={"name": "administers", "role": "reads"})
    assert "last one who administers" in alone.json["error"]


def test_the_list_holds_no_secret_and_others_see_themselves_only(shop):
    lead = shop.browser("administers")
    secret = lead.post("/api/people/tokens", json={"name": "press cell", "role": "logs"}).json["secret"]
    found = lead.get("/api/people").json
    assert [user["name"] for user in found["users"]] == sorted(ROLES)
    assert [token["name"] for token in found["tokens"]] == ["press cell"]
    assert not any(word in json.dumps(found) for word in (secret, "argon2", "digest"))
    for role in ROLES[:3]:
        assert sorted(shop.browser(role).get("/api/people").json) == ["me", "roles"]
    assert [role for role, _ in ROLE_WORDS] == list(ROLES)


def test_a_token_is_made_and_revoked(shop):
    lead = shop.browser("administers")
    made = lead.post("/api/people/tokens", json={"name": "press cell", "role": "logs"}).json
    assert shop.record.token_of(made["secret"]).name == "press cell"
    assert lead.post("/api/people/tokens", json={"name": "saw", "role": "administers"}).status_code == 400
    assert lead.post("/api/people/tokens/revoke", json={"name": "press cell"}).json["token"]["revoked"]
    assert shop.record.token_of(made["secret"]) is None
    assert [token.by for token in shop.record.tokens()] == ["administers"]


def test_everybody_changes_the_own_password_and_stays_in(shop):
    client, other = shop.browser("logs"), shop.browser("logs")
    wrong = client.post("/api/people/own-password", json={"old": "no", "new": NEW})
    assert (wrong.status_code, wrong.json["error"]) == (403, "the old password is not the right one")
    assert client.post("/api/people/own-password", json={"old": WORDS, "new": "short"}).status_code == 400
    done = client.post("/api/people/own-password", json={"old": WORDS, "new": NEW})
    assert done.status_code == 200
    assert client.get("/").status_code == 200
    assert other.get("/").status_code == 303
    assert shop.record.user_with("logs", NEW) is not None
    for _ in range(6):
        last = shop.browser("logs").post("/api/people/own-password", json={"old": "no", "new": NEW})
    assert last.status_code == 429


def test_the_frame_says_who_is_signed_in_and_pages_for_doing_are_closed_to_who_only_looks(shop):
    from dashboard.parts.answers import Answers

    answers = Answers(shop.record)

    def text_at(role, path):
        shop.record.change_user(role, role=role)
        with shop.server.test_request_context(path):
            import flask

            flask.g.person = next(user for user in shop.record.users() if user.name == role)
            page, _ = rendered(answers, path, "?job=1")
            return json.dumps(page.to_plotly_json(), default=lambda item: item.to_plotly_json())

    text = text_at("logs", "/log")
    assert '"data-person": "logs"' in text
    assert '"data-sign-out"' in text
    assert "log-room" in text
    assert "log-room" not in text_at("reads", "/log")
    assert "and not add to it" in text_at("logs", "/new")
    assert "people-room" in text_at("reads", "/people")
    with shop.server.test_request_context("/people"):
        page, _ = rendered(answers, "/people", "")
        assert "people-room" not in json.dumps(page.to_plotly_json(), default=lambda item: item.to_plotly_json())
