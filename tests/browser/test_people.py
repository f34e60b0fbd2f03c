"""People in a real browser: signed in and out by keyboard, what each role may do, the page of people."""

from __future__ import annotations

import pytest
from playwright.sync_api import expect

WORDS = "four words at the bench"
NEW = "another four plain words"
AXE = "() => axe.run(document, { runOnly: ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa'] })"
PEOPLE = (("lead", "administers"), ("inspector", "signs off"), ("operator A", "logs"), ("apprentice", "reads"))


class Shop:
    """A running dashboard in which people sign in."""

    def __init__(self, address, record, job):
        self.address, self.record, self.job = address, record, job

    def enter(self, watched, name, password=WORDS, path="/"):
        """Sign in by keyboard alone, as the page is found: the name has the keys."""
        page = watched.page
        page.goto(self.address + path)
        page.wait_for_selector("main.door input:focus")
        page.keyboard.type(name)
        page.keyboard.press("Tab")
        page.keyboard.type(password)
        page.keyboard.press("Enter")
        return page


@pytest.fixture
def shop(tmp_path, served):
    from dashboard.commands import SAMPLES
    from dashboard.people.door import Door
    from dashboard.server import create_app
    from tracker.job import load_job
    from tracker.readings import read_readings
    from tracker.record import open_record

    with open_record(tmp_path / "shop.sqlite") as record:
        folder = SAMPLES / "rest_buttons"
        job = load_job(folder)
        number = record.add_job(job.text, "lead").id
        record.add_readings(number, read_readings(folder, job), "lead")
        for name, role in PEOPLE:
            record.add_user(name, role, WORDS)
        with served(create_app(record, bench="bench 2", door=Door(sign_in=True)).server) as address:
            yield Shop(address, record, number)


def meets_axe(page, axe, where):
    page.evaluate(axe)
    found = page.evaluate(AXE)["violations"]
    assert not found, where + ": " + "; ".join(f"{item['id']} at {item['nodes'][0]['html'][:200]}" for item in found)


@pytest.mark.parametrize("theme", ["light", "dark"])
def test_every_page_of_people_meets_axe(shop, look, axe, theme):
    watched = look(shop.address, theme=theme)
    page = watched.page
    page.goto(shop.address + "/")
    page.wait_for_selector("main.door input:focus")
    meets_axe(page, axe, "sign-in")
    shop.record.add_token("press cell", "logs")
    shop.enter(watched, "lead", path="/people")
    page.wait_for_selector("#people-room table")
    for summary in page.locator("#people-room summary").all():
        summary.click()
    meets_axe(page, axe, "people")
    page.set_viewport_size({"width": 390, "height": 844})
    meets_axe(page, axe, "people on a phone")
    assert page.evaluate("document.documentElement.scrollWidth") <= 390
    page.goto(shop.address + "/sign-in")
    page.wait_for_url(shop.address + "/")


def test_sign_in_log_three_readings_and_sign_out_by_keyboard(shop, look):
    watched = look(shop.address)
    page = shop.enter(watched, "operator A", path=f"/log?job={shop.job}&feature=shank")
    page.wait_for_url(f"**/log?job={shop.job}&feature=shank")
    page.wait_for_selector(".kept[data-kept]:not([data-kept='0'])")
    before = len(shop.record.since(shop.job, 0))
    for value in (".6256", ".6257", ".6255"):
        page.keyboard.type(value)
        page.keyboard.press("Enter")
    page.wait_for_function("() => document.querySelector('.kept').dataset.waiting === '0'")
    page.wait_for_timeout(300)
    kept = shop.record.since(shop.job, 0)[before:]
    assert [entry.typed for entry in kept] == [".6256", ".6257", ".6255"]
    assert {(entry.kept_by, entry.operator) for entry in kept} == {("operator A", "operator A")}
    page.get_by_role("button", name="sign out").first.focus()
    page.keyboard.press("Enter")
    page.wait_for_url(shop.address + "/sign-in")
    assert page.evaluate("document.activeElement.name") == "name"
    page.go_back()
    page.wait_for_selector("main.door input:focus")


def test_a_wrong_password_is_said_and_the_next_try_begins_at_the_password(shop, look):
    watched = look(shop.address)
    page = shop.enter(watched, "operator A", "wrong")
    page.wait_for_selector("[role=alert]")
    assert "do not go together" in page.locator("[role=alert]").inner_text()
    assert page.evaluate("document.activeElement.name") == "password"
    page.keyboard.type(WORDS)
    page.keyboard.press("Enter")
    page.wait_for_selector("#page-room")
    assert page.locator("#page-room").get_attribute("data-person") == "operator A"
    watched.faults = [fault for fault in watched.faults if not says_signed_out(fault)]


def test_a_reader_looks_and_may_not_log(shop, look):
    watched = look(shop.address)
    page = shop.enter(watched, "apprentice", path=f"/log?job={shop.job}")
    page.wait_for_selector('h1:text("not add to it")')
    assert page.locator(".entry").count() == 0
    watched.open(f"{shop.address}/wear?job={shop.job}")
    assert page.locator("button[data-event]:visible").count() == 0
    status = page.evaluate(
        """async (job) => (await fetch(`/api/jobs/${job}/readings`, { method: "POST",
        headers: { "Content-Type": "application/json" },
        body: JSON.stringify({ feature: "shank", piece: "1", text: ".6256", client_id: "x" }) })).status""",
        shop.job,
    )
    assert status == 403
    watched.faults = [fault for fault in watched.faults if "403" not in fault]


def test_who_may_not_sign_off_reads_the_job_and_is_told_before_typing(shop, look):
    watched = look(shop.address)
    page = shop.enter(watched, "operator A", path=f"/job?job={shop.job}")
    page.wait_for_selector("#job-form .form-columns")
    said = page.locator(".answer .reason").first.inner_text()
    assert said.startswith("You may read it, not change it: operator A logs, and this is for who signs off")
    assert page.get_by_role("button", name="keep as revision 2").is_disabled()
    assert page.locator("#job-form input:not([readonly])").count() == 0
    assert page.locator("#job-form select:enabled").count() == 0
    page.get_by_role("button", name="as a text").click()
    assert page.locator("#job-text[readonly]").count() == 1
    assert page.get_by_role("button", name="keep as revision 2").is_disabled()
    watched.open(f"{shop.address}/new")
    assert page.locator(".question").first.inner_text() == "What does the drawing say?"
    assert page.locator(".badge").count() == 0
    page = shop.enter(look(shop.address), "inspector", path=f"/job?job={shop.job}")
    page.wait_for_selector("#job-form .form-columns")
    assert page.locator(".answer .reason").count() == 1
    page.locator("#job-form input").first.fill("Leak-test nest, second order")
    assert page.get_by_role("button", name="keep as revision 2").is_enabled()


def says_signed_out(fault):
    """Whether this is what a page's console says of a request that was refused for want of a session."""
    return "401" in fault or "sign in first" in fault


def test_what_is_typed_after_the_session_has_ended_waits_for_the_same_person(shop, look):
    watched = look(shop.address)
    page = shop.enter(watched, "operator A", path=f"/log?job={shop.job}&feature=shank")
    page.wait_for_selector(".kept[data-kept]:not([data-kept='0'])")
    before = len(shop.record.since(shop.job, 0))
    shop.record.change_user("operator A", password=NEW)
    page.keyboard.type(".6258")
    page.keyboard.press("Enter")
    page.wait_for_selector(".signed-out")
    page.wait_for_selector(".kept[data-waiting='1']")
    page.get_by_role("link", name="Sign in").click()
    page.wait_for_selector("main.door input:focus")
    page.keyboard.type("inspector")
    page.keyboard.press("Tab")
    page.keyboard.type(WORDS)
    page.keyboard.press("Enter")
    page.wait_for_selector(".kept[data-kept]")
    page.wait_for_function("() => document.querySelector('.kept').innerText.includes('typed by operator A wait')")
    page.wait_for_selector(".kept[data-kept]:not([data-kept='0'])")
    page.keyboard.type(".6259")
    page.keyboard.press("Enter")
    page.wait_for_function("() => document.querySelector('.log-entries').innerText.includes('6259')")
    page.wait_for_function("() => document.querySelector('.kept').dataset.waiting === '0'")
    page.get_by_role("button", name="sign out").first.click()
    page.wait_for_selector("main.door input:focus")
    page.keyboard.type("operator A")
    page.keyboard.press("Tab")
    page.keyboard.type(NEW)
    page.keyboard.press("Enter")
    page.wait_for_selector("#page-room")
    page.goto(f"{shop.address}/log?job={shop.job}&feature=shank")
    page.wait_for_function("() => localStorage.getItem('tenthwise.waiting') === '[]'")
    page.wait_for_timeout(300)
    kept = shop.record.since(shop.job, 0)[before:]
    assert [(entry.typed, entry.kept_by) for entry in kept] == [(".6259", "inspector"), (".6258", "operator A")]
    watched.faults = [fault for fault in watched.faults if not says_signed_out(fault)]


def test_a_page_turned_to_after_the_session_has_ended_says_so_and_breaks_nothing(shop, look):
    watched = look(shop.address)
    page = shop.enter(watched, "operator A", path=f"/fit?job={shop.job}")
    page.wait_for_selector("#page-room")
    watched.settle()
    shop.record.change_user("operator A", password=NEW)
    page.get_by_role("link", name="Batch").first.click()
    page.wait_for_selector(".signed-out")
    page.wait_for_timeout(300)
    assert watched.faults
    watched.faults = [fault for fault in watched.faults if not says_signed_out(fault)]


def test_who_administers_lets_people_and_programs_in(shop, look):
    watched = look(shop.address)
    page = shop.enter(watched, "lead", path="/people")
    page.wait_for_selector("#people-room table")
    page.get_by_label("name", exact=True).fill("operator B")
    form = page.locator("form", has=page.get_by_role("button", name="add", exact=True))
    form.get_by_label("password").fill(WORDS)
    page.keyboard.press("Enter")
    page.wait_for_selector('.people-said:text("operator B may come in.")')
    assert shop.record.user_with("operator B", WORDS).role == "logs"
    page.get_by_label("what operator B may do").select_option("signs off")
    page.wait_for_selector('.people-said:text("operator B: signs off from now on.")')
    page.get_by_role("button", name="disable: operator B").click()
    page.wait_for_selector('.people-said:text("no longer come in")')
    assert [(u.role, u.disabled) for u in shop.record.users() if u.name == "operator B"] == [("signs off", True)]
    page.get_by_label("name of the program").fill("press cell")
    page.get_by_role("button", name="make a token").click()
    secret = page.locator(".people-said code").inner_text()
    assert shop.record.token_of(secret).name == "press cell"
    page.get_by_role("button", name="revoke: press cell").click()
    page.wait_for_selector('.people-said:text("press cell is revoked.")')
    page.get_by_label("what lead may do").select_option("reads")
    page.wait_for_selector('.people-said[data-failed="true"]:text("last one who administers")')
    expect(page.get_by_label("what lead may do")).to_have_value("administers")  # drawn anew after the words
    watched.faults = [fault for fault in watched.faults if "400" not in fault]


def test_who_signs_off_signs_a_sheet_and_enters_a_calibration(shop, look):
    watched = look(shop.address)
    page = shop.enter(watched, "inspector", path=f"/sheets?job={shop.job}&sheet=bench")
    page.get_by_role("button", name="sign it off").click()
    page.wait_for_selector('.sheet-side h2:text-is("Signed off")')
    page.wait_for_function(
        "() => document.querySelector('.sheet-room').shadowRoot?.textContent.includes('Signed off by inspector')"
    )
    assert [item.by for item in shop.record.sign_offs(shop.job)] == ["inspector"]
    page.goto(f"{shop.address}/gauges?job={shop.job}")
    page.wait_for_selector("#gauge-form form")
    page.get_by_label("gauge", exact=True).fill("bore gauge")
    page.get_by_label("next calibration").fill("2031-03-31")
    page.get_by_role("button", name="enter it").click()
    page.wait_for_selector('.form-said:text("Entered: bore gauge.")')
    page.wait_for_selector('td:text("2031-03-31")')
    assert [(item.name, item.by) for item in shop.record.gauges()] == [("bore gauge", "inspector")]
    watched.open(f"{shop.address}/sheets?job={shop.job}&sheet=bench")


def test_what_people_type_is_never_read_as_html(shop, look):
    wild = '<img src=x onerror="document.title=1">'
    job = shop.record.job_text(shop.job).replace('name = "Leak-test nest, rest buttons"', f"name = '{wild}'")
    number = shop.record.add_job(job, wild).id
    shop.record.add_user(f"a{wild}", "reads", WORDS)
    shop.record.add_token(f"b{wild}", "reads")
    for turn in range(3):
        kept = shop.record.add_reading(
            number, "shank", f"p{turn}{wild}", ".6256", client_id=f"w{turn}", operator=wild, note=wild
        )
    shop.record.strike(kept.id, wild, wild)
    watched = look(shop.address)
    page = shop.enter(watched, "lead", path="/people")
    page.wait_for_selector("#people-room table")
    assert wild in page.locator("#people-room").inner_text()
    for path in ("/", "/log", "/batch", "/fit", "/wear", "/gauges", "/plan", "/sheets", "/job"):
        page.goto(f"{shop.address}{path}?job={number}&feature=shank")
        page.wait_for_selector("#page-room")
        page.wait_for_timeout(700)
        found = page.evaluate("""() => [document, ...[...document.querySelectorAll('*')].map((node) => node.shadowRoot)]
            .filter(Boolean).reduce((count, root) => count + root.querySelectorAll('img[src="x"]').length, 0)""")
        assert found == 0, path
        assert page.title() != "1"
