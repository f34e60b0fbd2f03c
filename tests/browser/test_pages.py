"""Every page in a real browser: it opens, says nothing in the console, asks nothing of the network, fits its width."""

from __future__ import annotations

import pytest

PAGES = [
    ("/", None, {}),
    ("/batch", "rest_buttons", {"feature": "shank"}),
    ("/fit", "rest_buttons", {}),
    ("/fit", "coupling_pins", {}),
    ("/next", "rest_buttons", {}),
    ("/next", "guide_pins", {}),
    ("/wear", "coupling_pins", {"feature": "pin"}),
    ("/wear", "rest_buttons", {"feature": "bore"}),
    ("/history", None, {}),
    ("/history", None, {"by": "part", "unit": "mm"}),
    ("/history", None, {"by": "month"}),
]
IDS = [f"{path[1:] or 'jobs'}-{job or '-'.join(state.values())}" for path, job, state in PAGES]
AXE = "() => axe.run(document, { runOnly: ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa'] })"


GROUND = {"light": "rgb(231, 235, 232)", "dark": "rgb(14, 19, 20)"}


@pytest.mark.parametrize(("path", "job", "state"), PAGES, ids=IDS)
def test_a_page_opens_and_fits_every_width_in_both_themes(shared_bench, look, path, job, state):
    watched = look(shared_bench.address)
    page = watched.open(shared_bench.at(path, job, **state))
    assert page.locator("h1").inner_text().strip()
    for theme, ground in GROUND.items():
        page.emulate_media(color_scheme=theme)
        assert page.evaluate("getComputedStyle(document.body).backgroundColor") == ground
        for width in (390, 820, 1440):
            page.set_viewport_size({"width": width, "height": 900})
            watched.settle()
            assert page.evaluate("document.documentElement.scrollWidth") <= width
            assert page.locator("[data-picture] svg").count() == page.locator("[data-picture]").count()


@pytest.mark.parametrize(("path", "job", "state"), PAGES, ids=IDS)
def test_a_page_is_accessible(shared_bench, look, axe, path, job, state):
    watched = look(shared_bench.address)
    page = watched.open(shared_bench.at(path, job, **state))
    page.evaluate(axe)
    for theme in GROUND:
        page.emulate_media(color_scheme=theme)
        for width in (390, 1440):
            page.set_viewport_size({"width": width, "height": 900})
            watched.settle()
            found = page.evaluate(AXE)["violations"]
            assert [(item["id"], [node["target"] for node in item["nodes"]][:3]) for item in found] == []


def test_the_scale_leads_from_page_to_page_and_keeps_the_job(shared_bench, look):
    watched = look(shared_bench.address)
    page = watched.open(shared_bench.at("/fit", "rest_buttons"))
    for name in ("Batch", "Next cut", "Wear", "Fit"):
        page.get_by_role("navigation", name="pages", exact=True).get_by_role("link", name=name, exact=True).click()
        page.wait_for_selector(f'nav.scale a[aria-current="page"]:text-is("{name}")')
        watched.settle()
        assert f"job={shared_bench.jobs['rest_buttons']}" in page.url
    page.go_back()
    page.wait_for_selector('nav.scale a[aria-current="page"]:text-is("Wear")')


def test_the_history_is_reached_and_told_apart_by_keys_alone(shared_bench, look):
    watched = look(shared_bench.address)
    page = watched.open(shared_bench.at("/fit", "rest_buttons"))
    page.get_by_role("navigation", name="pages", exact=True).get_by_role("link", name="History").focus()
    page.keyboard.press("Enter")
    page.wait_for_selector('#page-room[data-page="history"]')
    watched.settle()
    assert page.locator("h1").inner_text() == "Grinder 1 cuts guide pins two tenths larger since 8 May 2026."
    page.get_by_role("navigation", name="by", exact=True).get_by_role("link", name="operator").focus()
    page.keyboard.press("Enter")
    page.wait_for_function("() => document.querySelector('h1').innerText.startsWith('Operator ')")
    watched.settle()
    assert "by=operator" in page.url
    page.get_by_role("table", name="the worst batches").get_by_role("link").first.focus()
    page.keyboard.press("Enter")
    page.wait_for_selector('#page-room[data-page="batch"]')
    watched.settle()


def test_a_batch_logged_elsewhere_shows_up_in_the_history(bench, look):
    watched = look(bench.address)
    page = watched.open(bench.at("/history"))
    before = page.locator("p.reason").nth(1).inner_text()
    bench.record.add_reading(bench.jobs["rest_buttons"], "shank", "1", "0.6260", batch="new", client_id="one more")
    page.wait_for_function("(before) => document.querySelectorAll('p.reason')[1].innerText !== before", arg=before)
    watched.settle()


def test_the_unit_switch_changes_every_number_and_the_link(shared_bench, look):
    watched = look(shared_bench.address)
    page = watched.open(shared_bench.at("/fit", "rest_buttons"))
    assert "size, in" in page.locator("table").first.inner_text()
    page.get_by_role("group", name="unit").get_by_role("link", name="mm").click()
    page.wait_for_function("() => document.querySelector('table').innerText.includes('size, mm')")
    watched.settle()
    assert "unit=mm" in page.url
    assert "tenths" not in page.locator("main").inner_text()


def test_the_theme_is_kept_and_comes_with_the_first_paint(shared_bench, look):
    watched = look(shared_bench.address)
    page = watched.open(shared_bench.at("/fit", "rest_buttons"))
    page.get_by_role("button", name="dark").first.click()
    assert page.evaluate("document.documentElement.dataset.theme") == "dark"
    page.reload()
    assert page.evaluate("document.documentElement.dataset.theme") == "dark"
    watched.settle()
    assert page.get_by_role("button", name="dark").first.get_attribute("aria-pressed") == "true"


def test_a_reading_logged_elsewhere_shows_up_by_itself(bench, look):
    watched = look(bench.address)
    page = watched.open(bench.at("/fit", "rest_buttons"))
    before = page.locator("footer.foot").inner_text()
    bench.record.add_reading(bench.jobs["rest_buttons"], "shank", "13", "0.6260", client_id="one more")
    page.wait_for_function("(before) => document.querySelector('footer.foot').innerText !== before", arg=before)
    watched.settle()


def test_a_picture_can_be_saved_as_svg_and_png(shared_bench, look):
    page = look(shared_bench.address).open(shared_bench.at("/fit", "rest_buttons"))
    for kind, begins in (("SVG", b"<svg"), ("PNG", b"\x89PNG")):
        with page.expect_download() as waiting:
            page.get_by_role("link", name=f"save this picture as {kind}").first.click()
        file = waiting.value
        assert file.suggested_filename.endswith(f".{kind.lower()}")
        assert "shank" in file.suggested_filename or "batches" in file.suggested_filename
        assert file.path().read_bytes().startswith(begins)


def test_every_link_and_button_can_be_reached_and_seen_by_keys(shared_bench, look):
    page = look(shared_bench.address).open(shared_bench.at("/fit", "rest_buttons"))
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.textContent") == "to the answer"
    seen = set()
    for _ in range(60):
        page.keyboard.press("Tab")
        what, outline = page.evaluate(
            "() => [document.activeElement.textContent.slice(0, 40),"
            " getComputedStyle(document.activeElement).outlineStyle]"
        )
        if page.evaluate("document.activeElement === document.body"):
            break
        assert outline != "none", what
        seen.add(what)
    assert {"Jobs", "Log", "Batch", "Fit", "Next cut", "Wear", "in", "mm", "light", "dark"} <= seen


def test_a_phone_has_the_rest_under_more(shared_bench, look):
    page = look(shared_bench.address, width=390, height=844).open(shared_bench.at("/fit", "rest_buttons"))
    below = page.get_by_role("navigation", name="pages, below")
    below.get_by_text("More").click()
    below.get_by_role("link", name="Batch").click()
    page.wait_for_selector('#page-room[data-page="batch"]')


def test_names_from_data_are_never_run(bench, look):
    text = bench.record.job_text(bench.jobs["guide_pins"]).replace(
        'name = "Leak-test nest, guide pins"', 'name = "<img src=x onerror=window.hit=1><b>bold</b>"'
    )
    bench.record.revise_job(bench.jobs["guide_pins"], text)
    bench.record.add_reading(
        bench.jobs["guide_pins"], "pin", "<svg onload=window.hit=1>", "0.3745", client_id="a strange piece"
    )
    watched = look(bench.address)
    for path in ("/", "/fit", "/batch"):
        page = watched.open(bench.at(path, None if path == "/" else "guide_pins"))
        assert page.evaluate("window.hit") is None
        assert page.locator("b", has_text="bold").count() == 0


def test_touching_the_machine_cuts_the_tape(bench, look):
    watched = look(bench.address)
    page = watched.open(bench.at("/wear", "coupling_pins", feature="pin"))
    before = len(bench.record.events(bench.jobs["coupling_pins"]))
    button = page.locator('button[data-event="dressing"]')
    button.click()
    assert "sure? after pin 40" in button.inner_text()
    assert len(bench.record.events(bench.jobs["coupling_pins"])) == before
    button.click()
    page.wait_for_function("() => document.querySelector('h1').innerText === 'Nothing is measured since the dressing.'")
    watched.settle()
    kept = bench.record.events(bench.jobs["coupling_pins"])
    assert len(kept) == before + 1
    assert (kept[-1].event, kept[-1].after_piece, kept[-1].by) == ("dressing", "40", "bench 2")
    assert "nothing measured since" in page.locator('[data-name="tape"]').inner_text()


def test_an_entered_shift_is_noted_with_its_amount(bench, look):
    watched = look(bench.address)
    page = watched.open(bench.at("/next", "rest_buttons"))
    button = page.locator('button[data-event="offset_change"]')
    button.click()
    button.click()
    page.wait_for_function("() => document.querySelector('h1').innerText === 'Leave the shanks alone.'")
    kept = bench.record.events(bench.jobs["rest_buttons"])[-1]
    assert (kept.event, kept.feature, kept.after_piece) == ("offset_change", "shank", "12")
    assert kept.amount == pytest.approx(0.0001)


def test_a_lost_server_is_said_and_its_return_too(browser, tmp_path, served):
    from dashboard.commands import load_samples
    from dashboard.server import create_app
    from tracker.record import open_record

    with open_record(tmp_path / "lost.sqlite") as record:
        load_samples(record)
        alive = [True]
        app = create_app(record).server

        @app.before_request
        def answer_or_not():
            return None if alive[0] else ("gone", 503)

        with served(app) as address:
            page = browser.new_page()
            page.goto(f"{address}/")
            page.wait_for_selector("#page-room")
            alive[0] = False
            page.wait_for_selector(".lost-bar:not([hidden])")
            assert page.locator(".lost-bar").inner_text().startswith("No connection since ")
            alive[0] = True
            page.wait_for_selector(".lost-bar", state="hidden")
            page.close()


def test_numbers_of_the_history_do_not_touch_on_a_phone(shared_bench, look):
    page = look(shared_bench.address, width=390, height=844).open(f"{shared_bench.address}/history")
    gaps = page.evaluate(
        """() => [...document.querySelectorAll(".table-room td.number + td.number")].filter((cell) => cell.offsetWidth)
          .map((cell) => {
            const words = (node) => {
              const range = document.createRange();
              range.selectNodeContents(node);
              return range.getBoundingClientRect();
            };
            const before = words(cell.previousElementSibling);
            return before.width && words(cell).width ? words(cell).left - before.right : 99;
          })"""
    )
    assert len(gaps) > 10
    assert min(gaps) >= 12
