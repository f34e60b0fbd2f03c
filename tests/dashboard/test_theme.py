"""Colours that can be told apart, and letters that exist in the fonts."""

import re
from pathlib import Path

import pytest

from dashboard.theme import COLOURS, MARK_PAIRS, TEXT_PAIRS, THEMES, colours, contrast, style_sheet

ASSETS = Path(__file__).parents[2] / "dashboard" / "assets"


def test_contrast_of_black_on_white_is_21():
    # W3C, Web Content Accessibility Guidelines 2.2: contrast ratios range from 1 to 21
    assert contrast("#000000", "#FFFFFF") == pytest.approx(21)
    assert contrast("#777777", "#777777") == 1


def test_contrast_of_a_known_grey():
    # 0x77 / 255 = 0.46667 -> ((0.46667 + 0.055) / 1.055) ** 2.4 = 0.18447; 1.05 / 0.23447 = 4.478, by hand
    assert contrast("#777777", "#FFFFFF") == pytest.approx(4.478, abs=0.001)


@pytest.mark.parametrize("theme", THEMES)
@pytest.mark.parametrize("pair", TEXT_PAIRS, ids=" on ".join)
def test_text_can_be_read(theme, pair):
    ink = colours(theme)
    assert contrast(ink[pair[0]], ink[pair[1]]) >= 4.5


@pytest.mark.parametrize("theme", THEMES)
@pytest.mark.parametrize("pair", MARK_PAIRS, ids=" on ".join)
def test_marks_can_be_seen(theme, pair):
    ink = colours(theme)
    assert contrast(ink[pair[0]], ink[pair[1]]) >= 3


def test_every_colour_a_style_sheet_uses_is_in_the_dictionary():
    used = set()
    for sheet in ASSETS.glob("*.css"):
        used |= set(re.findall(r"var\(--([a-z0-9]+)\)", sheet.read_text(encoding="utf-8")))
    assert used - {"text", "mono"} <= set(COLOURS)
    assert all(f"--{name}:" in style_sheet() for name in COLOURS)


def test_no_style_sheet_fetches_from_elsewhere():
    for path in [*ASSETS.rglob("*.css"), *ASSETS.glob("*.js")]:
        found = re.findall(r"(?:https?:)?//[a-z0-9.-]+\.[a-z]{2,}", path.read_text(encoding="utf-8"))
        assert [item for item in found if "www.w3.org" not in item] == [], path.name


def test_each_font_comes_with_its_licence():
    fonts = sorted((ASSETS / "fonts").glob("*.woff2"))
    licences = sorted((ASSETS / "fonts").glob("LICENSE-*"))
    assert len(fonts) == len(licences) == 2
    assert all("SIL OPEN FONT LICENSE" in path.read_text(encoding="utf-8") for path in licences)


WRITTEN = ("dashboard/pages", "dashboard/parts", "dashboard/figures", "dashboard/assets")


@pytest.mark.parametrize("font", ["next", "mono"])
def test_every_letter_that_is_written_is_in_the_font(font):
    ttx = pytest.importorskip("fontTools.ttLib", reason="fontTools is not installed")
    pytest.importorskip("brotli", reason="brotli is not installed")
    path = ASSETS / "fonts" / f"atkinson-hyperlegible-{font}-latin-wght-normal.woff2"
    known = set(map(chr, ttx.TTFont(path).getBestCmap()))
    root = ASSETS.parents[1]
    letters = set()
    for folder in WRITTEN:
        for source in [*(root / folder).glob("*.py"), *(root / folder).glob("*.js")]:
            letters |= set(source.read_text(encoding="utf-8"))
    read_only = set("µμ″")  # ways to type a unit that are read, never written
    assert {letter for letter in letters - known - read_only if letter.isprintable()} == set()
