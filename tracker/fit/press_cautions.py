"""What is said wherever a press, heat or cold is involved; the usual cautions, always with the answer."""

from __future__ import annotations

from tracker.fit.press_results import MARGIN, PressFit, is_thin, said, times, up_to
from tracker.fit.press_verdict import counted, temperature_of

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
    """Return the caution on a part that passes its strength."""
    return f"The {part} part passes its strength at the largest interference (margin {times(margin)}; {words})."


def thin(part: str, margin: float, words: str, keeps: str = "") -> str:
    """Return the caution on a part with less margin than is asked; ``keeps`` is the interference that leaves that."""
    how = f"; up to {keeps} of interference keeps that" if keeps else ""
    return (
        f"The margin of the {part} part is thin: {times(margin)} at the largest interference ({words}), under the"
        f" {MARGIN:g} that is asked (common practice){how}."
    )


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


def cautions_of(fit: PressFit, shape: str) -> tuple[str, ...]:
    """Return what must be said with a press fit: that a part yields first, then the usual."""
    of_parts = [*_of_strength(fit), *_of_service(fit), *_of_joining(fit), *_of_shape(fit, shape)]
    return tuple(dict.fromkeys([*fit.yielding, *_usual(fit), *of_parts]))


def yielding_of(fit: PressFit) -> tuple[str, ...]:
    """Return what says that a part passes its strength; nothing where all stays elastic."""
    parts = {"outer": fit.outer_material, "inner": fit.inner_material}
    found = []
    if fit.past_elastic:
        found += [strength(name, fit.margins[name], parts[name].words) for name in parts if fit.margins[name] < 1]
        who = "The interference goes" if fit.pairs == 1 else counted(fit.past_elastic, fit.pairs, "goes", "go")
        found.append(
            f"{who} beyond the elastic limit: figures for that are too high, and the parts would be permanently"
            " changed."
        )
    if fit.service is not None:
        hot = fit.service.margins
        found += [_in_service(strength(name, hot[name], parts[name].words)) for name in parts if hot[name] < 1]
    return tuple(found)


def _in_service(caution: str) -> str:
    return f"In service {caution[0].lower()}{caution[1:]}"


def _usual(fit: PressFit) -> list[str]:
    if fit.yielding:
        return [*ALWAYS]  # nothing is to be pressed, heated or cooled
    return [*ALWAYS, stop_above(said(fit.ranges["push_force"].high, fit.units["force"])), *JOINING]


def _of_strength(fit: PressFit) -> list[str]:
    listed = []
    parts = {"outer": fit.outer_material, "inner": fit.inner_material}
    for name, made_of in parts.items():
        if fit.margins[name] >= 1 and is_thin(fit.margins[name]):
            keeps = up_to(_keeping(fit, name), fit.units["length"])
            listed.append(thin(name, fit.margins[name], made_of.words, keeps))
        if made_of.yield_stress is None:
            listed.append(BRITTLE)
    if fit.loose:
        listed.append(f"{_no_hold(fit.loose, fit.pairs)}.")
    return listed


def _keeping(fit: PressFit, part: str) -> float:
    """Return the interference that leaves one part the margin that is asked."""
    return fit.ranges["effective_interference"].high * fit.margins[part] / MARGIN + fit.roughness_loss


def _no_hold(loose: int, pairs: int) -> str:
    return f"{counted(loose, pairs, 'has', 'have')} no interference left and would not hold"


def _of_service(fit: PressFit) -> list[str]:
    """Return what service takes: the hold, most of it, some of the margin; and whether heat parts the joint first."""
    if fit.service is None:
        return []
    hot, pairs = fit.service, fit.pairs
    listed = []
    if hot.loose:
        what = "No interference is left in service, and it would not hold"
        listed.append(f"{what if pairs == 1 else f'In service {_no_hold(hot.loose, pairs)}'}.")
    if hot.little:
        least = said(hot.effective_interference.low, fit.units["length"])
        left = f"only {least} is left" if pairs == 1 else f"{counted(hot.little, pairs, 'has', 'have')} little left"
        listed.append(
            f"In service {left}: less than a tenth of the interference as pressed, or than roughness takes. Do not"
            " count on its hold (where little begins is our choice)."
        )
    parts = {"outer": fit.outer_material, "inner": fit.inner_material}
    for name, made_of in parts.items():
        if hot.margins[name] >= 1 and is_thin(hot.margins[name]):
            listed.append(_in_service(thin(name, hot.margins[name], made_of.words)))
    if hot.loose < pairs and hot.outer_temperature >= hot.lets_go_at:
        degrees = fit.units["temperature"]
        listed.append(
            f"Service at {temperature_of(hot, degrees)} is at or above the {said(hot.lets_go_at, degrees)} at which the"
            " outer part, heated before the inner one, has no interference left: the joint drops apart unless both warm"
            " up together."
        )
    return listed


def _of_joining(fit: PressFit) -> list[str]:
    hottest, degrees = fit.outer_material.hottest, fit.units["temperature"]
    if fit.yielding or fit.heat_to <= hottest:
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
