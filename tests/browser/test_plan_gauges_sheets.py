"""Plan, Gauges and Sheets in a real browser: they fit, are accessible, keep what is tried in the link; sheets print."""

from __future__ import annotations

import re

import pytest

PAGES = [
    ("/plan", "rest_buttons", {}),
    ("/plan", "depth_stops", {"if-spoiled": "80"}),
    ("/gauges", "rest_buttons", {}),
    ("/gauges", "depth_stops", {}),
    ("/sheets", "rest_buttons", {}),
    ("/sheets", "rest_buttons", {"sheet": "labels"}),
    ("/sheets", "guide_pins", {"sheet": "set-up"}),
    ("/sheets", "coupling_pins", {"sheet": "report"}),
]
IDS = [f"{path[1:]}-{job}-{'-'.join(state.values()) or 'plain'}" for path, job, state in PAGES]
AXE = "() => axe.run(document, { runOnly: ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa'] })"
SHOWN = (
    "() => [...document.querySelectorAll('[data-sheet]')].every((room) => room.dataset.shown === room.dataset.sheet)"
)


LONG_NAMES = """[job]
name = "Pump nest, stand height"
unit = "in"
[features.clamping_plate_counterbore_depth]
kind = "length"
nominal = 0.125
[features.hardened_rest_button_head_height]
kind = "length"
nominal = 0.5
[closures.stand_height]
terms = { hardened_rest_button_head_height = 1, clamping_plate_counterbore_depth = -1 }
limits = [0.3745, 0.3755]
"""


def opened(look, bench, path, job, state, **more):
    page = look(bench.address, **more).open(bench.at(path, job, **state))
    page.wait_for_function(SHOWN)
    return page


@pytest.mark.parametrize(("width", "theme", "between"), [(390, "dark", 820), (1440, "light", 1024)])
@pytest.mark.parametrize(("path", "job", "state"), PAGES, ids=IDS)
def test_a_page_opens_fits_and_is_accessible(shared_bench, look, axe, path, job, state, width, theme, between):
    """Both themes and both layouts are checked whole; widths in between for what runs out of the page."""
    page = opened(look, shared_bench, path, job, state, width=width, theme=theme)
    assert page.locator("h1").first.inner_text().strip()
    for wide in (between, width):
        page.set_viewport_size({"width": wide, "height": 900})
        page.wait_for_function("(wide) => window.innerWidth === wide", arg=wide)
        assert page.evaluate("document.documentElement.scrollWidth") <= wide
    page.evaluate(axe)
    found = page.evaluate(AXE)["violations"]
    assert [(item["id"], [node["target"] for node in item["nodes"]][:3]) for item in found] == []


def test_a_figure_tried_by_keys_is_in_the_link_and_can_be_taken_back(shared_bench, look):
    watched = look(shared_bench.address)
    page = watched.open(shared_bench.at("/plan", "rest_buttons"))
    field = page.get_by_role("textbox", name="making a new shank")
    assert field.input_value() == "11"
    field.fill("40")
    field.press("Enter")
    page.wait_for_function("() => document.querySelector('h1').innerText.includes('costs 92')")
    assert "if-remake-shank=40" in page.url
    assert page.evaluate("document.activeElement.id") == "try-remake-shank"
    watched.settle()
    page.get_by_role("link", name="back to the job's own").click()
    page.wait_for_function("() => document.querySelector('h1').innerText.includes('costs 34')")
    assert "if-" not in page.url
    assert page.get_by_role("textbox", name="making a new shank").input_value() == "11"
    page.go_back()
    page.wait_for_function("() => document.querySelector('h1').innerText.includes('costs 92')")
    watched.settle()


def test_a_slider_moves_by_keys(shared_bench, look):
    watched = look(shared_bench.address)
    page = watched.open(shared_bench.at("/plan", "rest_buttons"))
    slide = page.get_by_role("slider", name="how sure it must be")
    slide.focus()
    slide.press("PageDown")
    page.wait_for_function("() => location.search.includes('if-assurance=')")
    page.wait_for_function("() => document.querySelector('main').innerText.includes('ne figure tried')")
    assert page.evaluate("document.activeElement.id") == "slide-assurance"
    watched.settle()


def test_what_is_no_figure_is_said_and_not_asked(shared_bench, look):
    page = look(shared_bench.address).open(shared_bench.at("/plan", "rest_buttons"))
    field = page.get_by_role("textbox", name="pressing one")
    field.fill("four")
    field.press("Enter")
    assert field.get_attribute("aria-invalid") == "true"
    assert "a plain figure is wanted" in page.locator("#state-press").inner_text()
    assert "if-" not in page.url


def test_a_sheet_is_shown_as_it_is_printed_and_can_be_kept(shared_bench, look):
    watched = look(shared_bench.address)
    page = opened(look, shared_bench, "/sheets", "rest_buttons", {})
    shown = page.locator(".sheet-room").get_by_text("Do not press yet.")
    assert shown.is_visible()
    for name, begins in (("PDF, A4", b"%PDF"), ("HTML", b"<!DOCTYPE html>")):
        with page.expect_download() as waiting:
            page.get_by_role("link", name=name).click()
        file = waiting.value
        assert re.fullmatch(r"[a-z0-9-]+\.(pdf|html)", file.suggested_filename)
        assert "press-bench-sheet" in file.suggested_filename
        assert file.path().read_bytes().startswith(begins)
    href = page.get_by_role("link", name="Open to print").get_attribute("href")
    alone = watched.open(f"{shared_bench.address}/gauges") and watched.page
    alone.goto(shared_bench.address + href)
    assert alone.locator("h1").inner_text().startswith("Not yet.")


def test_every_size_of_a_report_is_in_sight_on_a_phone(shared_bench, look):
    number = shared_bench.record.add_job(LONG_NAMES).id
    for feature, middle in (("clamping_plate_counterbore_depth", 0.125), ("hardened_rest_button_head_height", 0.5)):
        for piece in range(1, 11):
            text = f"{middle + 0.00008 * (piece * 7 % 11 - 5):.5f}"
            shared_bench.record.add_reading(number, feature, str(piece), text, client_id=f"{feature} {piece}")
    watched = look(shared_bench.address, width=390, height=844)
    page = watched.open(f"{shared_bench.address}/sheets?job={number}&sheet=report")
    page.wait_for_function(SHOWN)
    found = page.evaluate(
        """() => {
          const paper = document.querySelector("[data-sheet]").shadowRoot;
          return [...paper.querySelectorAll("table.p-across")].map((table) => ({
            beyond: table.parentElement.scrollWidth - table.parentElement.clientWidth,
            pieces: [...table.querySelectorAll("td.p-strong")].filter((cell) => cell.offsetWidth)
              .map((cell) => cell.innerText),
            right: Math.max(...[...table.querySelectorAll("td")].map((cell) => cell.getBoundingClientRect().right)),
          }));
        }"""
    )
    assert len(found) == 2
    for table in found:
        assert table["beyond"] <= 0
        assert table["right"] <= 390
        assert table["pieces"] == [str(piece) for piece in range(1, 11)]


def test_the_chooser_turns_the_sheet(shared_bench, look):
    page = opened(look, shared_bench, "/sheets", "rest_buttons", {})
    page.get_by_role("navigation", name="sheet").get_by_role("link", name="set-up note").click()
    page.wait_for_function("() => document.querySelector('[data-sheet]').dataset.sheet.includes('set-up')")
    page.wait_for_function(SHOWN)
    assert "sheet=set-up" in page.url
    assert page.locator(".sheet-room").get_by_text("Enter on the diameter").is_visible()


@pytest.mark.parametrize("paper", ["A4", "Letter"])
@pytest.mark.parametrize("name", ["bench", "set-up"])
def test_a_sheet_printed_from_the_browser_fits_one_page(shared_bench, look, tmp_path, name, paper):
    page = look(shared_bench.address).page
    page.goto(f"{shared_bench.address}/sheets/{name}.html?job={shared_bench.jobs['rest_buttons']}")
    page.wait_for_function("() => document.fonts.status === 'loaded'")
    printed = page.pdf(format=paper, prefer_css_page_size=True, print_background=True)
    assert len(re.findall(rb"/Type\s*/Page\b", printed)) == 1


def test_the_page_of_sheets_prints_the_sheet_alone(shared_bench, look):
    page = opened(look, shared_bench, "/sheets", "rest_buttons", {})
    page.emulate_media(media="print")
    assert page.locator(".sheet-room").get_by_text("Do not press yet.").is_visible()
    for gone in ("header.head", "nav.scale", ".sheet-bar", "header.answer"):
        assert not page.locator(gone).first.is_visible()
