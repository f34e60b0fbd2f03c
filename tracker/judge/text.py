"""A `Check` as plain text: the verdict first, then what it rests on; aligned, short, in the job's own units."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from typing import TYPE_CHECKING

from tracker.decide import Shift
from tracker.decide.edges import NOT_MADE
from tracker.decide.words import share
from tracker.drift import Departure, WearLine
from tracker.judge.answers import Check, ClosureCheck, FeatureCheck, FitCheck
from tracker.judge.assembly_text import assembly_lines, closure_pairs_where_chosen
from tracker.judge.capability_words import beyond_words, shared_words
from tracker.judge.layout import (
    LONG_UNIT,
    MOST_ROWS,
    before_work,
    chance_words,
    labelled,
    plan_words,
    table,
    unmade_words,
)
from tracker.judge.unsized import WITHOUT_SIZE
from tracker.judge.words import Scale, left_words, outside_words, plain_name
from tracker.plurals import noun
from tracker.result import Interval
from tracker.units import convert, format_number, small_unit

if TYPE_CHECKING:
    from tracker.fit import Classes
    from tracker.readings import Import

Write = Callable[..., str]

MOST_FAULTS = 8
HALF_A_DIGIT = 0.05
GOES_TOGETHER = ("press as they come", "pair", "sort")
SURE_OF_WEAR = 0.01
SOMETHING_CHANGED = "something changed that no event explains"
PIECES_THAT_SHOW_SHAPE = 50
SMALLEST_IN_TWO, MOST_DECIMALS = 0.095, 5


def check_lines(answer: Check, readings: Import | None = None) -> Iterator[str]:
    """Yield the lines that ``tenthwise check`` prints.

    Parameters
    ----------
    answer : Check
    readings : Import, optional
        To name suspect and refused rows one by one.
    """
    yield f"{answer.job}  ({answer.unit}): {answer.verdict.word.upper()}"
    yield from labelled("read", str(answer.readings))
    for line in answer.understood:
        yield from labelled("", line)
    if readings is not None:
        yield from _faults(readings)
    for remark in answer.remarks:
        yield from labelled("note", remark)
    for together in answer.assemblies:
        yield ""
        yield from assembly_lines(answer, together)
    for fit in answer.fits:
        yield ""
        yield from fit_lines(answer, fit)
    if not answer.fits and not answer.closures:
        yield ""
        yield from labelled("why", answer.verdict.reason)
        yield from labelled("do", answer.verdict.action)
    for item in answer.closures:
        yield ""
        yield from _closure_lines(answer, item)
    for feature in answer.features:
        yield ""
        yield from feature_lines(answer, feature)


def fit_lines(answer: Check, fit: FitCheck) -> Iterator[str]:
    """Yield the lines about one fit."""
    inner, outer = answer.feature(fit.internal), answer.feature(fit.external)
    scale = Scale(answer.unit, min(inner.step, outer.step))
    if fit.assembly is None:
        yield f"{plain_name(fit.name)}: {fit.verdict.word.upper()}"
        yield from labelled("why", fit.verdict.reason)
        yield from labelled("do", fit.verdict.action)
        yield from labelled("would change", fit.verdict.what_would_change_it)
    else:
        yield f"{plain_name(fit.name)}: one of {plain_name(fit.assembly)}, judged at once above; this fit alone:"
    yield from labelled("gap", _gap_words(fit, scale))
    if fit.chance is not None:
        chance = fit.chance
        yield from labelled(
            "chance",
            f"these pieces, met at random: one pair good {chance_words(chance.pair_measured)},"
            f" all {min(chance.n_internal, chance.n_external)} in any order {chance_words(chance.all_measured)};"
            f" as they read, {share(chance.measured_share)} of all pairs are good",
        )
        yield from labelled(
            "",
            f"pieces not made yet, from the same process: one pair good {chance_words(chance.pair)},"
            f" of {chance.pairs} {noun(chance.pairs, 'pair')}"
            f" {chance.too_tight:.1f} too tight and {chance.too_loose:.1f} too loose",
        )
    if fit.unmade is not None:
        yield from labelled("expected", fit.unmade_words)
    if fit.assembly is None and fit.pairing is not None and fit.pairing.chance_all is not None:
        near = sum(row.near for row in fit.pairs)
        good, holds = fit.pairing.good, chance_words(fit.pairing.chance_all)
        several = f"{good} pairs within limits, all hold with" if good != 1 else "1 pair within limits, it holds with"
        words = f"paired: {several} {holds} chance"
        yield from labelled("", words + (f"; {near} nearer to a limit than the gauge can tell" if near else ""))
    if fit.classes is not None and not _worse_than_any_order(fit, fit.classes):
        trays = fit.classes
        wanted = min(trays.n_internal, trays.n_external)
        sides = f"{len(trays.labels)} {noun(len(trays.labels), 'tray')} a side"
        words = f"sorted into {sides}: {trays.expected_good:.1f} of {wanted} expected good"
        yield from labelled("", words)
    yield from _shift_lines(fit.cut_next, fit.shift, scale)
    for planned in fit.planned_cuts:
        yield from labelled("", planned.words)
    if fit.plan is not None and fit.assembly is None:
        yield from labelled("plan", plan_words(fit.verdict, fit.plan))
    for what, reason in fit.reasons.items():
        if what == "classes" and (fit.verdict.word == "press as they come" or fit.assembly is not None):
            continue
        name = "trays" if what == "classes" else what.replace("_", " ")
        yield from labelled("cannot say", f"{name}: {reason}")
    if fit.assembly is not None:
        yield from _joint_lines(fit)
        return
    if fit.pairs:
        yield from pair_table(fit, scale)
    yield from _plan_lines(answer, fit, scale)
    yield from _joint_lines(fit)
    yield from left_over_lines(fit)


def _worse_than_any_order(fit: FitCheck, trays: Classes) -> bool:
    """Return whether trays would give fewer good pairs than no order at all, where no order is needed."""
    if fit.verdict.word != "press as they come" or fit.chance is None:
        return False
    return trays.expected_good < min(trays.n_internal, trays.n_external) * fit.chance.pair_measured - HALF_A_DIGIT


def left_over_lines(fit: FitCheck) -> Iterator[str]:
    """Yield the pieces without a mate, those with one reason in a line; the action names those without a size."""
    by_reason: dict[tuple[str, str], list[str]] = {}
    for item in (one for one in fit.left_over if one.why not in WITHOUT_SIZE):
        by_reason.setdefault((item.feature, item.why), []).append(item.piece)
    for (feature, why), pieces in by_reason.items():
        yield from labelled("left over", left_words(feature, pieces, why))


def feature_lines(answer: Check, feature: FeatureCheck) -> Iterator[str]:
    """Yield the lines about one feature."""
    scale = Scale(answer.unit, feature.step)
    name = plain_name(feature.name)
    if feature.sizes is None and not feature.one_sided:
        yield f"{name}: nothing measured"
        yield from labelled("cannot say", feature.reasons.get("sizes", "no readings"))
        return
    found = feature.sizes
    if found is None:
        many = len(feature.one_sided)
        yield f"{name}: {many} {noun(many, 'piece')} known from one side only"
    else:
        read = int(found.readings.sum())
        yield (
            f"{name}: {len(found)} {noun(len(found), 'piece')}, {read} {noun(read, 'reading')},"
            f" size by {found.rule.replace('_', ' ')}"
        )
    limits = [
        f"{word} {scale.size(value)}"
        for word, value in (("from", feature.lower), ("to", feature.upper))
        if value is not None
    ]
    yield from labelled("limits", f"{' '.join(limits) or 'none stated'}, aim {scale.size(feature.target)}")
    outside = outside_words(feature, scale)
    if outside:
        yield from labelled("beyond", outside)
    if found is not None and found.remark:
        yield from labelled("", found.remark)
    yield from _figures(answer, feature, scale)
    for what, reason in feature.reasons.items():
        yield from labelled("cannot say", f"{what.replace('_', ' ')}: {reason}")


def _figures(answer: Check, feature: FeatureCheck, scale: Scale) -> Iterator[str]:
    """Yield what is known of the batch: mean, spread, capability, shape, wear, next cut."""
    if feature.summary is not None:
        summary = feature.summary
        yield from labelled("mean", interval_words(summary.mean, scale.size, answer.unit))
        if summary.bias is not None:
            yield from labelled("bias", interval_words(summary.bias, scale.off, scale.small, signed=True))
        yield from labelled("spread", interval_words(summary.sd, scale.off, f"{scale.small} (standard deviation)"))
        if summary.remark:
            yield from labelled("", summary.remark)
    if feature.components is not None:
        yield from labelled("of it", _component_words(feature, scale))
    if feature.capability is not None:
        yield from labelled("capability", _capability_words(feature))
        if feature.capability.remark:
            yield from labelled("", feature.capability.remark)
        if shared := shared_words(feature, scale):
            yield from labelled("", shared)
    if feature.normality is not None and feature.normality.n < PIECES_THAT_SHOW_SHAPE:
        yield from labelled("shape", feature.normality.remark)
    if feature.wear is not None:
        yield from labelled("wear", wear_words(feature, scale))
    if feature.shift is not None and feature.name not in {fit.cut_next for fit in answer.fits if fit.shift}:
        yield from labelled("next cut", f"{feature.shift.enter} {feature.shift.reason}{own_drawing(answer, feature)}")


def own_drawing(answer: Check, feature: FeatureCheck) -> str:
    """Return what to add when a part is shifted to its own drawing while the fits it is in go together as they are."""
    fits = [fit for fit in answer.fits if feature.name in (fit.internal, fit.external)]
    if not fits or feature.shift is None or feature.shift.leave_alone:
        return ""
    if any(fit.verdict.word not in GOES_TOGETHER for fit in fits):
        return ""
    return (
        f" That is by the drawing of {plain_name(feature.name)} alone: the fit does not ask for it, and the size its"
        " mates are cut to moves with it."
    )


def interval_words(value: Interval, write: Write, unit: str, *, signed: bool = False) -> str:
    """Return an estimate with its interval in words: ``+1.9 (between +1.1 and +2.6) tenths``."""

    def said(number: float) -> str:
        return str(write(number, signed=signed))

    if math.isinf(value.low) and math.isinf(value.high):
        return f"{said(value.estimate)} {unit}, and how far off that may be does not show"
    if math.isinf(value.low) or math.isinf(value.high):
        open_end = f"at least {said(value.low)}" if math.isinf(value.high) else f"at most {said(value.high)}"
        return f"{said(value.estimate)} ({open_end}) {unit}"
    return f"{said(value.estimate)} (between {said(value.low)} and {said(value.high)}) {unit}"


def _plan_lines(answer: Check, fit: FitCheck, scale: Scale) -> Iterator[str]:
    """Yield every assembly of a plan that needs work first: what goes with what, and what is made for it."""
    plan, inner, outer = fit.plan, answer.feature(fit.internal).sizes, answer.feature(fit.external).sizes
    if plan is None or inner is None or outer is None or not (plan.reworked or plan.remade):
        return
    words = []
    for one in (pair for pair in plan.pairs if pair.way != NOT_MADE):
        sides = []
        for name, sizes, index in ((fit.internal, inner, one.internal), (fit.external, outer, one.external)):
            sides.append(f"new {plain_name(name)}" if index is None else f"{plain_name(name)} {sizes.piece[index]}")
        made = "" if one.size is None else f" ({scale.size(one.size)})"
        words.append(f"{sides[0]} with {sides[1]}{made}")
    yield from labelled("plan", f"in full: {'; '.join(words)}{unmade_words(plan)}")


def _joint_lines(fit: FitCheck) -> Iterator[str]:
    """Yield the press of all pairs that may meet, and the seat; never a force without its cautions."""
    if fit.seat is not None:
        yield from labelled("seat", str(fit.seat))
    if fit.press is None:
        return
    said = dict(fit.press.lines())
    if not fit.press.sound:
        yield from labelled("press", fit.press.verdict)
    words = [f"{name} {said[name]}" for name in ("push force", "pressure", "holds") if name in said]
    yield from labelled("press", f"{'; '.join(words)} (over {fit.press_over}; elastic figures)")
    for caution in fit.press.first_cautions:
        yield from labelled("caution", caution)
    if len(fit.press.cautions) > len(fit.press.first_cautions):
        yield from labelled("", "tenthwise press has all figures, and the cautions about heat and cold.")


def wear_verdict(wear: WearLine) -> str:
    """Return whether wear is seen: surely, perhaps or not; many features looked at, one in twenty seems to drift.

    A jump that no event explains makes a slope where there is none, or hides one.
    """
    if wear.departure is not None and wear.departure.after is not None:
        return SOMETHING_CHANGED
    if wear.p_value < SURE_OF_WEAR:
        return "wear seen"
    return "perhaps wear" if wear.seen else "no wear seen"


def wear_words(feature: FeatureCheck, scale: Scale) -> str:
    """Return one sentence on whether size moves with part number, and how many pieces are left."""
    wear = feature.wear
    if wear is None:
        return feature.reasons.get("wear", "not looked for")
    slope = interval_words(wear.slope, finer(scale), f"{scale.small} a piece", signed=True)
    if wear.departure is not None:
        return f"size moves by {slope}, but not along a line: {_departure_words(wear.departure, feature, scale)}"
    if not wear.seen:
        write = finer(scale)
        return (
            f"none seen: {slope}; up to {write(wear.hidden)} a piece could hide in {wear.n} pieces,"
            f" {2 * wear.n} would show {write(wear.hidden_in_twice)}"
        )
    if wear.p_value >= SURE_OF_WEAR:
        return (
            f"perhaps: {slope}; without any wear a slope like this comes in {share(wear.p_value)} of batches,"
            " so measure more pieces before acting on it"
        )
    words = f"size moves by {slope}"
    each = f"{wear.confidence:.0%}".replace("%", " %")
    if wear.past:
        words += "; the mean is past the limit already"
    elif wear.pieces_left_safe == 0:
        words += f"; not even the next piece is within limits with {each}"
    elif wear.pieces_left_safe is not None:
        more = "one more piece is" if wear.pieces_left_safe == 1 else f"{wear.pieces_left_safe} more pieces are each"
        words += f"; {more} within limits with {each}"
    if wear.pieces_left == 0 and not wear.past:
        words += ", and the mean of the next is past the limit"
    elif wear.pieces_left:
        words += f", the mean reaches the limit after {wear.pieces_left}"
    return words + (f"; {wear.reason}" if wear.reason else "")


def _departure_words(found: Departure, feature: FeatureCheck, scale: Scale) -> str:
    """Return where pieces depart from their line, how often that is a false alarm, and what to do about it."""
    rarely = share(found.p_value) if found.p_value < 0.001 else f"at most {share(found.p_value)}"
    chance = f"pieces that follow a line seem to depart so clearly in {rarely} of batches"
    how_far = f"{scale.off(found.amount)} {scale.small}"
    if found.after is None:
        return (
            f"it bends by {scale.off(found.amount, signed=False)} {scale.small} ({chance}), so a straight line ahead"
            " misses it and how many pieces are left cannot be said"
        )
    after = str(found.after) if feature.sizes is None else feature.sizes.piece[round(found.after) - 1]
    return (
        f"it looks as if something changed after piece {after}, where size jumps by {how_far} ({chance}). If the tool"
        " was changed or the offset moved there, log the event; until then the slope holds the jump too, and how many"
        " pieces are left cannot be said"
    )


def finer(scale: Scale) -> Write:
    """Return a writer of small differences (slopes, gauge noise): two decimals, or two digits of a smaller one."""

    def write(value: float, signed: bool = False) -> str:
        small = convert(value, scale.unit, small_unit(scale.unit))
        below = 0 < abs(small) < SMALLEST_IN_TWO
        decimals = min(1 - math.floor(math.log10(abs(small))), MOST_DECIMALS) if below else 2
        return format_number(small, decimals, signed=signed)

    return write


def _gap_words(fit: FitCheck, scale: Scale) -> str:
    ends = [scale.size(value, signed=True) for value in (fit.gap_lower, fit.gap_upper) if value is not None]
    word = " to ".join(ends) if len(ends) == 2 else ("at least " if fit.gap_upper is None else "at most ") + ends[0]
    words = f"wanted {word}"
    if fit.target is not None:
        words += f", aim {scale.size(fit.target, signed=True)}"
    if fit.mean_gap is not None:
        words += f"; mean {scale.size(fit.mean_gap, signed=True)}"
    sides = f"{plain_name(fit.internal)} minus {plain_name(fit.external)}"
    return f"{words} {scale.unit} ({sides}; minus is interference)"


def _component_words(feature: FeatureCheck, scale: Scale) -> str:
    parts = feature.components
    assert parts is not None
    words = [f"between pieces {scale.off(parts.between_sd.estimate, signed=False)}"]
    if parts.form_sd is not None:
        words.append(f"form {scale.off(parts.form_sd.estimate, signed=False)}")
    if parts.repeatability_sd is not None:
        words.append(f"gauge {scale.off(parts.repeatability_sd.estimate, signed=False)}")
    else:
        words.append(f"within a piece {scale.off(parts.within_sd.estimate, signed=False)}")
    return f"{', '.join(words)} {scale.small}"


def _capability_words(feature: FeatureCheck) -> str:
    found = feature.capability
    assert found is not None
    parts = []
    for name, value in (("Pp", found.pp), ("Ppk", found.ppk)):
        if value is not None:
            parts.append(f"{name} {value.estimate:.2f} (between {value.low:.2f} and {value.high:.2f})")
    return "; ".join([*parts, beyond_words(feature)])


def _shift_lines(cut_next: str | None, shift: Shift | None, scale: Scale) -> Iterator[str]:
    if shift is None or cut_next is None:
        return
    yield from labelled("next cut", f"{plain_name(cut_next)}: {shift.enter} {shift.reason}")


def pair_table(fit: FitCheck, scale: Scale, *, most: int | None = MOST_ROWS) -> Iterator[str]:
    """Yield the pairs of a fit as a table; ``most`` rows, or all of them."""
    heads = (plain_name(fit.internal), "size", plain_name(fit.external), "size", "gap", "room", "")
    rows = [
        (
            row.internal,
            scale.size(row.internal_size),
            row.external,
            scale.size(row.external_size),
            scale.size(row.gap, signed=True),
            f"{scale.off(row.margin, signed=False)} +- {scale.off(1.96 * row.uncertainty, signed=False)}",
            "measure again" if row.near else "",
        )
        for row in fit.pairs[:most]
    ]
    yield ""
    yield from table(
        [*rows],
        heads,
        note=f"sizes and gap in {LONG_UNIT[scale.unit]}, room to the nearer limit in {scale.small} (95 %)"
        f"{before_work(fit.plan if fit.assembly is None else None)}",
    )
    if most is not None and len(fit.pairs) > most:
        more = len(fit.pairs) - most
        yield f"  ... and {more} more {noun(more, 'pair')}: tenthwise pair prints them all"


def _faults(readings: Import) -> Iterator[str]:
    from tracker.readings import refusal_words

    for row in readings.suspects.head(MOST_FAULTS).to_dict("records"):
        asked = row["question"] or f"{plain_name(row['feature'])} piece {row['piece']}: {row['suspect']}"
        meant = row["suggestion"]
        maybe = f" It may have been {meant}." if meant and meant not in asked else ""
        yield from labelled("suspect", f"{row['file']}, row {row['row']}: {asked}{maybe}")
    yield from _further("suspect", len(readings.suspects))
    if len(readings.suspects):
        yield from labelled("", "Suspect readings are left out until they are corrected, or kept with --keep-suspects.")
    for row in readings.refused.head(MOST_FAULTS).to_dict("records"):
        yield from labelled("refused", refusal_words({str(key): value for key, value in row.items()}))
    yield from _further("refused", len(readings.refused))


def _further(word: str, count: int) -> Iterator[str]:
    if count > MOST_FAULTS:
        yield from labelled(word, f"... and {count - MOST_FAULTS} more: --json names them all")


def _closure_lines(answer: Check, item: ClosureCheck) -> Iterator[str]:
    scale = Scale(answer.unit, item.step)
    if item.assembly is None:
        yield f"{plain_name(item.name)}: {item.verdict.word.upper()}"
        yield from labelled("why", item.verdict.reason)
        yield from labelled("do", item.verdict.action)
    else:
        yield f"{plain_name(item.name)}: one of {plain_name(item.assembly)}, judged at once above; this closure alone:"
    ends = [
        f"{word} {scale.size(value)}" for word, value in (("from", item.lower), ("to", item.upper)) if value is not None
    ]
    yield from labelled("limits", f"{' '.join(ends) or 'none stated'} {answer.unit}")
    found = item.result
    if found is None:
        return
    sums = found.root_sum_square
    yield from labelled(
        "sum",
        f"mean {scale.size(found.mean)}, three standard deviations either way {scale.size(sums.low)} to"
        f" {scale.size(sums.high)} {answer.unit}",
    )
    yield from labelled("chance", f"pieces not made yet: one sum within limits {chance_words(found.chance)}")
    most = found.contributions[0]
    yield from labelled("scatter", f"{share(most.share)} of it comes from {most.name} ({most.source})")
    yield from closure_pairs_where_chosen(item, scale)
