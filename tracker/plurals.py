"""The word for one and for several of a thing, as counts and the names of parts and features need it."""

from __future__ import annotations

_PLACED = (
    " of ",
    " above ",
    " below ",
    " under ",
    " over ",
    " in ",
    " on ",
    " at ",
    " for ",
    " to ",
    " from ",
    " with ",
)
"""What follows the noun of a longer name: ``head height above the face`` is head heights above the face."""

_ALREADY = frozenset({"chassis", "series", "teeth", "feet", "dice", "vertices"})
_ODD = {"tooth": "teeth", "foot": "feet", "radius": "radii", "axis": "axes", "lens": "lenses", "half": "halves"}
_HISSING = ("ss", "us", "is", "as", "os", "x", "z", "ch", "sh")


def plural(thing: str) -> str:
    """Return the word for several of a thing: ``bores``, ``bushes``, ``bodies``; what is plural already stays.

    Examples
    --------
    >>> plural("bore"), plural("bush"), plural("body"), plural("key")
    ('bores', 'bushes', 'bodies', 'keys')
    >>> plural("boss"), plural("shims"), plural("head height above the reference face of the flange")
    ('bosses', 'shims', 'head heights above the reference face of the flange')
    """
    places = [place for words in _PLACED if (place := thing.find(words)) > 0]
    end = min(places, default=len(thing))
    return _of_noun(thing[:end]) + thing[end:]


def _of_noun(noun: str) -> str:
    front, space, last = noun.rpartition(" ")
    word = last.lower()
    if word in _ALREADY or (word.endswith("s") and word not in _ODD and not word.endswith(_HISSING)):
        return noun
    if word in _ODD:
        found = _ODD[word]
        return f"{front}{space}{found.capitalize() if last[:1].isupper() else found}"
    if word.endswith(_HISSING):
        return f"{noun}es"
    if word.endswith("y") and word[-2:-1] not in tuple("aeiou"):
        return f"{noun[:-1]}ies"
    return f"{noun}s"


def noun(number: float, one: str, several: str | None = None) -> str:
    """Return the word for so many of a thing.

    Examples
    --------
    >>> noun(1, "reading"), noun(0, "reading"), noun(3, "category", "categories")
    ('reading', 'readings', 'categories')
    """
    return one if number == 1 else several or f"{one}s"


def pieces(number: int, more: str = "") -> str:
    """Return ``1 piece``, ``3 pieces``, with ``more `` between where asked."""
    return f"{number} {more}{noun(number, 'piece')}"
