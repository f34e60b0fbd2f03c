"""What is said wherever a press, heat or cold is involved; the usual cautions, always with the answer."""

from __future__ import annotations

ALWAYS = (
    "Local codes, the machine's own instructions and a licensed or qualified person decide; these figures do not.",
    "Guard the press, wear eye protection, keep hands and faces away from the ram and from the line of the parts.",
    "Support the part square under the bore, start the other one straight, use a lead and a lubricant that suits both.",
)
JOINING = (
    "Heated parts burn: heat-resistant gloves, an oven or hot plate with a measured temperature, no open flame on"
    " treated, plated, oiled or hollow closed parts.",
    "Dry ice and liquid nitrogen burn and displace air: insulated gloves, a face shield, ventilation, never a closed"
    " container.",
)


def stop_above(force: str) -> str:
    """Return the caution on the force to stop at, given as text with its unit."""
    return (
        f"Stop when the force climbs past {force}: something is crooked, scored or larger than measured. Friction is"
        " the least certain figure here; it easily differs by half."
    )


def strength(part: str, margin: float, words: str) -> str:
    """Return the caution on a thin margin of one part."""
    if margin < 1:
        return f"The {part} part passes its strength at the largest interference (margin {margin:.2f}; {words})."
    return f"The margin of the {part} part is thin: {margin:.2f} at the largest interference ({words})."


SHAPES = {
    "keyed": "A key or keyway is outside the model: the round part is computed as if it were whole, and stresses rise"
    " at the keyway's corners.",
    "flat": "A flat is outside the model: the round part is computed as if it were whole; the joint presses and holds"
    " less evenly, and less, than that.",
}
LONG = (
    "The joint is longer than one and a half diameters: it buckles or cants easily, and the force is uneven along it."
)
OVERHANG = "Where the outer part is longer than the joint, the stress at the joint's ends is higher than computed."
BRITTLE = "A brittle part bursts without warning: do not stand in line with it, and do not pass its strength at all."
LOOSE = "has no interference left and would not hold"
