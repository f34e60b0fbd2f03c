"""Kinds of cut: how a change of size is usually entered at the machine for each."""

from __future__ import annotations

from dataclasses import dataclass

from tracker.errors import TrackerError
from tracker.result import Result


@dataclass(frozen=True, slots=True, kw_only=True)
class Convention(Result):
    """How a change of size is entered for one kind of cut.

    Attributes
    ----------
    operation : str
        The kind of cut.
    offset_on : str
        ``diameter`` or ``radius``: what the number entered counts on.
    plus_makes : str
        Whether a plus offset makes the feature ``larger`` or ``smaller``.
    makes : str
        The kind of feature it makes: ``internal``, ``external``, or ``length`` where it may be any.
    tool : str
        What wears there, in plain words.
    words : str
        The same in a sentence, with what to look out for.
    """

    operation: str
    offset_on: str
    plus_makes: str
    makes: str
    tool: str
    words: str

    def __str__(self) -> str:
        return self.words


def _convention(
    operation: str, makes: str, tool: str, offset_on: str, plus_makes: str, words: str
) -> tuple[str, Convention]:
    return operation, Convention(
        operation=operation, offset_on=offset_on, plus_makes=plus_makes, makes=makes, tool=tool, words=words
    )


# Common practice, no source: controls differ, so the first step entered is always a trial.
CONVENTIONS: dict[str, Convention] = dict(
    [
        _convention(
            "outside turning",
            "external",
            "tool",
            "diameter",
            "larger",
            "Outside turning: plus on the wear offset across the axis moves the tool away from the centre line, so the "
            "part gets larger; most controls count it on the diameter.",
        ),
        _convention(
            "boring",
            "internal",
            "tool",
            "diameter",
            "larger",
            "Boring on a lathe: plus moves the tool away from the centre line, so the bore gets larger; most controls "
            "count it on the diameter.",
        ),
        _convention(
            "milling a pocket",
            "internal",
            "cutter",
            "radius",
            "smaller",
            "Milling a pocket with tool compensation, left or right of the path alike: a larger stored cutter keeps "
            "further from the wall, so the pocket gets smaller; where the table holds the cutter's radius, half the "
            "change across is entered.",
        ),
        _convention(
            "milling outside",
            "external",
            "cutter",
            "radius",
            "larger",
            "Milling an outside contour with tool compensation, left or right of the path alike: a larger stored "
            "cutter keeps further from the part, so the part gets larger; where the table holds the cutter's radius, "
            "half the change across is entered.",
        ),
        _convention(
            "outside grinding",
            "external",
            "wheel",
            "diameter",
            "larger",
            "Outside grinding: plus moves the wheel away from the work, so the part gets larger; it counts on the "
            "diameter where the infeed dial does.",
        ),
        _convention(
            "bore grinding",
            "internal",
            "wheel",
            "diameter",
            "larger",
            "Bore grinding: plus moves the wheel out from the centre line, so the bore gets larger; it counts on the "
            "diameter where the infeed dial does.",
        ),
        _convention(
            "surface grinding",
            "length",
            "wheel",
            "diameter",
            "larger",
            "Surface grinding: plus raises the wheel, so the part stays thicker; the step entered is the whole change.",
        ),
    ]
)


def convention(operation: str) -> Convention:
    """Return how a change of size is usually entered for one kind of cut.

    Parameters
    ----------
    operation : str
        ``outside turning``, ``boring``, ``milling a pocket``, ``milling outside``, ``outside grinding``,
        ``bore grinding`` or ``surface grinding``.

    Raises
    ------
    TrackerError
        If the kind of cut is not listed.

    Notes
    -----
    Common practice, no source. Controls differ: enter the smallest step once and measure what it did.
    """
    found = CONVENTIONS.get(operation.strip().lower())
    if found is None:
        raise TrackerError(f"no kind of cut {operation!r}; it can be: {', '.join(CONVENTIONS)}")
    return found
