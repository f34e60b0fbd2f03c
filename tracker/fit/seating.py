"""Will the shoulder sit flat: a fillet against the edge of a hole, and the same in plan for the corner of a pocket."""

from __future__ import annotations

import math
from dataclasses import dataclass

from tracker.errors import OutsideModel
from tracker.given import number
from tracker.result import Result

KINDS = ("chamfer", "radius")
_ROUNDING = 1e-12  # of the fillet: less than any gauge, more than the arithmetic loses


@dataclass(frozen=True, slots=True, kw_only=True)
class Seat(Result):
    """Whether a shoulder sits flat (or a corner goes home), and what it takes.

    Attributes
    ----------
    stand_off : float
        How far the shoulder is held off the face; in plan, how much more gap a side the corner asks for.
    relief_needed : float
        The least relief (chamfer width on the face, or edge radius) that clears the fillet at this gap.
    relief_allowed : float
        The least relief that leaves no more than ``allowed``; the same as ``relief_needed`` where that is 0.
    seats : bool
        Whether the stand-off is within ``allowed``.
    fillet, relief, gap, allowed : float
        As given; the gap is on one side.
    relief_kind : str
    angle : float
        Of the chamfer from the face, in degrees.
    touches : str
        Where it touches first.
    feeler : tuple of float or None
        The thickest leaf that goes under and the thinnest that does not (None where unknown), as given.
    explained : bool or None
        Whether this geometry accounts for what the feeler found; None when no feeler was given.
    in_plan : bool
        Whether this is the corner of a pocket, seen from above.
    unit, method : str
    """

    stand_off: float
    relief_needed: float
    relief_allowed: float
    seats: bool
    fillet: float
    relief: float
    gap: float
    allowed: float
    relief_kind: str
    angle: float
    touches: str
    feeler: tuple[float | None, float | None] | None
    explained: bool | None
    in_plan: bool
    unit: str
    method: str

    def __str__(self) -> str:
        def say(value: float) -> str:
            places = {"in": 5, "mm": 4}.get(self.unit)
            rounded = value if places is None else round(value, places)
            return f"{rounded or value:.4g} {self.unit}".strip()

        def enough(value: float) -> str:
            places = {"in": 5, "mm": 4}.get(self.unit, 9)
            # From a million on the places after the point are nothing to round up.
            return say(value if value >= 1e6 else math.ceil(value * 10**places - 1e-6) / 10**places)

        given = f"fillet {say(self.fillet)}, {_word(self.relief_kind)} {say(self.relief)}, gap a side {say(self.gap)}"
        thing = "The corner goes home" if self.in_plan else "The shoulder sits flat"
        if self.seats and self.stand_off == 0.0:
            answer = f"{thing} ({given}); {say(self.relief - self.relief_needed)} of relief to spare."
        else:
            held = (
                f"The corner asks for {say(self.stand_off)} more gap a side"
                if self.in_plan
                else f"The shoulder is held {say(self.stand_off)} off the face by {self.touches}"
            )
            word, clears = _word(self.relief_kind), enough(self.relief_needed)
            if self.allowed and not self.seats:
                answer = (
                    f"{held}, more than the {say(self.allowed)} allowed ({given}). An {word} of"
                    f" {enough(self.relief_allowed)} or more would do; {clears} would clear it."
                )
            else:
                answer = f"{held} ({given}). The {word} must be at least {clears} to clear it."
            if self.seats:
                what = "gap wanting a side" if self.in_plan else "stand-off"
                answer += f" The {what}, {say(self.stand_off)}, is within the {say(self.allowed)} allowed."
        if self.explained is None:
            return answer
        if self.explained:
            return f"{answer} The feeler gauge agrees with that."
        return (
            f"{answer} The feeler gauge does not agree: look for a burr, a chip, a face out of square, a part not"
            " pushed home, or a fillet or edge break that is not what was stated."
        )


def seat(
    fillet: float,
    relief: float,
    gap: float = 0.0,
    *,
    relief_kind: str = "chamfer",
    angle: float = 45.0,
    allowed: float = 0.0,
    feeler: float | tuple[float | None, float | None] | None = None,
    unit: str = "",
) -> Seat:
    """Return whether a shoulder with a fillet under it sits flat on the face around a hole.

    Parameters
    ----------
    fillet : float
        Radius left at the shoulder by the tool, in any one unit of length.
    relief : float
        Edge break of the hole: the chamfer's width on the face, or the edge radius. 0 is a sharp edge.
    gap : float
        On one side (half the clearance on the diameter). A press fit has none: negative counts as 0.
    relief_kind : str
        ``chamfer`` or ``radius``.
    angle : float
        Of the chamfer, from the face, in degrees: a chamfer of width w is w tan(angle) deep. 45 unless stated.
    allowed : float
        The stand-off that does no harm.
    feeler : float or pair, optional
        The thickest leaf that goes under the shoulder; or (goes, does not go), None where unknown.
    unit : str
        For the wording alone.

    Returns
    -------
    Seat

    Raises
    ------
    OutsideModel
        If a length is negative or not finite, or the kind or angle is none that is covered.

    Notes
    -----
    In a section through the axis let the hole's sharp edge be the origin, x outward along the face, y upward, the shank
    at x = -g (the gap) and the shoulder at height y = h. The fillet, radius R, is an arc about C = (R - g, h - R); what
    stands left of C and above it must lie no further than R from C, or it cuts into the fillet.

    *Chamfer*, width a on the face and depth b in the hole. The edge is convex, so its two corners are what can
    touch: (0, -b) on the wall and (a, 0) on the face. Setting their distance from C to R, with
    w = R - sqrt(2 R g - g^2)::

        h_wall = w - b                                 (while g < R)
        h_face = R - sqrt(R^2 - (R - g - a)^2)         (while a < R - g)

    and the stand-off is the larger, or 0. A sharp edge is a = b = 0; both then give w. The relief needed is the larger
    of R - g and w / tan(angle): with 45 degrees it is R - g, the fillet less the gap. For a stand-off h that is allowed
    it is the larger of R - g - sqrt(2 R h - h^2) and (w - h) / tan(angle).

    *Radius* r: an arc inside an arc touches where a sharp edge in a fillet of R - r would, so the stand-off is
    u - sqrt(2 u g - g^2) with u = R - r, or 0 when u <= g; the radius needed is R - g, and for a stand-off h that is
    allowed u may be h + g + sqrt(2 h g).

    The parts are taken as rigid, coaxial and free of burrs, and the section as plane (the fillet is small beside the
    diameter). Off-centre, take the smallest gap, which is 0 when the parts touch on one side.

    References
    ----------
    Own derivation, above; checked against a brute-force contact search in tests/tracker/fit/test_seating.py.

    Examples
    --------
    >>> held = seat(0.015, 0.0)
    >>> held.seats, held.stand_off
    (False, 0.015)
    >>> seat(0.015, 0.015).seats
    True
    """
    width, depth = _checked(fillet, relief, relief_kind, angle, allowed)
    side = _gap(gap)
    if relief_kind == "radius":
        left = fillet - relief
        stand_off = 0.0 if left <= side else left - _chord(left, side)
        touches = "the rounded edge of the hole"

        def needed(height: float) -> float:
            return fillet - (height + side + math.sqrt(2 * height * side))
    else:
        sharp = fillet - _chord(fillet, side) if side < fillet else 0.0
        at_wall = sharp - depth
        over = fillet - side - width
        at_face = fillet - math.sqrt(fillet**2 - over**2) if over > 0 else 0.0
        stand_off = max(at_wall, at_face, 0.0)

        def needed(height: float) -> float:
            over_face = fillet - side - _chord(fillet, min(height, fillet))
            return max(over_face, (sharp - height) / _slope(angle))

        touches = "the edge of the hole" if relief == 0 else "the chamfer's lower edge, on the wall"
        if relief > 0 and at_face > at_wall:
            touches = "the chamfer's upper edge, on the face"
    reliefs = needed(0.0), needed(allowed)
    return _seat(
        stand_off, reliefs, touches, fillet, relief, side, allowed, relief_kind, angle, feeler, in_plan=False, unit=unit
    )


def corner_seat(
    corner_radius: float,
    relief: float,
    gap: float = 0.0,
    *,
    relief_kind: str = "chamfer",
    angle: float = 45.0,
    allowed: float = 0.0,
    feeler: float | tuple[float | None, float | None] | None = None,
    unit: str = "",
) -> Seat:
    """Return whether a plug's corner clears the corner radius of a pocket, seen from above.

    Parameters
    ----------
    corner_radius : float
        Left in the pocket's corner by the cutter.
    relief : float
        The plug's corner: chamfer width along one side, or corner radius. 0 is a sharp corner.
    gap : float
        Between plug and wall, the same on both walls of the corner (half the clearance over the width).
    relief_kind, angle, allowed, feeler, unit
        As in `seat`; the angle is from one of the two sides.

    Returns
    -------
    Seat
        Its ``stand_off`` is the gap a side that is wanting: 0 when the plug goes in.

    Raises
    ------
    OutsideModel
        As `seat`.

    Notes
    -----
    The geometry of `seat` with the gap on both sides, h = g. With the chamfer's shorter leg b the distance condition
    (R - g)^2 + (R - g - b)^2 <= R^2 gives the gap wanted, g >= R - (b + sqrt(2 R^2 - b^2)) / 2 while b < R; with a
    corner radius r it is g >= (R - r) (1 - 1 / sqrt 2). A sharp plug wants 0.2929 R a side.

    References
    ----------
    Own derivation; checked by brute force in tests/tracker/fit/test_seating.py.

    Examples
    --------
    >>> round(corner_seat(1.0, 0.0).stand_off, 4)
    0.2929
    """
    legs = _checked(corner_radius, relief, relief_kind, angle, allowed)
    side, radius = _gap(gap), corner_radius
    shrink = 1 - 1 / math.sqrt(2)
    if relief_kind == "radius":
        wanted = max(radius - relief, 0.0) * shrink

        def needed(gap: float) -> float:
            return radius - gap / shrink
    else:
        leg = min(*legs, radius)
        wanted = radius - (leg + math.sqrt(2 * radius**2 - leg**2)) / 2

        def needed(gap: float) -> float:
            shorter = radius - gap - _chord(radius, gap) if gap < radius else 0.0
            return shorter / min(1.0, _slope(angle))

    return _seat(
        wanted - side,
        (needed(side), needed(side + allowed)),
        "the corner of the plug",
        radius,
        relief,
        side,
        allowed,
        relief_kind,
        angle,
        feeler,
        in_plan=True,
        unit=unit,
    )


def _chord(radius: float, gap: float) -> float:
    """Return how far down the arc lies at a distance ``gap`` from where it begins: sqrt(2 R g - g^2)."""
    return math.sqrt(max(gap * (2 * radius - gap), 0.0))


def _slope(angle: float) -> float:
    """Return depth for width of a chamfer; exactly 1 at 45 degrees."""
    return 1.0 if angle == 45 else math.tan(math.radians(angle))


def _word(kind: str) -> str:
    return "edge radius" if kind == "radius" else "edge break"


def _gap(gap: float) -> float:
    found = number(gap, "gap", OutsideModel)
    if not abs(found) < math.inf:
        raise OutsideModel(f"a gap of {gap!r} is not possible; accepted is the gap on one side, 0 for a press fit")
    return max(found, 0.0)


def _checked(fillet: float, relief: float, kind: str, angle: float, allowed: float) -> tuple[float, float]:
    """Return the two legs of the relief, after refusing what is not covered."""
    for name, value in (("fillet", fillet), ("relief", relief), ("allowed stand-off", allowed)):
        if not 0 <= number(value, f"the {name}", OutsideModel) < math.inf:
            raise OutsideModel(f"the {name} is {value!r}; accepted is a length from 0")
    if kind not in KINDS:
        raise OutsideModel(f"relief_kind is {kind!r}; accepted is {' or '.join(KINDS)}")
    if not 0 < number(angle, "the chamfer's angle", OutsideModel) < 90:
        raise OutsideModel(f"the chamfer's angle is {angle!r}; accepted is between 0 and 90 degrees, 45 as a rule")
    return relief, relief * _slope(angle)


def _seat(
    stand_off: float,
    reliefs: tuple[float, float],
    touches: str,
    fillet: float,
    relief: float,
    gap: float,
    allowed: float,
    kind: str,
    angle: float,
    feeler: float | tuple[float | None, float | None] | None,
    *,
    in_plan: bool,
    unit: str,
) -> Seat:
    held = stand_off if stand_off > _ROUNDING * fillet else 0.0
    leaves = _leaves(feeler)
    return Seat(
        stand_off=held,
        relief_needed=max(reliefs[0], 0.0),
        relief_allowed=max(reliefs[1], 0.0),
        seats=held <= allowed + _ROUNDING * fillet,
        fillet=fillet,
        relief=relief,
        gap=gap,
        allowed=allowed,
        relief_kind=kind,
        angle=angle,
        touches=touches if held > 0 else "the face",
        feeler=leaves,
        explained=None if leaves is None else _explained(held, leaves, fillet),
        in_plan=in_plan,
        unit=unit,
        method=f"circular fillet against a {'round edge' if kind == 'radius' else 'straight chamfer'}, rigid parts",
    )


def _leaves(feeler: float | tuple[float | None, float | None] | None) -> tuple[float | None, float | None] | None:
    if feeler is None:
        return None
    leaves = feeler if isinstance(feeler, tuple | list) else (feeler, None)
    if len(leaves) != 2:
        raise OutsideModel(f"a feeler of {len(leaves)} leaves; accepted is one, or two: (goes, does not go)")
    goes, stops = leaves
    for leaf in (goes, stops):
        if leaf is not None and not 0 <= number(leaf, "a feeler leaf", OutsideModel) < math.inf:
            raise OutsideModel(f"a feeler leaf of {leaf!r} is not possible; accepted is a thickness from 0")
    if goes is not None and stops is not None and not goes < stops:
        raise OutsideModel(f"the leaf that goes ({goes:g}) is not thinner than the one that does not ({stops:g})")
    return goes, stops


def _explained(stand_off: float, leaves: tuple[float | None, float | None], fillet: float) -> bool:
    goes, stops = leaves
    slack = _ROUNDING * fillet
    return (goes is None or goes <= stand_off + slack) and (stops is None or stand_off <= stops + slack)
