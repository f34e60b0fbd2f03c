"""The one dictionary of colours: the pages' style sheet and every figure read it."""

from __future__ import annotations

COLOURS = {
    "ground": ("#E7EBE8", "#0E1314"),
    "plate": ("#F9FBF8", "#181F20"),
    "well": ("#FFFFFF", "#070A0B"),
    "scale": ("#D3DAD5", "#2A3435"),
    "line": ("#BCC6C0", "#374243"),
    "edge": ("#66736E", "#84928D"),
    "ink": ("#121D1C", "#F0F4F0"),
    "ink2": ("#43524F", "#AEBBB6"),
    "bore": ("#2A3EA0", "#AAB9FF"),
    "borefill": ("#A9B4DF", "#4A5797"),
    "shank": ("#8A4300", "#F5B56A"),
    "shankfill": ("#EACBA3", "#5A3A12"),
    "mark": ("#93125A", "#FF9DCB"),
    "markfill": ("#F7DFEB", "#3A1529"),
}
"""What each colour is for is in its name: name -> (light, dark).

``bore`` and ``borefill`` are internal features, ``shank`` and ``shankfill`` external ones, ``mark`` is where a person
must look. There is no colour for good. Nothing is told by colour alone.
"""

THEMES = ("light", "dark")

TEXT_PAIRS = (
    ("ink", "ground"),
    ("ink", "plate"),
    ("ink", "well"),
    ("ink", "scale"),
    ("ink", "markfill"),
    ("ink", "shankfill"),
    ("ink2", "ground"),
    ("ink2", "plate"),
    ("ink2", "well"),
    ("ink2", "scale"),
    ("ink2", "markfill"),
    ("plate", "ink"),
    ("bore", "ground"),
    ("bore", "plate"),
    ("shank", "ground"),
    ("shank", "plate"),
    ("mark", "ground"),
    ("mark", "plate"),
    ("mark", "well"),
    ("mark", "markfill"),
)
"""Text on its ground: each pair contrasts at least 4.5 to 1."""

MARK_PAIRS = (
    ("bore", "scale"),
    ("bore", "borefill"),
    ("shank", "scale"),
    ("shank", "shankfill"),
    ("edge", "ground"),
    ("edge", "plate"),
    ("edge", "well"),
    ("edge", "scale"),
)
"""Marks on their ground: each pair contrasts at least 3 to 1."""

TEXT_FONT = "Atkinson Hyperlegible Next"
FIGURE_FONT = "Atkinson Hyperlegible Mono"


def colours(theme: str) -> dict[str, str]:
    """Return name -> hex colour of a theme, ``light`` or ``dark``."""
    return {name: pair[THEMES.index(theme)] for name, pair in COLOURS.items()}


def style_sheet() -> str:
    """Return the colours as CSS variables: by the reader's system, unless the page's root names a theme."""
    light, dark = (_variables(theme) for theme in THEMES)
    return (
        f":root {{ color-scheme: light; {light} }}\n"
        f'@media (prefers-color-scheme: dark) {{ :root:not([data-theme="light"]) {{ color-scheme: dark; {dark} }} }}\n'
        f':root[data-theme="dark"] {{ color-scheme: dark; {dark} }}\n'
        f"@media print {{ :root:root:root {{ color-scheme: light; {light} }} }}\n"
    )


def _variables(theme: str) -> str:
    return " ".join(f"--{name}: {colour};" for name, colour in colours(theme).items())


def contrast(first: str, second: str) -> float:
    """Return the contrast of two hex colours, 1 to 21.

    References
    ----------
    W3C, Web Content Accessibility Guidelines 2.2, definitions of relative luminance and contrast ratio; black on white
    is 21 (tests/dashboard/test_theme.py).
    """
    high, low = sorted((_luminance(first), _luminance(second)), reverse=True)
    return (high + 0.05) / (low + 0.05)


def _luminance(colour: str) -> float:
    parts = [int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5)]
    red, green, blue = (part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue
