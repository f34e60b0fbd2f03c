"""Rules of thumb of the shop, clearance holes for screws, and the allowance for plating."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from tracker.errors import LengthError, LimitsError
from tracker.given import finite_number, number
from tracker.limits.tablefiles import read_table
from tracker.limits.zones import exact
from tracker.result import Result
from tracker.units import known_unit, read_length


@dataclass(frozen=True, slots=True, kw_only=True)
class ShopSize(Result):
    """A size after a rule of thumb: where to aim, not a limit.

    Attributes
    ----------
    nominal, size : float
        In ``unit``.
    rule, unit, source : str
    """

    nominal: float
    size: float
    rule: str
    unit: str
    source: str

    def __str__(self) -> str:
        return f"{self.nominal:g} {self.unit}: make it {self.size:.6g} {self.unit} ({self.rule}; {self.source})"


@dataclass(frozen=True, slots=True, kw_only=True)
class ClearanceHole(Result):
    """The hole that a screw passes through.

    Attributes
    ----------
    screw, unit, source : str
    fine, medium, coarse : float or None
        Hole diameters; an inch chart has the medium (normal) one alone.
    drill : str
        As it stands on the drill: ``17/32`` in or ``6.6`` mm.
    counterbore : float or None
    """

    screw: str
    unit: str
    fine: float | None
    medium: float
    coarse: float | None
    drill: str
    counterbore: float | None
    source: str

    def __str__(self) -> str:
        words = f"{self.screw} screw: clearance drill {self.drill} {self.unit}"
        if self.counterbore is not None:
            words += f", counterbore {self.counterbore:g} {self.unit}"
        return f"{words} ({self.source})"


def shop_hole(nominal: float, rule: str, *, unit: str = "in", change: float | None = None) -> ShopSize:
    """Return the hole for a pin or plug of nominal size, by the shop's rule of thumb.

    Parameters
    ----------
    nominal : float
        In ``unit``.
    rule : str
        ``slip`` or ``press``.
    unit : str
        ``in`` or ``mm``; the rules are kept in inches and turned into millimetres exactly.
    change : float, optional
        The shop's own figure in place of the rule's, in ``unit``.

    Raises
    ------
    LimitsError
        If there is no such rule, the nominal size is not above zero, or what the rule leaves is not.

    References
    ----------
    Common practice, no source.

    Examples
    --------
    >>> shop_hole(0.25, "slip").size, shop_hole(0.25, "press").size
    (0.251, 0.249)
    """
    rules = read_table("shop_rules")
    if rule not in rules["hole"]:
        raise LimitsError(f"{rule!r} is no rule for a hole; accepted is {' or '.join(rules['hole'])}")
    per_unit = _inches_per(unit)
    given = finite_number(nominal, "the nominal size", above=0, fault=LimitsError)
    step = Fraction(rules["hole"][rule]["change"]) / per_unit
    if change is not None:
        step = exact(finite_number(change, "change", fault=LimitsError))
    size = exact(given) + step
    if size <= 0:
        raise LimitsError(
            f"a {rule} fit changes a hole of {given:g} {unit} by {float(step):g} {unit}, which leaves none; accepted is"
            f" a nominal size above {float(-step):g} {unit}"
        )
    return ShopSize(
        nominal=given,
        size=float(size),
        rule=rules["hole"][rule]["words"] if change is None else f"{rule} fit, as stated",
        unit=unit,
        source=rules["source"],
    )


def shop_interference(diameter: float, rule: str = "press", pair: str = "steel in steel") -> float:
    """Return the interference on the diameter that a rule of thumb asks for, in the unit of ``diameter``.

    Parameters
    ----------
    diameter : float
    rule : str
        ``light``, ``press`` or ``heavy``: a quarter, a half or one thousandth of the diameter.
    pair : str
        Plug in bore: ``steel in steel``, ``steel in aluminium``, ``bronze in steel`` and so on.

    Raises
    ------
    LimitsError
        If there is no such rule or pair, or the diameter is not above zero.

    Notes
    -----
    A starting point for walls as thick as the plug; a press fit that matters is worked out
    (`tracker.fit.pressing.press_fit`).

    References
    ----------
    Common practice, no source.

    Examples
    --------
    >>> shop_interference(2.0)
    0.001
    >>> shop_interference(2.0, pair="steel in aluminium")
    0.0015
    """
    table = read_table("shop_rules")
    if rule not in table["interference"]:
        raise LimitsError(f"{rule!r} is no rule for interference; accepted is {', '.join(table['interference'])}")
    if pair not in table["pair"]:
        raise LimitsError(f"{pair!r} is no pair of materials that is kept; accepted is {', '.join(table['pair'])}")
    per_unit = Fraction(table["interference"][rule]["per_unit"]) * Fraction(table["pair"][pair]["times"])
    return float(exact(finite_number(diameter, "the diameter", above=0, fault=LimitsError)) * per_unit)


def clearance_hole(screw: str) -> ClearanceHole:
    """Return the hole that a socket head cap screw passes through.

    Parameters
    ----------
    screw : str
        ``M6``, or an inch size such as ``1/2``.

    Raises
    ------
    LimitsError
        If the size is not kept.

    References
    ----------
    ISO 273 and DIN 974-1 series 1 (metric; from memory); common practice (inch).

    Examples
    --------
    >>> clearance_hole("1/2").medium
    0.53125
    >>> clearance_hole("M6").medium
    6.6
    """
    table = read_table("shop_rules")
    name = screw.strip().upper()
    metric = table["screw_metric"]
    if name in metric:
        fine, medium, coarse = (float(size) for size in metric[name]["holes"])
        return ClearanceHole(
            screw=name,
            unit="mm",
            fine=fine,
            medium=medium,
            coarse=coarse,
            drill=f"{medium:g}",
            counterbore=float(metric[name]["counterbore"]),
            source=metric["source"],
        )
    try:
        nominal = read_length(screw, "in").mm / Fraction(254, 10)
    except LengthError:
        nominal = Fraction(0)
    for inch, drill in table["screw_inch"].items():
        if Fraction(inch) == nominal:
            return ClearanceHole(
                screw=f"{inch} in",
                unit="in",
                fine=None,
                medium=float(Fraction(drill)),
                coarse=None,
                drill=drill,
                counterbore=None,
                source=table["source"],
            )
    listed = ", ".join([*table["screw_inch"], *(size for size in metric if size.startswith("M"))])
    raise LimitsError(f"no clearance hole is kept for a {screw!r} screw; there is one for: {listed}")


def plating_allowance(thickness: float, kind: str = "external", *, plated_faces: int | None = None) -> float:
    """Return how much plating changes a measured size; take it off the size to be cut.

    Parameters
    ----------
    thickness : float
        Of the layer, on one surface.
    kind : str
        ``external``: a diameter or width grows by two layers; ``internal``: a bore or slot shrinks by two;
        ``length``: one face, unless ``plated_faces`` says otherwise.
    plated_faces : int, optional
        How many of the surfaces that bound the size carry the layer: 0, 1 or 2.

    Returns
    -------
    float
        Size after plating minus size before, in the unit of ``thickness``.

    Raises
    ------
    LimitsError
        If the thickness is negative, the kind unknown or the count of faces not 0, 1 or 2.

    Notes
    -----
    The layer is taken as even. On edges and in deep bores electroplating is not: measure after plating.

    References
    ----------
    Geometry.

    Examples
    --------
    >>> plating_allowance(0.0003), plating_allowance(0.0003, "internal"), plating_allowance(0.0003, "length")
    (0.0006, -0.0006, 0.0003)
    """
    usual = {"external": 2, "internal": 2, "length": 1}
    if kind not in usual:
        raise LimitsError(f"{kind!r} is no kind of feature; accepted is {', '.join(usual)}")
    if not 0 <= number(thickness, "the thickness of a layer", LimitsError) < float("inf"):
        raise LimitsError(f"a layer of {thickness!r} is not possible; accepted is a thickness from 0")
    faces = usual[kind] if plated_faces is None else plated_faces
    if isinstance(faces, bool) or faces not in (0, 1, 2):
        raise LimitsError(f"{faces!r} plated faces are not possible; accepted is 0, 1 or 2")
    return (-1 if kind == "internal" else 1) * faces * thickness


def _inches_per(unit: str) -> Fraction:
    """Return inches in one of a unit, exactly."""
    return {"in": Fraction(1), "mm": Fraction(10, 254)}[_inch_or_mm(unit)]


def _inch_or_mm(unit: str) -> str:
    try:
        used = known_unit(unit)
    except LengthError as error:
        raise LimitsError(str(error)) from error
    if used not in ("in", "mm"):
        raise LimitsError(f"{unit!r} is not a unit of these rules; accepted is in or mm")
    return used
