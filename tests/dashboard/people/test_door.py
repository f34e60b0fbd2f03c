"""The door: every route against every role, where a request comes from, and whose name goes into the record."""

import pytest

from dashboard.people import rights
from dashboard.people.door import OWN_HEADER, SAFE, Door
from tracker.record import ROLES, may

EVIL = {"Origin": "https://elsewhere.example"}
VALUES = {
    "package_name": "dash",
    "fingerprinted_path": "none.js",
    "filename": "none.css",
    "path": "fit",
    "job_id": "1",
    "job": "1",
    "rest": "none",
    "reading_id": "1",
    "feature": "shank",
    "token": "x",
    "number": "1",
    "ending": "csv",
    "name": "none",
    "sheet": "bench",
}
PAGE_ENDPOINTS = ("/", "/<path:path>")


def asked(server):
    """Return (endpoint, method, path) of every route of the app, with values that lead to nothing dangerous."""
    found = []
    for rule in server.url_map.iter_rules():
        path = rule.rule
        for name in rule.arguments:
            for kind in ("int:", "string:", "path:", ""):
                path = path.replace(f"<{kind}{name}>", VALUES[name])
        found += [(rule.endpoint, method, path) for method in sorted(rule.methods - {"HEAD", "OPTIONS"})]
    return found


def test_every_route_stands_in_the_table_and_no_other(shop):
    endpoints = {rule.endpoint for rule in shop.server.url_map.iter_rules()}
    assert endpoints == set(rights.ROUTES) | set(rights.TOKENS)
    assert not set(rights.ROUTES) & set(rights.TOKENS)
    assert set(rights.ROUTES.values()) <= {*ROLES, rights.ANYONE}
    assert set(rights.TOKENS.values()) <= set(ROLES[:2])


def test_every_route_against_every_role(shop):
    wrong = []
    for role in ("", *ROLES):
        client = shop.browser(role)
        for endpoint, method, path in asked(shop.server):
            if endpoint in rights.TOKENS:
                assert client.open(path, method=method, json={}).status_code == 401, endpoint
                continue
            needed = rights.ROUTES[endpoint]
            if endpoint == "sign_in.go_out" and role:
                continue  # this ends the session; it has a test of its own
            body = {"output": "..room.children...mark.data.."} if endpoint == "/_dash-update-component" else {}
            sent = {"json": body} if method == "POST" else {}
            answer = client.open(path, method=method, headers={"X-Own-Page": "1"}, **sent)
            if needed == rights.ANYONE:
                fine = answer.status_code != 403 and b"sign in first" not in answer.data
            elif not role:
                fine = answer.status_code == (303 if endpoint in PAGE_ENDPOINTS else 401)
            elif may(role, needed):
                fine = answer.status_code not in (401, 403)
            else:
                fine = answer.status_code == 403 and role in answer.json["error"]
            if not fine:
                wrong.append((role, endpoint, method, answer.status_code))
    assert wrong == []


def test_the_callbacks_are_the_known_ones_and_only_read(shop):
    shop.browser("reads").get("/")
    outputs = list(shop.app.callback_map)
    assert len(outputs) == 2
    assert {rights.needed_for(output) for output in outputs} == {"reads"}
    for output in ("..room.children...store.data..", "record.data", "", None, 7, [], "..room.children...x.y@12.."):
        assert rights.needed_for(output) == "administers"
    answer = shop.browser("signs off").post("/_dash-update-component", json={"output": "record.data"})
    assert answer.status_code == 403


def test_nobody_changes_anything_without_the_token_of_the_page(shop):
    client = shop.browser("administers", token=False)
    changing = [item for item in asked(shop.server) if item[1] not in SAFE]
    for endpoint, method, path in changing:
        if endpoint in rights.TOKENS or rights.ROUTES[endpoint] == rights.ANYONE:
            continue
        for token in ({}, {OWN_HEADER: "x"}, {OWN_HEADER: "é"}, {OWN_HEADER: ""}):
            answer = client.open(path, method=method, json={}, headers={"X-Own-Page": "1", **token})
            assert answer.status_code == 403, endpoint
    assert len(changing) > 15
    other = shop.browser("reads")
    stolen = other.environ_base[f"HTTP_{OWN_HEADER.upper().replace('-', '_')}"]
    answer = client.post("/api/people", json={}, headers={OWN_HEADER: stolen})
    assert answer.status_code == 403


@pytest.mark.parametrize(
    "headers",
    [
        EVIL,
        {"Origin": "null"},
        {"Origin": "http://localhost:9"},
        {"Sec-Fetch-Site": "cross-site"},
        {"Sec-Fetch-Site": "same-site"},
    ],
)
def test_other_sites_are_refused_on_every_changing_route_with_and_without_a_sign_in(shop, shop_of, headers):
    for each, role in ((shop, "administers"), (shop_of(shop.record, Door()), "")):
        client = each.browser(role)
        for endpoint, method, path in asked(each.server):
            if method in SAFE or endpoint in rights.TOKENS:
                continue
            answer = client.open(path, method=method, json={}, headers=headers)
            assert answer.status_code == 403, endpoint
            assert "another site" in answer.json["error"]


def test_without_a_sign_in_only_this_machine_may_ask(shop, shop_of):
    client = shop_of(shop.record, Door()).browser()
    for host in ("localhost", "127.0.0.1:8050", "[::1]:8050", "127.0.0.2"):
        assert client.get("/health", headers={"Host": host}).status_code == 200
    for host in (
        "bench.example",
        "localhost.elsewhere.example",
        "10.0.0.5",
        "127.0.0.1.elsewhere.example",
        "[::2]",
        "",
    ):
        answer = client.get("/health", headers={"Host": host})
        assert answer.status_code in (400, 421), host
    for header in ("X-Forwarded-For", "Forwarded"):
        answer = client.get("/", headers={header: "203.0.113.9"})
        assert answer.status_code == 403
        assert "--proxy" in answer.json["error"]


def test_with_names_no_other_is_answered(shop, shop_of):
    client = shop_of(shop.record, Door(sign_in=True, names=("bench.example",))).browser()
    for host, status in (
        ("bench.example", 200),
        ("BENCH.example:443", 200),
        ("localhost:8050", 200),
        ("x.example", 421),
    ):
        assert client.get("/health", headers={"Host": host}).status_code == status
    assert shop.browser().get("/health", headers={"Host": "10.0.0.5:8050"}).status_code == 200


def test_the_name_of_who_is_signed_in_stands_on_everything_and_cannot_be_replaced(shop):
    client = shop.browser("logs")
    body = {"feature": "shank", "piece": "1", "text": ".6254", "client_id": "a", "by": "lead"}
    kept = client.post("/api/jobs/1/readings", json=body).json["reading"]
    body |= {"client_id": "b", "operator": "logs"}
    assert client.post("/api/jobs/1/readings", json=body).status_code == 200
    client.post(f"/api/readings/{kept['id']}/strike", json={"reason": "slipped", "by": "lead"})
    client.post("/api/jobs/1/readings/2/change", json={"text": ".6255", "reason": "misread", "by": "lead"})
    event = {"feature": "shank", "after_piece": "1", "event": "setup", "client_id": "c", "by": "lead"}
    assert client.post("/api/jobs/1/events", json=event).status_code == 200
    first, second, third = shop.record.since(1, 0)
    assert {(item.kept_by, item.operator) for item in (first, second, third)} == {("logs", "logs")}
    assert (first.struck_by, second.struck_by) == ("logs", "logs")
    assert [item.by for item in shop.record.events(1)] == ["logs"]
    lead = shop.browser("signs off")
    text = shop.record.job_text(1).replace("0.6260", "0.6261")
    answer = lead.post("/api/jobs/1/revisions", json={"text": text, "revision": 1, "by": "someone"})
    assert answer.status_code == 200
    lead.post("/api/jobs", json={"text": text.replace("Leak", "Second leak"), "client_id": "j", "by": "someone"})
    assert {info.by for info in shop.record.jobs()} == {"lead", "signs off"}


@pytest.mark.parametrize(
    "change",
    [
        {"piece": "a\x1fb"},
        {"note": "\x00"},
        {"piece": "\ud800"},
        {"time": "0001-01-01T00:00:00"},
        {"time": "9999-12-31"},
    ],
)
def test_what_the_record_does_not_take_is_refused_and_not_tried_for_ever(shop, change):
    body = {"feature": "shank", "piece": "1", "text": ".6254", "client_id": "a"} | change
    assert shop.browser("logs").post("/api/jobs/1/readings", json=body).status_code == 400


def test_what_another_one_typed_waits_for_that_one(shop):
    body = {"feature": "shank", "piece": "1", "text": ".6254", "client_id": "a", "operator": "administers"}
    answer = shop.browser("logs").post("/api/jobs/1/readings", json=body)
    assert answer.status_code == 409
    assert "administers must sign in" in answer.json["error"]
    assert shop.record.since(1, 0) == []
    assert shop.browser("administers").post("/api/jobs/1/readings", json=body).status_code == 200


def test_without_a_sign_in_the_page_says_who(shop, shop_of):
    client = shop_of(shop.record, Door()).browser()
    body = {"feature": "shank", "piece": "1", "text": ".6254", "client_id": "a", "operator": "bench 2"}
    assert client.post("/api/jobs/1/readings", json=body).status_code == 200
    assert [(item.kept_by, item.operator) for item in shop.record.since(1, 0)] == [("bench 2", "bench 2")]


def test_a_change_of_the_user_reaches_the_page_at_once(shop):
    client = shop.browser("logs")
    body = {"feature": "shank", "piece": "1", "text": ".6254", "client_id": "a"}
    assert client.post("/api/jobs/1/readings", json=body).status_code == 200
    shop.record.change_user("logs", role="reads")
    assert client.post("/api/jobs/1/readings", json=body | {"client_id": "b"}).status_code == 403
    shop.record.change_user("logs", disabled=True)
    assert client.get("/api/jobs/1/log?feature=shank").status_code == 401
    assert client.get("/").status_code == 303


def test_a_new_job_with_files_needs_more_than_readings_of_one_that_is_there(shop):
    import io

    files = {"files": (io.BytesIO(b"[job]\nname='n'\nunit='in'\n[features.a]\nkind='length'\nnominal=1\n"), "job.toml")}
    for role, status in (("logs", 403), ("signs off", 200)):
        client = shop.browser(role)
        files["files"][0].seek(0)
        fresh = {"files": (io.BytesIO(files["files"][0].getvalue()), "job.toml")}
        seen = client.post("/api/brought", data=fresh, headers={"X-Own-Page": "1"})
        assert seen.status_code == 200
        assert client.post(f"/api/brought/{seen.json['token']}/keep", json={}).status_code == status


def test_nothing_of_a_page_stays_in_the_browser_after_it(shop):
    client = shop.browser("reads")
    for path in ("/", "/api/jobs/1/log?feature=shank", "/exports/1.csv", "/_dash-layout"):
        assert client.get(path).headers["Cache-Control"] == "no-store"
    with client.get("/assets/1-type.css") as answer:
        assert "no-store" not in answer.headers.get("Cache-Control", "")


def test_the_headers_keep_foreign_scripts_and_frames_out(shop):
    for path in ("/", "/sign-in", "/health", "/api/people", "/assets/1-type.css"):
        with shop.browser("reads").get(path) as answer:
            headers = answer.headers
        policy = headers["Content-Security-Policy"]
        assert "default-src 'none'" in policy
        assert "frame-ancestors 'none'" in policy
        assert "'unsafe-inline'" not in policy.partition("script-src")[2]
        assert (headers["X-Content-Type-Options"], headers["X-Frame-Options"]) == ("nosniff", "DENY")
        assert "Server" not in headers


@pytest.mark.parametrize(
    "path",
    [
        "/assets/../commands.py",
        "/assets/..%2fcommands.py",
        "/assets/%2e%2e/commands.py",
        "/assets//etc/passwd",
        "/assets/..\\commands.py",
        "/_dash-component-suites/dash/../../../commands.py",
        "/_dash-component-suites/dashboard/commands.py",
        "/help/pictures/..%2f..%2fcommands.py",
        "/pictures/..%2fx.svg",
        "/sheets/..%2fx.html?job=1",
        "/brought/..%2f..%2fx/refused-1.csv",
        "/exports/1.%2e%2e",
        "/static/../commands.py",
    ],
)
def test_no_path_leads_out(shop, path):
    answer = shop.browser("administers").get(path)
    assert b"import" not in answer.data
    assert b"root:" not in answer.data
    assert answer.status_code in (200, 302, 303, 400, 404, 415, 500), path
    if answer.status_code == 200:
        assert answer.mimetype == "text/html"  # the program itself, which says that there is no such page
    assert answer.status_code != 500 or b"Traceback" not in answer.data


def test_a_large_request_is_refused(shop):
    client = shop.browser("logs")
    assert client.post("/api/jobs/1/readings", json={"text": "x" * 2_100_000}).status_code == 413
    sign_in = shop.browser().post("/sign-in", data={"name": "x" * 20_000, "password": "y"})
    assert sign_in.status_code == 413


def test_a_record_that_does_not_answer_lets_nobody_in(shop, monkeypatch):
    from tracker.errors import RecordError

    client = shop.browser("administers")

    def gone(*_, **__):
        raise RecordError("the record does not answer")

    monkeypatch.setattr(shop.record, "session_user", gone)
    answer = client.get("/api/people")
    assert answer.status_code == 503
    assert "does not answer" in answer.json["error"]


def test_a_page_that_not_every_role_may_open_has_its_own_question():
    from dashboard.server import NOT_FOR_ALL

    assert set(NOT_FOR_ALL) == set(rights.PAGES)
    assert all(question.endswith("?") for question in NOT_FOR_ALL.values())


@pytest.mark.parametrize(
    ("address", "https", "sent"),
    [
        ("http://localhost", False, True),
        ("http://127.0.0.1:8050", False, True),
        ("http://bench.example:8050", False, False),
        ("http://192.0.2.5:8050", False, False),
        ("https://bench.example", False, True),
        ("http://bench.example", True, True),
    ],
)
def test_an_opener_policy_is_sent_only_where_a_browser_honours_it(shop, shop_of, address, https, sent):
    """Over plain http from another machine a browser passes it over and reports an error on every page."""
    client = shop_of(shop.record, Door(sign_in=True, https=https)).browser()
    headers = client.get("/sign-in", base_url=address).headers
    assert headers.get("Cross-Origin-Opener-Policy") == ("same-origin" if sent else None)
    assert headers["Cross-Origin-Resource-Policy"] == "same-origin"
