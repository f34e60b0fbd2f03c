"""The pages on paper, in high contrast, enlarged, and without motion."""

from pathlib import Path

import pytest

PAGES = ["/", "/fit", "/batch", "/next", "/wear", "/plan", "/gauges", "/sheets", "/log", "/job", "/new", "/help"]
ENLARGED = {"200 % of a desk": 720, "400 % of a desk": 320}


@pytest.mark.parametrize("path", PAGES)
def test_enlarged_nothing_runs_out_of_the_page(shared_bench, look, path):
    watched = look(shared_bench.address, width=720, height=450)
    page = watched.open(shared_bench.at(path, None if path in ("/", "/new", "/help") else "rest_buttons"))
    for name, width in ENLARGED.items():
        page.set_viewport_size({"width": width, "height": 450})
        watched.settle()
        assert page.evaluate("document.documentElement.scrollWidth") <= width, name


def test_on_paper_the_ink_is_dark_and_buttons_are_gone(shared_bench, look):
    watched = look(shared_bench.address, width=720, height=1000, theme="dark")
    page = watched.open(shared_bench.at("/fit", "rest_buttons"))
    page.emulate_media(media="print", color_scheme="dark")
    ink = page.evaluate("getComputedStyle(document.querySelector('h1')).color")
    assert max(int(part) for part in ink[4:-1].split(",")) < 60
    marks = page.locator(".rung .bead, .rung .rail")
    assert set(marks.evaluate_all("(all) => all.map((item) => getComputedStyle(item).printColorAdjust)")) == {"exact"}
    for path in ("/wear", "/log", "/fit"):
        watched.open(shared_bench.at(path, "rest_buttons"))
        page.wait_for_selector("h1:not(:empty)")
        page.emulate_media(media="print")
        assert page.locator("main button:visible, nav:visible, .tools:visible").count() == 0, path


def test_in_high_contrast_a_whisker_leaves_its_bead_in_sight(shared_bench, look):
    watched = look(shared_bench.address)
    page = watched.page
    page.emulate_media(forced_colors="active")
    watched.open(shared_bench.at("/fit", "rest_buttons"))
    ground = "(all) => all.map((item) => getComputedStyle(item).backgroundColor)"
    assert set(page.locator(".rung .reach").evaluate_all(ground)) == {"rgba(0, 0, 0, 0)"}
    bead = "getComputedStyle(document.querySelector('.rung .bead.full')).backgroundColor"
    assert page.evaluate(bead) == page.evaluate("getComputedStyle(document.body).color")


def test_without_motion_nothing_moves(shared_bench, look):
    watched = look(shared_bench.address)
    watched.page.emulate_media(reduced_motion="reduce")
    page = watched.open(shared_bench.at("/fit", "rest_buttons"))
    assert page.evaluate("getComputedStyle(document.documentElement).scrollBehavior") == "auto"
    assert page.evaluate("document.getAnimations().length") == 0


def test_every_picture_can_be_taken_along_as_svg_and_png(shared_bench, look):
    watched = look(shared_bench.address)
    seen = 0
    for path in ("/fit", "/batch", "/next", "/wear", "/plan", "/gauges"):
        page = watched.open(shared_bench.at(path, "rest_buttons"))
        for panel in page.locator("section.panel:has([data-picture])").all():
            with page.expect_download() as svg:
                panel.get_by_role("link", name="save this picture as SVG").click()
            with page.expect_download() as png:
                panel.get_by_role("link", name="save this picture as PNG").click()
            assert Path(svg.value.path()).read_bytes().startswith(b"<svg")
            assert Path(png.value.path()).read_bytes().startswith(b"\x89PNG\r\n\x1a\n")
            assert svg.value.suggested_filename.endswith(".svg")
            assert png.value.suggested_filename.endswith(".png")
            seen += 1
    assert seen >= 8
