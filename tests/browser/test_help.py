"""Help in a real browser: it opens without a fault, its pictures are drawn, its links lead on, it is accessible."""

import pytest

from dashboard.help.contents import help_pages, help_pictures

AXE = "() => axe.run(document, { runOnly: ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa'] })"


@pytest.mark.parametrize("path", ["/help", "/help/guide", "/help/job", "/help/commands", "/help/methods/verdict"])
def test_a_page_of_the_help_opens_fits_and_is_accessible(shared_bench, look, axe, path):
    watched = look(shared_bench.address)
    page = watched.open(shared_bench.at(path))
    title = help_pages()[path.removeprefix("/help").strip("/") or "index"].title
    assert page.locator("h1").inner_text() == title
    page.evaluate(axe)
    for theme in ("light", "dark"):
        page.emulate_media(color_scheme=theme)
        for width in (390, 820, 1440):
            page.set_viewport_size({"width": width, "height": 900})
            assert page.evaluate("document.documentElement.scrollWidth") <= width
        found = page.evaluate(AXE)["violations"]
        assert [(item["id"], [node["target"] for node in item["nodes"]][:3]) for item in found] == []


def test_help_is_reached_from_the_frame_and_its_pictures_are_there(shared_bench, look):
    watched = look(shared_bench.address)
    page = watched.open(shared_bench.at("/fit", "rest_buttons"))
    page.locator("nav.scale").get_by_role("link", name="Help", exact=True).click()
    page.wait_for_selector("h1:text-is('Where to begin')")
    page.locator("article").get_by_role("link", name="From readings to press").click()
    page.wait_for_selector("h1:text-is('From readings to press')")
    page.wait_for_function(
        "(count) => document.images.length === count && [...document.images].every((one) => one.complete)",
        arg=len(help_pictures()),
    )
    assert page.evaluate("() => [...document.images].every((one) => one.naturalWidth >= 1400)")


def test_a_heading_of_the_same_page_is_reached(shared_bench, look):
    watched = look(shared_bench.address)
    page = watched.open(shared_bench.at("/help/job"))
    page.locator("article").get_by_role("link", name="below").first.click()
    page.wait_for_function(
        "() => { const at = document.getElementById('at-machine').getBoundingClientRect().top;"
        " return at >= 0 && at < innerHeight; }"
    )


def test_a_page_that_is_not_there_says_so(shared_bench, look):
    watched = look(shared_bench.address)
    page = watched.open(shared_bench.at("/help/nothing"))
    assert page.locator("h1").inner_text() == "There is no such page in the help."
