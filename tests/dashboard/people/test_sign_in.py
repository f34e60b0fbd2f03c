"""Signing in and out: the page, the cookies, the waits, and where it leads on to."""

import html
import re

import pytest
from werkzeug.test import EnvironBuilder, run_wsgi_app

from dashboard.people.door import Door
from dashboard.people.sign_in import own_path
from dashboard.people.throttle import FREE_PER_NAME
from tracker.record import ROLES

WORDS = "four words at the bench"


def sign_in(client, name, password, *, onward="", **options):
    """Do what a person does: open the page, type, send."""
    path = "/sign-in" + (f"?next={onward}" if onward else "")
    page = client.get(path, **options).get_data(as_text=True)
    door = re.search(r'name="door" value="([0-9a-f]+)"', page)[1]
    action = html.unescape(re.search(r'action="([^"]+)"', page)[1])
    return client.post(action, data={"name": name, "password": password, "door": door}, **options)


def cookies(answer):
    return {line.partition("=")[0]: line for line in answer.headers.getlist("Set-Cookie")}


@pytest.mark.parametrize("role", ROLES)
def test_a_person_comes_in_goes_on_and_goes_out(shop, role):
    client = shop.browser()
    first = client.get("/log?job=1")
    assert first.status_code == 303
    assert first.headers["Location"] == "/sign-in?next=/log%3Fjob%3D1"
    done = sign_in(client, f" {role.upper()} ", WORDS, onward="/log%3Fjob%3D1")
    assert (done.status_code, done.headers["Location"]) == (303, "/log?job=1")
    assert client.get("/").status_code == 200
    own = client.get_cookie("tenthwise-own").value
    assert client.post("/sign-out", json={}).status_code == 403
    assert client.post("/sign-out", json={}, headers={"X-Own-Token": own}).json == {"to": "/sign-in"}
    assert client.get("/").status_code == 303
    assert client.get_cookie("tenthwise-session") is None


def test_a_stolen_cookie_ends_with_the_sign_out(shop):
    client = shop.browser()
    sign_in(client, "logs", WORDS)
    stolen = client.get_cookie("tenthwise-session").value
    client.post("/sign-out", json={}, headers={"X-Own-Token": client.get_cookie("tenthwise-own").value})
    thief = shop.browser()
    thief.set_cookie("tenthwise-session", stolen)
    assert thief.get("/api/jobs/1/log?feature=shank").status_code == 401


@pytest.mark.parametrize(
    ("https", "scheme", "name", "secure"),
    [
        (False, "http", "tenthwise-session", False),
        (False, "https", "tenthwise-session", True),
        (True, "http", "__Host-tenthwise-session", True),
        (True, "https", "__Host-tenthwise-session", True),
    ],
)
def test_cookies_are_as_tight_as_the_way_allows(shop, shop_of, https, scheme, name, secure):
    client = shop_of(shop.record, Door(sign_in=True, https=https)).server.test_client(use_cookies=False)
    base = {"base_url": f"{scheme}://localhost"}
    page = client.get("/sign-in", **base)
    kept = cookies(page)["tenthwise-door"]
    door = re.search(r'name="door" value="([0-9a-f]+)"', page.get_data(as_text=True))[1]
    data = {"name": "logs", "password": WORDS, "door": door}
    done = client.post("/sign-in", data=data, headers={"Cookie": kept.partition(";")[0]}, **base)
    found = cookies(done)
    session, own = found[name], found["tenthwise-own"]
    for line, words in ((session, ("HttpOnly", "SameSite=Lax")), (own, ("SameSite=Strict",))):
        assert all(word in line for word in (*words, "Path=/", "Max-Age=43200"))
        assert ("Secure" in line) == secure
    assert "HttpOnly" not in own
    assert "Domain" not in session
    assert ("Secure" in kept, "HttpOnly" in kept, "SameSite=Strict" in kept) == (secure, True, True)


def test_a_forwarded_scheme_counts_only_from_the_proxy_that_was_named(shop):
    """The server in front of the app takes the header away or believes it; the app itself never reads it."""
    from waitress.proxy_headers import proxy_headers_middleware

    from dashboard.commands import forwarding

    def seen(proxy, remote):
        told = {}

        def app(environ, start):
            told.update(scheme=environ["wsgi.url_scheme"], address=environ["REMOTE_ADDR"])
            start("200 OK", [])
            return []

        options = forwarding(proxy)
        if proxy:
            wrapped = proxy_headers_middleware(
                app,
                trusted_proxy=proxy,
                trusted_proxy_count=1,
                trusted_proxy_headers=options["trusted_proxy_headers"],
                clear_untrusted=options["clear_untrusted_proxy_headers"],
            )
        else:
            wrapped = app
        headers = {"X-Forwarded-Proto": "https", "X-Forwarded-For": "203.0.113.9"}
        environ = EnvironBuilder(headers=headers, environ_base={"REMOTE_ADDR": remote}).get_environ()
        run_wsgi_app(wrapped, environ)
        return told

    assert seen("127.0.0.1", "127.0.0.1") == {"scheme": "https", "address": "203.0.113.9"}
    assert seen("127.0.0.1", "198.51.100.7") == {"scheme": "http", "address": "198.51.100.7"}
    assert seen(None, "198.51.100.7") == {"scheme": "http", "address": "198.51.100.7"}


def test_a_wrong_password_and_an_unknown_name_read_the_same(shop):
    answers = [sign_in(shop.browser(), name, password) for name, password in (("logs", "no"), ("nobody", WORDS))]
    assert [answer.status_code for answer in answers] == [401, 401]
    texts = [re.sub(r'value="[^"]*"', "", answer.get_data(as_text=True)) for answer in answers]
    assert texts[0] == texts[1]
    assert "do not go together" in texts[0]
    assert "tenthwise-session" not in " ".join(answers[0].headers.getlist("Set-Cookie"))


def test_a_disabled_user_is_not_let_in(shop):
    shop.record.change_user("logs", disabled=True)
    assert sign_in(shop.browser(), "logs", WORDS).status_code == 401


def test_too_many_tries_must_wait_and_are_told_how_long(shop):
    client = shop.browser()
    for _ in range(FREE_PER_NAME):
        assert sign_in(client, "logs", "wrong").status_code == 401
    answer = sign_in(client, "logs", WORDS)
    assert answer.status_code == 429
    assert 1 <= int(answer.headers["Retry-After"]) <= 10
    assert re.search(r"Try again in \d+ seconds?\.", answer.get_data(as_text=True))
    assert sign_in(client, "reads", WORDS).status_code == 303


def test_the_form_of_another_site_does_not_sign_anyone_in(shop):
    client = shop.browser()
    data = {"name": "logs", "password": WORDS}
    assert client.post("/sign-in", data=data).status_code == 400
    assert client.post("/sign-in", data=data | {"door": "0" * 64}).status_code == 400
    page = client.get("/sign-in").get_data(as_text=True)
    door = re.search(r'name="door" value="([0-9a-f]+)"', page)[1]
    assert client.post("/sign-in", data=data | {"door": door}, headers={"Origin": "null"}).status_code == 403
    assert shop.browser().post("/sign-in", data=data | {"door": door}).status_code == 400
    assert client.post("/sign-in", data=data | {"door": door}).status_code == 303


@pytest.mark.parametrize(
    "asked",
    [
        "https://elsewhere.example",
        "//elsewhere.example/x",
        "/\\elsewhere.example",
        "/\t/elsewhere.example",
        "javascript:alert(1)",
        "log",
        "",
        "/sign-in?next=/sign-in",
        "//[",
        "/..//elsewhere.example",
    ],
)
def test_it_never_leads_elsewhere(asked):
    assert own_path(asked) == "/"


def test_a_name_is_never_read_as_html(shop):
    wild = '"><script>alert(1)</script>'
    text = sign_in(shop.browser(), wild, "x").get_data(as_text=True)
    assert "<script" not in text
    assert "&lt;script&gt;" in text


def test_without_a_sign_in_there_is_no_such_page(shop, shop_of):
    client = shop_of(shop.record, Door()).browser()
    assert client.get("/sign-in").headers["Location"] == "/"
    assert client.post("/sign-in", data={"name": "logs", "password": WORDS}).status_code == 303
    assert client.post("/api/people", json={"name": "x", "role": "administers", "password": WORDS}).status_code == 403
    assert client.get("/api/people").status_code == 403
    assert len(shop.record.users()) == 4


def test_a_record_that_cannot_be_written_is_said_on_the_page(shop, monkeypatch):
    from tracker.errors import RecordError

    client = shop.browser()

    def full(*_, **__):
        raise RecordError("the disk is full")

    monkeypatch.setattr(shop.record, "begin_session", full)
    answer = sign_in(client, "logs", WORDS)
    assert answer.status_code == 503
    assert "the disk is full" in answer.get_data(as_text=True)
    assert "tenthwise-session" not in " ".join(answer.headers.getlist("Set-Cookie"))


@pytest.mark.parametrize(
    "written",
    ["LOGS", " logs ", "ｌogs", "ＬＯＧＳ", "logs" + " " * 300 + "{}"],
)
def test_no_way_to_write_a_name_gives_more_tries(shop, written):
    for place in range(5):
        assert _try(shop, written.format(place), f"192.0.2.{place}").status_code == 401
    assert _try(shop, "logs", "198.51.100.1").status_code == 429


def _try(shop, name, address):
    browser = shop.browser()
    door = re.search(rb'name="door" value="([^"]+)"', browser.get("/sign-in").data)[1].decode()
    form = {"name": name, "password": "not the right one", "door": door}
    return browser.post("/sign-in", data=form, environ_base={"REMOTE_ADDR": address})
