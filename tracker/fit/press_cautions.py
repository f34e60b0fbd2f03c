"""What is said wherever a press, heat or cold is involved; the usual cautions, always with the answer."""

from __future__ import annotations

from tracker.fit.press_results import PressFit, said
from tracker.plurals import noun

_THIN_MARGIN = 1.25

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


def cautions_of(fit: PressFit, shape: str) -> tuple[str, ...]:
    """Return what must be said with a press fit: that a part yields first, then the usual."""
    parts = [*yielding_of(fit), *_usual(fit), *_of_strength(fit), *_of_joining(fit), *_of_shape(fit, shape)]
    return tuple(dict.fromkeys(parts))


def yielding_of(fit: PressFit) -> tuple[str, ...]:
    """Return what says that a part passes its strength; nothing where all stays elastic."""
    parts = {"outer": fit.outer_material, "inner": fit.inner_material}
    said = [
        strength(name, fit.margins[name], made_of.words) for name, made_of in parts.items() if fit.margins[name] < 1
    ]
    if fit.past_elastic:
        said.append(_past(fit))
    if fit.service is not None:
        hot = fit.service.margins
        said += [f"In service: {strength(name, hot[name], parts[name].words)}" for name in parts if hot[name] < 1]
    return tuple(said)


def _past(fit: PressFit) -> str:
    return (
        f"{fit.past_elastic} of {fit.pairs} go beyond the elastic limit: their figures are too high, and the parts"
        " are permanently changed."
    )


def _usual(fit: PressFit) -> list[str]:
    return [*ALWAYS, stop_above(said(fit.ranges["push_force"].high, fit.units["force"])), *JOINING]


def _of_strength(fit: PressFit) -> list[str]:
    listed = []
    parts = {"outer": fit.outer_material, "inner": fit.inner_material}
    for name, made_of in parts.items():
        if fit.margins[name] < _THIN_MARGIN:
            listed.append(strength(name, fit.margins[name], made_of.words))
        if made_of.yield_stress is None:
            listed.append(BRITTLE)
    if fit.past_elastic:
        listed.append(_past(fit))
    if fit.loose:
        listed.append(f"{fit.loose} of {fit.pairs} {noun(fit.pairs, 'pair')}: {LOOSE}.")
    if fit.service is not None:
        if fit.service.loose:
            listed.append(f"In service {fit.service.loose} of {fit.pairs} {noun(fit.pairs, 'pair')}: {LOOSE}.")
        for name, made_of in parts.items():
            if fit.service.margins[name] < _THIN_MARGIN:
                listed.append(f"In service: {strength(name, fit.service.margins[name], made_of.words)}")
    return listed


def _of_joining(fit: PressFit) -> list[str]:
    hottest, degrees = fit.outer_material.hottest, fit.units["temperature"]
    if fit.heat_to <= hottest:
        return []
    cold = said(fit.heat_with_cold, degrees)
    way = f"cool the inner part as well ({cold} is enough with dry ice), or press it"
    if fit.heat_with_cold > hottest:
        way = f"press it (even with the inner part out of dry ice it would take {cold})"
    return [
        f"Heating past {said(hottest, degrees)} may draw the temper of the outer part ({fit.outer_material.words}) or"
        f" warp it: {way}."
    ]


def _of_shape(fit: PressFit, shape: str) -> list[str]:
    listed = [LONG] if fit.length > 1.5 * fit.diameter else []
    listed.append(OVERHANG)
    if shape in SHAPES:
        listed.append(SHAPES[shape])
    return listed
