"""Which pages the help has, in the order in which they are read, and where their files are."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from pathlib import Path

from dashboard.help.prose import Block, read_prose, targets

HERE = Path(__file__).parent
FIRST = "index"
ORDER = ("index", "guide", "job", "commands", "serving", "http", "calibration", "speed")
"""The pages that are no method."""


@dataclass(frozen=True, slots=True, kw_only=True)
class HelpPage:
    """One page: its name (``guide``, ``methods/fit``), its title, what it says at the top, and its blocks."""

    name: str
    title: str
    blocks: tuple[Block, ...]

    @property
    def href(self) -> str:
        """Where it stands in the dashboard."""
        return "/help" if self.name == FIRST else f"/help/{self.name}"


def file_of(name: str) -> Path:
    """Return the file of a page of this name."""
    return HERE / f"{name}.md"


@cache
def help_pages() -> dict[str, HelpPage]:
    """Return every page by name: the plain ones, then the methods in the order of the first page.

    Raises
    ------
    ProseError
        If a page cannot be read.
    """
    first = _read(FIRST)
    linked = [target.removesuffix(".md") for block in first for target in targets(block)]
    methods = [f"methods/{path.stem}" for path in sorted((HERE / "methods").glob("*.md"))]
    methods.sort(key=lambda name: linked.index(name) if name in linked else len(linked))
    pages = {}
    for name in (*ORDER, *methods):
        blocks = first if name == FIRST else _read(name)
        pages[name] = HelpPage(name=name, title=blocks[0].plain, blocks=tuple(blocks))
    return pages


def _read(name: str) -> list[Block]:
    return read_prose(file_of(name).read_text(encoding="utf-8"), f"{name}.md")


@cache
def help_pictures() -> dict[str, Path]:
    """Return the pictures of the help by file name."""
    return {path.name: path for path in sorted((HERE / "pictures").glob("*.png"))}
