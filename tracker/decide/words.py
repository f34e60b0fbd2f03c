"""Small pieces of sentences: counts, shares and lengths as a person would say them."""

from __future__ import annotations

from collections.abc import Callable, Iterable

from tracker.plurals import plural as plural

Say = Callable[[float], str]

_NUMBERS = ["no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve"]


def plain_length(value: float) -> str:
    """Return a length with up to six digits; the way when nobody says in which unit and how many decimals."""
    return f"{value:.6g}"


def number_word(number: int) -> str:
    """Return the number, spelled up to twelve."""
    return _NUMBERS[number] if 0 <= number < len(_NUMBERS) else str(number)


def count(number: int, thing: str, things: str | None = None) -> str:
    """Return ``one piece``, ``twelve pieces``, ``13 pieces``."""
    return f"{number_word(number)} {thing if number == 1 else (things or plural(thing))}"


def share(value: float, beside: float | None = None) -> str:
    """Return a chance in percent; what rounds to all or nothing says so without claiming it.

    Parameters
    ----------
    value : float
        The chance.
    beside : float, optional
        A chance it is compared with in the same sentence: decimals are added until the two read differently.

    Examples
    --------
    >>> share(0.9731), share(0.99997), share(0.0004), share(1.0)
    ('97 %', 'over 99.9 %', 'under 0.1 %', '100 %')
    >>> share(0.9496, beside=0.95), share(0.93, beside=0.95)
    ('94.96 %', '93 %')
    """
    text = _percent(value)
    if beside is None or value == beside or text != _percent(beside):
        return text
    decimals = 1
    while decimals < 6 and round(100 * value, decimals) == round(100 * beside, decimals):
        decimals += 1
    return f"{100 * value:.{decimals}f} %"


def too_small(said: str) -> str:
    """Return a chance, as it is said, that is too small: ``only 17 %``, but ``under 0.1 %``."""
    return said if said.startswith("under ") else f"only {said}"


def set_aside_words(unread: str) -> str:
    """Return what to do with pieces that have no size, a space in front; nothing where all have one."""
    return f" Set aside what has no size: {unread}." if unread else ""


def _percent(value: float) -> str:
    if 0 < value < 0.001:
        return "under 0.1 %"
    if 0.999 < value < 1:
        return "over 99.9 %"
    if 0.99 < value < 1 or 0 < value < 0.01:
        return f"{100 * value:.1f} %"
    return f"{100 * value:.0f} %"


def listed(items: Iterable[object]) -> str:
    """Return ``3, 7 and 11``."""
    texts = [str(item) for item in items]
    if len(texts) < 2:
        return "".join(texts)
    return f"{', '.join(texts[:-1])} and {texts[-1]}"


def first_up(text: str) -> str:
    """Return the sentence with a capital letter in front."""
    return text[:1].upper() + text[1:]
