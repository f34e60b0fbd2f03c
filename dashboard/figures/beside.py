"""Where words stand beside marks, so that each is read with its own mark and no line runs through words."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations

AWAY = (14.0, 26.0, 45.0, 75.0, 110.0, 150.0)
DOWN = (4.0, 14.0, 26.0, 38.0, 52.0, 68.0, 86.0, 108.0, 134.0, 164.0, 198.0)
NEAR = 19.0
RADIUS = 9.0
MOST, PASSES = 70, 6

Box = tuple[float, float, float, float]
Point = tuple[float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class Mark:
    """A mark at x, y and how much room its words need."""

    x: float
    y: float
    wide: float
    tall: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Spot:
    """Where the words of a mark stand.

    Attributes
    ----------
    box : tuple of float
        Left, top, right and bottom edge.
    at : str
        Which part of a line of words stands at ``x``: start, middle or end.
    x : float
    lead : tuple of two points, or None
        The line from the mark to its words; None where they stand so close that none is needed.
    """

    box: Box
    at: str
    x: float
    lead: tuple[Point, Point] | None


def beside(marks: Sequence[Mark], room: Box) -> list[Spot]:
    """Return where the words of each mark stand, inside a room.

    Parameters
    ----------
    marks : sequence of Mark
    room : tuple of float
        Left, top, right and bottom edge of where words may stand.

    Returns
    -------
    list of Spot
        In the order of the marks.

    Notes
    -----
    The words of one mark after the other take the place that costs least beside those already there, then each moves
    to a better one until none does; that is begun in several orders, and the cheapest end is taken. Words are kept off
    other words, marks and lines, and nearer to their own mark than to any other wherever there is room for that.
    """
    choices = [_choices(marks, index, room) for index in range(len(marks))]
    clashes: dict[tuple[int, int, int, int], float] = {}

    def clash(one: int, place: int, other: int, there: int) -> float:
        key = (one, place, other, there) if one < other else (other, there, one, place)
        if key not in clashes:
            clashes[key] = _clash(choices[key[0]][key[1]][1], choices[key[2]][key[3]][1])
        return clashes[key]

    def best(one: int, chosen: dict[int, int]) -> int:
        others = [(other, there) for other, there in chosen.items() if other != one]
        return min(
            range(len(choices[one])),
            key=lambda place: choices[one][place][0] + sum(clash(one, place, *other) for other in others),
        )

    def total(chosen: dict[int, int]) -> float:
        own = sum(choices[one][place][0] for one, place in chosen.items())
        return own + sum(clash(*one, *other) for one, other in combinations(chosen.items(), 2))

    ends = []
    for order in _orders(len(marks)):
        chosen: dict[int, int] = {}
        for one in order:
            chosen[one] = best(one, chosen)
        for _ in range(PASSES):
            before = dict(chosen)
            for one in order:
                chosen[one] = best(one, chosen)
            if chosen == before:
                break
        ends.append(chosen)
    found = min(ends, key=total)
    return [choices[one][found[one]][1] for one in range(len(marks))]


def _orders(count: int) -> list[list[int]]:
    """Return the marks in several orders: from each one onward, to either side."""
    first = list(range(count))
    turned = [first[start:] + first[:start] for start in range(count)]
    return [first, *turned, *[order[::-1] for order in turned]]


def _choices(marks: Sequence[Mark], index: int, room: Box) -> list[tuple[float, Spot]]:
    """Return the places of one mark's words with what each costs by itself, the best first."""
    mark, others = marks[index], [item for place, item in enumerate(marks) if place != index]
    found = []
    for top in (mark.y - mark.tall / 2, mark.y - mark.tall - 4, *[mark.y + down for down in DOWN]):
        below = (0.5, 0.2, 0.8) if top > mark.y + RADIUS else ()
        lefts = [(mark.x - mark.wide * part, "middle") for part in below]
        lefts += [(mark.x + away, "start") for away in AWAY] + [(mark.x - away - mark.wide, "end") for away in AWAY]
        for left, at in lefts:
            box = (left, top, left + mark.wide, top + mark.tall)
            beyond = max(room[0] - box[0], 0) + max(room[1] - box[1], 0)
            beyond += max(box[2] - room[2], 0) + max(box[3] - room[3], 0)
            spot = _spot(mark, box, at)
            found.append((_own_cost(mark, spot, others) + 100 * beyond, spot))
    return sorted(found, key=lambda item: item[0])[:MOST]


def _spot(mark: Mark, box: Box, at: str) -> Spot:
    x = {"start": box[0], "middle": (box[0] + box[2]) / 2, "end": box[2]}[at]
    near = _nearest((mark.x, mark.y), box)
    lead = None if math.dist((mark.x, mark.y), near) <= NEAR else ((mark.x, mark.y), near)
    return Spot(box=box, at=at, x=x, lead=lead)


def _own_cost(mark: Mark, spot: Spot, others: Sequence[Mark]) -> float:
    near = _nearest((mark.x, mark.y), spot.box)
    away = math.dist((mark.x, mark.y), near)
    cost = away + 0.15 * abs((spot.box[1] + spot.box[3]) / 2 - mark.y)
    for other in others:
        there = math.dist((other.x, other.y), _nearest((other.x, other.y), spot.box))
        if there < RADIUS + 2:
            cost += 1000
        elif there < away + 8:
            cost += 60 + away + 8 - there  # it would be read as the other's
        if spot.lead and _cuts(spot.lead, _around(other)):
            cost += 500
    return cost


def _clash(one: Spot, other: Spot) -> float:
    """Return what it costs that two places are taken at once."""
    a, b = one.box, other.box
    cost = 0.0
    if a[0] < b[2] + 4 and b[0] < a[2] + 4 and a[1] < b[3] and b[1] < a[3]:
        cost += 1000
    for lead, box in ((one.lead, b), (other.lead, a)):
        if lead and _cuts(lead, (box[0] - 3, box[1], box[2] + 3, box[3])):
            cost += 500
    if one.lead and other.lead and _cross(one.lead, other.lead):
        cost += 300
    return cost


def _around(mark: Mark) -> Box:
    return (mark.x - RADIUS, mark.y - RADIUS, mark.x + RADIUS, mark.y + RADIUS)


def _nearest(point: Point, box: Box) -> Point:
    """Return the point of a box that lies nearest to a point."""
    return (min(max(point[0], box[0]), box[2]), min(max(point[1], box[1]), box[3]))


def _cuts(line: tuple[Point, Point], box: Box) -> bool:
    """Return whether a straight line runs through a box: what is left of it after each pair of edges is cut off."""
    (x, y), (to_x, to_y) = line
    first, last = 0.0, 1.0
    for start, way, low, high in ((x, to_x - x, box[0], box[2]), (y, to_y - y, box[1], box[3])):
        if abs(way) < 1e-9:
            if not low <= start <= high:
                return False
            continue
        ends = sorted(((low - start) / way, (high - start) / way))
        first, last = max(first, ends[0]), min(last, ends[1])
    return first <= last


def _cross(one: tuple[Point, Point], other: tuple[Point, Point]) -> bool:
    """Return whether two straight lines cross."""

    def side(line: tuple[Point, Point], point: Point) -> float:
        (x, y), (to_x, to_y) = line
        return (to_x - x) * (point[1] - y) - (to_y - y) * (point[0] - x)

    return side(one, other[0]) * side(one, other[1]) < 0 and side(other, one[0]) * side(other, one[1]) < 0
