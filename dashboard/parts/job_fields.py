"""The form of a job: which fields it has, in which part of which section."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from tracker.cuts import CONVENTIONS

MOST_ROWS = 60
LONGEST = 200
LISTS = ("features", "fits", "closures", "gauges")

Form = dict[str, Any]


@dataclass(frozen=True, slots=True)
class Field:
    """One field.

    Attributes
    ----------
    key, words, example : str
        Its key in the table, what stands over it, and how it may be filled in.
    choices : tuple of (value, words)
        What may be chosen; none where it is typed.
    part : str
        Which part of a row it is in.
    suggest : str
        What is offered while it is typed: the names of features of a kind, of gauges, or of materials.
    value : str
        How what is typed is read: as a ``text``, several ``texts`` or ``numbers``, a ``truth``, the ``terms`` of a
        sum; "" for a number or a day where it is one, else a text.
    """

    key: str
    words: str
    example: str = ""
    choices: tuple[tuple[str, str], ...] = ()
    part: str = ""
    suggest: str = ""
    value: str = ""

    def spec(self) -> dict[str, Any]:
        """Return the field as the page draws it."""
        return {
            "key": self.key,
            "words": self.words,
            "example": self.example,
            "examples": {kind: found[self.key] for kind, found in EXAMPLES.items() if self.key in found},
            "choices": [list(item) for item in self.choices],
            "part": self.part,
            "suggest": self.suggest,
        }


KINDS = (("", "choose"), ("internal", "internal"), ("external", "external"), ("length", "length"))
RULES = (
    ("", "as usual"),
    ("mean", "mean"),
    ("most_material", "most material"),
    ("least_material", "least material"),
    ("median", "median"),
    ("midrange", "midrange"),
)
CUTS = (("", "not stated"), *((name, name) for name in CONVENTIONS))
SIDES = (("", "as usual for the cut"), ("diameter", "diameter"), ("radius", "radius"))
SIGNS = (("", "as usual for the cut"), ("larger", "larger"), ("smaller", "smaller"))
SHAPES = (("", "round"), ("keyed", "keyed"), ("flat", "with a flat"))
RELIEFS = (("", "chamfer"), ("radius", "radius"))
FIELDS: dict[str, tuple[Field, ...]] = {
    "job": (
        Field("name", "name", "Leak-test nest, rest buttons", value="text"),
        Field("unit", "unit", choices=(("in", "inch"), ("mm", "millimetre"))),
        Field("assurance", "assurance", "95 %"),
        Field(
            "decimal_comma",
            "decimals are typed with a",
            choices=(("", "point"), ("true", "comma")),
            part="reading",
            value="truth",
        ),
        Field("temperature", "parts are at, °C", "20", part="reading"),
    ),
    "features": (
        Field("name", "name", "bore", part="size", value="text"),
        Field("kind", "kind", choices=KINDS, part="size"),
        Field("nominal", "nominal", "0.6250", part="size"),
        Field("target", "target, else the middle", "0.6256", part="size"),
        Field("lower", "lower limit", "0.6250", part="size"),
        Field("upper", "upper limit", "0.6257", part="size"),
        Field("grade", "or a grade", "H7", part="size", value="text"),
        Field("gauge", "gauge", "bore gauge", part="measuring", suggest="gauges", value="text"),
        Field("pieces", "pieces", "12", part="measuring"),
        Field("positions", "positions", "top, bottom", part="measuring", value="texts"),
        Field("repeats", "repeats", "2", part="measuring"),
        Field("master", "zeroed on a master of", "0.6250", part="piece"),
        Field("rule", "size from its positions", choices=RULES, part="piece"),
        Field("part", "part, name or number", "rest button", part="piece", value="text"),
        Field("material", "material", "tool steel", part="piece", suggest="materials", value="text"),
        Field("spread", "spread it is known for (sd)", "0.00008", part="piece"),
        Field("plating", "plating still to come", "8 um", part="piece"),
        Field("machine.operation", "kind of cut", choices=CUTS, part="cutting"),
        Field("machine.offset_on", "offset is on the", choices=SIDES, part="cutting"),
        Field("machine.plus_makes", "plus makes it", choices=SIGNS, part="cutting"),
        Field("machine.increment", "smallest step", "0.0001", part="cutting"),
        Field("machine.tool", "what wears", "wheel", part="cutting", value="text"),
        Field("machine.name", "machine", "grinder 1", part="cutting", value="text"),
        Field("machine.look_every", "pieces until the next look", "5", part="cutting"),
        Field("machine.setup_sd", "a set-up lands within (sd)", "0.0002", part="cutting"),
        Field("rework", "cost of rework", "4", part="cutting"),
        Field("remake", "cost of a new one", "11", part="cutting"),
    ),
    "fits": (
        Field("name", "name", "button in plate", part="sides", value="text"),
        Field("internal", "internal", suggest="internal", part="sides", value="text"),
        Field("external", "external", suggest="external", part="sides", value="text"),
        Field("gap_lower", "tightest gap", "-0.0009", part="gap"),
        Field("gap_upper", "loosest gap", "-0.0003", part="gap"),
        Field("class", "or a class", "H7/p6", part="gap", value="text"),
        Field("target", "target, else the middle", "-0.0006", part="gap"),
        Field("press.length", "length of the joint", "0.375", part="press"),
        Field("press.outer", "outside of the part with the bore", "2.0", part="press"),
        Field("press.inner", "bore through the part pressed in", "0.25", part="press"),
        Field("press.friction", "friction", "0.08, 0.16", part="press", value="numbers"),
        Field("press.inner_rz", "roughness Rz, pressed in", "60 uin", part="press"),
        Field("press.outer_rz", "roughness Rz, bore", "60 uin", part="press"),
        Field("press.shape", "shape", choices=SHAPES, part="press"),
        Field("press.service_temperature", "temperature in service", "120", part="press"),
        Field("seat.fillet", "fillet under the shoulder", "0.012", part="seat"),
        Field("seat.relief", "relief of the hole's edge", "0.020", part="seat"),
        Field("seat.relief_kind", "which is a", choices=RELIEFS, part="seat"),
        Field("seat.gap", "gap on one side", "0.0002", part="seat"),
    ),
    "closures": (
        Field("name", "name", "stand height", value="text"),
        Field("terms", "sum of", "head height - counterbore depth", value="terms"),
        Field("lower", "lower limit", "0.3745"),
        Field("upper", "upper limit", "0.3755"),
    ),
    "gauges": (
        Field("name", "name", "bore gauge", value="text"),
        Field("resolution", "reads to", "0.0001"),
        Field("calibration", "standard uncertainty", "0.00003"),
        Field("correction", "correction to add", "0"),
        Field("due", "next calibration", "2027-09-30"),
        Field("range_lower", "measures from", "0", part="gauge"),
        Field("range_upper", "to", "1", part="gauge"),
        Field("material", "material of its scale or master", "steel", part="gauge", suggest="materials", value="text"),
        Field("line", "a line it sends looks like", "(?P<value>[0-9.]+)", part="gauge", value="text"),
    ),
    "costs": (
        Field("press", "one pressing", "1"),
        Field("spoiled_assembly", "a spoiled assembly", "120"),
        Field("touch", "a stop to change an offset", "2.5"),
        Field("too_tight", "a piece that makes a fit too tight", "10"),
        Field("too_loose", "a piece that makes a fit too loose", "1"),
    ),
}
"""Section -> its fields. A row of a list has ``was`` too: the name it had in the text.

A key with a point stands in a table of its own: ``press.length`` is ``press = { length = … }``.
"""

EXAMPLES = {
    "external": {
        "name": "shank",
        "nominal": "0.6256",
        "target": "0.6258",
        "lower": "0.6255",
        "upper": "0.6261",
        "grade": "p6",
        "gauge": "tenths micrometer",
        "positions": "lead end, shoulder",
        "master": "0.6255",
    },
    "length": {
        "name": "head height",
        "nominal": "0.5000",
        "target": "0.5000",
        "lower": "0.4995",
        "upper": "0.5005",
        "grade": "js7",
        "gauge": "height gauge",
        "positions": "left, right",
        "master": "0.5000",
    },
}
"""Kind of a feature -> how its fields may be filled in, where it is not as for a bore."""

PAIRS = {
    "fits": ("gap", "gap_lower", "gap_upper"),
    "closures": ("limits", "lower", "upper"),
    "gauges": ("range", "range_lower", "range_upper"),
}
"""Section -> the key that holds two ends, and the fields of its ends."""

COSTS = ("rework", "remake")


def specs() -> dict[str, list[dict[str, Any]]]:
    """Return all fields as the page draws them."""
    return {section: [field.spec() for field in fields] for section, fields in FIELDS.items()}


def materials() -> list[str]:
    """Return the names of materials whose values are known."""
    from tracker.fit.press_materials import material_names
    from tracker.readings.corrections import expansions

    return sorted({*material_names(), *expansions()})


def blank_form() -> Form:
    """Return the form of a new job: one bore, one shank, one fit, nothing filled in."""
    blank: Form = {section: {field.key: "" for field in FIELDS[section]} for section in ("job", "costs")}
    blank["job"] |= {"unit": "in", "assurance": "95 %"}
    kinds = ("internal", "external")
    blank["features"] = [blank_row("features") | {"kind": kind} for kind in kinds]
    blank["fits"] = [blank_row("fits")]
    blank["closures"] = []
    blank["gauges"] = [blank_row("gauges")]
    return blank


def blank_row(section: str) -> dict[str, str]:
    """Return a row with nothing filled in."""
    return {field.key: "" for field in FIELDS[section]} | {"was": ""}
