"""The address of a page: all of its state, so that a link can be sent."""

from __future__ import annotations

from dataclasses import dataclass, replace
from urllib.parse import parse_qsl, urlencode

UNITS = ("in", "mm")
WAYS = ("part", "machine", "tool", "operator", "month")
LONGEST = 200
MOST_IDEAS = 24
IDEA = "if-"


@dataclass(frozen=True, slots=True, kw_only=True)
class Address:
    """Which page of which job, and how it is shown.

    Attributes
    ----------
    page : str
        The first part of the path; "" is the list of jobs.
    job : int or None
    feature, fit : str
        "" for the first that has something to show.
    unit : str
        ``in``, ``mm``, or "" for the job's own.
    sheet : str
        Which sheet is shown.
    revision : int or None
        Which revision of the job; None for the latest.
    by : str
        What a history is told apart by: part, machine, tool, operator, month; "" for the page's own choice.
    ideas : tuple of (str, str)
        What a what-if puts in place of the job's own: name and what was typed, as in ``if-press=2``.
    """

    page: str = ""
    job: int | None = None
    feature: str = ""
    fit: str = ""
    unit: str = ""
    sheet: str = ""
    revision: int | None = None
    by: str = ""
    ideas: tuple[tuple[str, str], ...] = ()

    def to(self, **changes: object) -> Address:
        """Return the same address with some of it changed."""
        return replace(self, **changes)  # type: ignore[arg-type]

    @property
    def query(self) -> str:
        """The part behind the question mark, with it; "" where there is none."""
        named = {"job": self.job, "feature": self.feature, "fit": self.fit, "unit": self.unit, "sheet": self.sheet}
        named |= {"revision": self.revision, "by": self.by}
        named |= {IDEA + name: value for name, value in self.ideas}
        found = urlencode({name: value for name, value in named.items() if value})
        return f"?{found}" if found else ""

    @property
    def href(self) -> str:
        """The link."""
        return f"/{self.page}{self.query}"


def read_address(path: str | None, search: str | None) -> Address:
    """Return the address that a path and its query mean; what makes no sense is passed over.

    Examples
    --------
    >>> read_address("/fit", "?job=2&unit=mm").href
    '/fit?job=2&unit=mm'
    """
    values = {name: value[:LONGEST] for name, value in parse_qsl((search or "").removeprefix("?"))}
    ideas = [(name.removeprefix(IDEA), value) for name, value in values.items() if name.startswith(IDEA) and value]
    return Address(
        page=(path or "/").strip("/").partition("/")[0],
        job=_number(values.get("job", "")),
        feature=values.get("feature", ""),
        fit=values.get("fit", ""),
        unit=values["unit"] if values.get("unit") in UNITS else "",
        sheet=values.get("sheet", ""),
        revision=_number(values.get("revision", "")),
        by=values["by"] if values.get("by") in WAYS else "",
        ideas=tuple(ideas[:MOST_IDEAS]),
    )


def _number(text: str) -> int | None:
    return int(text) if text.isascii() and text.isdecimal() and len(text) < 12 else None
