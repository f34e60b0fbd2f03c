"""Header words: which column holds what, tidy or wide, and how that is said back."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

from tracker.units import UNIT_WORDS

FIELD_WORDS = {
    "batch": "batch|lot|batch no|batch number|lot no|lot number|run",
    "feature": "feature|dimension|characteristic|feature name|what was measured|measured feature",
    "piece": "piece|part|piece no|piece number|part no|part number|piece id|part id|no|number|nr|#|id|serial|"
    "serial no|serial number|item|item no|workpiece|sample|sample no|component|pc|pcs|pc no|pieces|parts",
    "position": "position|pos|place|location|where|measured at|measuring position|station",
    "repeat": "repeat|rep|repeat no|repeat number|trial|replicate|reading no|reading number|attempt|measurement no|"
    "measurement number|repetition",
    "value": "value|reading|measurement|measured|measured value|measured size|size|actual|actual size|actual value|"
    "result|val|values|readings|diameter|dia|measured diameter",
    "deviation": "deviation|dev|difference|diff|delta|from master|off master|comparator|comparator reading|"
    "deviation from master|indicator|indicator reading",
    "goes": "goes|go|largest that goes|pin that goes|go pin",
    "not": "not|no go|nogo|does not go|not go|smallest that does not|smallest that does not go|no go pin",
    "kind": "kind|how|reading kind|kind of reading|mode",
    "unit": "unit|units|unit of measure|uom",
    "gauge": "gauge|gage|instrument|measured with|gauge name|measuring instrument",
    "operator": "operator|measured by|by|who|inspector|bench|name",
    "time": "time|date|timestamp|datetime|date time|date and time|measured on|when|taken at",
    "temperature": "temperature|temp|part temperature|temperature c|temp c|t part",
    "master": "master|master size|block|zeroed on|set on|setting master",
    "note": "note|notes|remark|remarks|comment|comments",
    "confirmed": "confirmed|keep",
    "pass": "refused because|refused row|nominal|target|aim|lower|upper|lower limit|upper limit|tolerance|tol|mean|"
    "average|avg|sd|stdev|std|standard deviation|range|status|pass fail|verdict|drawing|drawing no|revision|material|"
    "machine|job|order|customer|description|reason",
}
_FIELD_OF = {word: name for name, words in FIELD_WORDS.items() for word in words.split("|")}
_REPEAT = re.compile(r"(?:r|rep|repeat|reading|rdg|m|x|trial|measurement|meas|value|val|run|no|#)? ?(\d{1,4})")
_POSITION = re.compile(r"(?:position|pos|place|location|p|station) ?(\d{1,4})")
_TRAILING = re.compile(r"(.*?[^\d\s.,]) ?(\d{1,4})")
_UNIT_BEHIND = re.compile(r"(?P<rest>.*?)\s*(?:[(\[]\s*(?P<in>[^)\]]*?)\s*[)\]]|[\s_,/]+(?P<after>\S+))\s*")


@dataclass(frozen=True, slots=True)
class ValueColumn:
    """A column of values: what it says of each of them."""

    index: int
    header: str
    feature: str | None = None
    position: str = ""
    repeat: int | None = None
    unit: str | None = None
    kind: str | None = None


@dataclass(frozen=True, slots=True)
class Layout:
    """Which column holds what.

    Attributes
    ----------
    header : list of str
    fields : dict of str to int
        Column index of batch, feature, piece, position, repeat, kind, unit, gauge, operator, time, temperature,
        master, note, goes, not.
    values : list of ValueColumn
    feature : str or None
        The feature of the whole table, from the file's name or because there is only one.
    wide : bool
    said : list of str
        What was understood, as sentences.
    temperature_unit : str
    """

    header: list[str]
    fields: dict[str, int]
    values: list[ValueColumn]
    feature: str | None
    wide: bool
    said: list[str] = field(default_factory=list)
    temperature_unit: str = "C"


class NoHeader(Exception):
    """A row is not a line of column names; the text says what is missing."""


def plain_words(text: str) -> str:
    """Return a header or name in small letters, with single spaces for underscores, hyphens and dots."""
    return " ".join(re.sub(r"[_\-.\s]+", " ", text.replace("\ufeff", "").casefold()).split())


def split_unit(header: str) -> tuple[str, str | None]:
    """Return a header without the unit behind it, and that unit: ``shank (mm)``, ``value in``, ``bore_um``."""
    match = _UNIT_BEHIND.fullmatch(header.strip())
    if match is None or not match["rest"].strip(" _"):
        return header.strip(), None
    inside = match["in"]
    word = (inside if inside is not None else match["after"]).strip().casefold()
    if word in UNIT_WORDS:
        return match["rest"].strip(" _,"), UNIT_WORDS[word]
    return (match["rest"].strip(), None) if inside == "" else (header.strip(), None)


def matching_feature(text: str, features: Iterable[str]) -> str | None:
    """Return the feature that a word means: equal but for case, spaces, underscores and a plural s."""
    listed = list(features)
    if text in listed:
        return text
    wanted = plain_words(text)
    for forms in (lambda words: {words}, _with_plural):
        found = [name for name in listed if forms(plain_words(name)) & forms(wanted)]
        if len(found) == 1:
            return found[0]
    return None


def _with_plural(words: str) -> set[str]:
    forms = {words, words.removesuffix("s")}
    if words.endswith("es"):
        forms.add(words.removesuffix("es"))
    if words.endswith("ies"):
        forms.add(words.removesuffix("ies") + "y")
    return forms


def feature_in_name(stem: str, features: Iterable[str]) -> str | None:
    """Return the one feature that a file's or sheet's name names, as a whole word; None when none or several."""
    listed = list(features)
    exact = matching_feature(stem, listed)
    if exact is not None:
        return exact
    words = plain_words(stem).split()
    found: list[tuple[int, str]] = []
    for name in listed:
        parts = plain_words(name).split()
        for start in range(len(words) - len(parts) + 1):
            window = words[start : start + len(parts)]
            if window[:-1] == parts[:-1] and _with_plural(window[-1]) & _with_plural(parts[-1]):
                found.append((len(parts), name))
                break
    longest = [name for size, name in found if size == max(size for size, _ in found)]
    if not longest:  # shank.csv, for the only feature with that word in its name
        longest = [name for name in listed if words and all(_is_word_of(word, name) for word in words)]
    return longest[0] if len(longest) == 1 else None


def _is_word_of(word: str, name: str) -> bool:
    return any(_with_plural(word) & _with_plural(part) for part in plain_words(name).split())


def is_remark(cells: Sequence[str]) -> bool:
    """Tell whether a row is a remark: a # and a space, or a # and nothing in the other cells; ``#1`` is a piece."""
    first = cells[0].lstrip() if cells else ""
    return first.startswith(("# ", "##")) or (first.startswith("#") and not any(cell.strip() for cell in cells[1:]))


def known_field(header: str) -> str | None:
    """Return the field that a header word means, or None."""
    words = plain_words(header)
    return _FIELD_OF.get(words) or _FIELD_OF.get(words.rstrip(" :"))


def place_words(text: str) -> tuple[str, int | None]:
    """Return the position and repeat that a column of values names: ``top 1``, ``r2``, ``lead end``, ``position 3``."""
    words = plain_words(text)
    if not words or known_field(words) == "value":
        return "", None
    numbered = _POSITION.fullmatch(words)
    if numbered is not None:
        return numbered[1], None
    counted = _REPEAT.fullmatch(words)
    if counted is not None and int(counted[1]) > 0:
        return "", int(counted[1])
    trailing = _TRAILING.fullmatch(" ".join(text.replace("_", " ").split()))
    if trailing is None or int(trailing[2]) == 0:
        return " ".join(text.replace("_", " ").split()), None
    place = re.sub(r"[\s\-#.]*(?:r|rep|repeat|reading|no)?[\s\-#.]*$", "", trailing[1], flags=re.IGNORECASE)
    if place and place != trailing[1] and trailing[1][len(place)] not in " -#.":
        place = trailing[1]  # the r belonged to the word: "collar 1"
    return place.strip(), int(trailing[2])
