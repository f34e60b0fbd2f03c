"""What the press bench sheet lists beside measured pairs: trays, the work of a plan, its pairs, what is set aside."""

from __future__ import annotations

import numpy as np
from markupsafe import Markup

from dashboard.figures.numbers import Numbers, typeset
from dashboard.parts.answers import Answer
from dashboard.sheets.paper import grid, section, tag
from tracker.decide.words import count, first_up, listed, number_word
from tracker.errors import TrackerError
from tracker.fit.press_results import PressFit
from tracker.judge import FitCheck, PlannedPair, plain_name
from tracker.judge.joints import press_of
from tracker.judge.words import left_words

AS_IS = "press as is"


def is_planned(fit: FitCheck) -> bool:
    """Return whether the sheet follows the plan: pieces are reworked or made first, and others pair then."""
    return fit.verdict.word in ("rework", "remake") and bool(fit.planned)


def is_sorted(fit: FitCheck) -> bool:
    """Return whether the sheet lists trays in place of pairs."""
    return fit.verdict.word == "sort" and fit.classes is not None


def press_told(fit: FitCheck) -> PressFit | None:
    """Return the press whose forces stand beside the pairs; none where a part yields, as elastic ones mislead then."""
    return None if fit.do_not_press else fit.press


def force_of(answer: Answer, fit: FitCheck, gaps: list[float]) -> str:
    """Return the force for these gaps, without its unit."""
    try:
        found = press_of(answer.job, answer.job.fits[fit.name], np.array(gaps))
    except TrackerError:
        return "cannot say"
    return found.ranges["push_force"].text(found.units["force"]).removesuffix(found.units["force"]).strip()


def tray_table(answer: Answer, fit: FitCheck, numbers: Numbers) -> Markup:
    """Return what lies in each tray, with boxes for what is sorted and pressed."""
    found, press = fit.classes, press_told(fit)
    assert found is not None
    sides = []
    for name, places in ((fit.internal, found.class_internal), (fit.external, found.class_external)):
        sizes = answer.check.feature(name).sizes
        assert sizes is not None
        sides.append((np.array(sizes.piece, dtype=object), sizes.size, places))
    names = [plain_name(fit.internal), plain_name(fit.external)]
    heads = [
        ("tray", "p-strong"),
        ("what lies in it, and what comes of it", ""),
        (f"from, to, {numbers.unit}", "p-num"),
        ("sorted", "p-tick"),
        ("pressed", "p-line"),
    ]
    rows: list[list[object]] = []
    for tray, letter in enumerate(found.labels):
        inside = [(pieces[places == tray], sizes[places == tray]) for pieces, sizes, places in sides]
        for name, (pieces, sizes) in zip(names, inside):
            listing = f"{first_up(count(len(pieces), name))}: {', '.join(pieces)}" if len(pieces) else f"No {name}"
            rows.append([letter if name == names[0] else "", listing, _span(sizes, numbers), tag("i"), ""])
        gaps = np.subtract.outer(inside[0][1], inside[1][1]).ravel()
        if gaps.size:
            ends = [float(gaps.min()), float(gaps.max())]
            words = f"gap {' to '.join(numbers.off(end) for end in ends)} {numbers.small}"
            if press:
                words += f", force {force_of(answer, fit, ends)} {press.units['force']}"
            rows.append(["", tag("b", words), "", "", tag("i")])
    outside = [
        f"{plain_name(name)} {listed(pieces[places < 0])}"
        for name, (pieces, _, places) in zip((fit.internal, fit.external), sides)
        if (places < 0).any()
    ]
    how = f"Gaps of every pair that may meet in a tray, {names[0]} minus {names[1]}, as the pieces read."
    if outside:
        how += f" In no tray, not to be pressed: {'; '.join(outside)}."
    title = f"{count(len(found.labels), 'tray').capitalize()} a side: press within a letter, never across"
    return section(title, grid(heads, rows, label="what lies in each tray"), how=how)


def _span(sizes: np.ndarray, numbers: Numbers) -> str:
    return f"{numbers.size(float(sizes.min()))} to {numbers.size(float(sizes.max()))}" if sizes.size else ""


def first_work(fit: FitCheck) -> Markup:
    """Return what is reworked and made before anything is pressed, a box to tick each."""
    assert fit.plan is not None
    lines = [line for line in fit.plan.work if not line.startswith("Press ")]
    rows = [tag("tr", tag("td", tag("i"), look="p-tick"), tag("td", typeset(line))) for line in lines]
    parts = [
        count(number, f"piece to {word}", f"pieces to {word}")
        for number, word in (
            (fit.plan.reworked, "rework"),
            (sum(one.pieces.number for one in fit.plan.to_make), "make"),
        )
        if number
    ]
    work = tag("table", *rows, **{"aria-label": "work before pressing"})
    return section(f"First: {' and '.join(parts)}", work, how=fit.plan.left_out)


def planned_table(answer: Answer, fit: FitCheck, numbers: Numbers) -> Markup:
    """Return the pairs of the plan, reworked and new pieces named, with room for what they measure afterwards."""
    bore, shank = plain_name(fit.internal), plain_name(fit.external)
    press = press_told(fit)
    heads = [
        (bore, "p-strong"),
        (f"size, {numbers.unit}", "p-num"),
        (shank, "p-strong"),
        (f"size, {numbers.unit}", "p-num"),
        ("first", ""),
        (f"gap, {numbers.small}", "p-num"),
        *([(f"force, {press.units['force']}", "p-num")] if press else []),
        ("measured", "p-line"),
        ("done", "p-tick"),
        ("force seen" if press else "remark", "p-line"),
    ]
    rows = []
    for pair in fit.planned:
        says = _work_on(pair, bore, shank)
        rows.append(
            [
                pair.internal or "new",
                _size(pair.internal_size, numbers),
                pair.external or "new",
                _size(pair.external_size, numbers),
                tag("span", says, look="p-flag") if says else "",
                "" if pair.gap is None else numbers.off(pair.gap),
                *([force_of(answer, fit, [pair.gap]) if pair.gap is not None else ""] if press else []),
                tag("i") if says else "",
                tag("i"),
                tag("i"),
            ]
        )
    work = sum(pair.work != AS_IS for pair in fit.planned)
    title = f"{count(len(rows), 'pair').capitalize()} as the plan lists them, {number_word(work)} of them after work"
    low = "open" if fit.gap_lower is None else numbers.off(fit.gap_lower)
    high = "open" if fit.gap_upper is None else numbers.off(fit.gap_upper)
    how = (
        f"Sizes as they read, or as they are to come out; the gap is of these two, allowed {low} to {high}"
        f" {numbers.small}, {bore} minus {shank}."
    )
    if fit.assembly is not None:
        how += f" The pairs meet {plain_name(fit.assembly)} at once: do not change them."
    table = grid(heads, rows, look="p-tight", label=f"which {shank} goes into which {bore} by the plan")
    return section(title, table, how=how)


def _size(size: float | None, numbers: Numbers) -> str:
    return "to suit" if size is None else numbers.size(size)


def _work_on(pair: PlannedPair, bore: str, shank: str) -> str:
    """Return what is done to the pieces of a pair first; nothing when both go as they are."""
    said = []
    for piece, cut, name in ((pair.internal, pair.internal_cut, bore), (pair.external, pair.external_cut, shank)):
        if piece is None:
            said.append(f"new {name}")
        elif cut:
            said.append(f"rework {name}")
    return " and ".join(said) or ("rework" if pair.work != AS_IS else "")


def set_aside(answer: Answer, fit: FitCheck) -> Markup | None:
    """Return the pieces that are not to be pressed, and why; by the plan where the sheet follows it.

    Where any piece goes with any of its tray or of the batch, only those without a size are set aside.
    """
    groups: dict[tuple[str, str], list[str]] = {}
    planned = {
        fit.internal: {pair.internal for pair in fit.planned},
        fit.external: {pair.external for pair in fit.planned},
    }
    why = {(item.feature, item.piece): item.why for item in fit.left_over}
    for name in (fit.internal, fit.external):
        sizes = answer.check.feature(name).sizes
        measured = () if sizes is None else sizes.piece
        found = [item.piece for item in fit.left_over if item.feature == name]
        if is_planned(fit):
            unsized = [piece for piece in found if piece not in measured]
            found = [piece for piece in measured if piece not in planned[name]] + unsized
        elif is_sorted(fit) or fit.verdict.word == "press as they come":
            found = [piece for piece in found if piece not in measured]
        for piece in found:
            groups.setdefault((name, why.get((name, piece), "the plan has no mate for it")), []).append(piece)
    if not groups:
        return None
    lines = [left_words(name, pieces, reason) for (name, reason), pieces in groups.items()]
    number = sum(len(pieces) for pieces in groups.values())
    head = f"{first_up(count(number, 'piece'))} set aside, not to be pressed"
    if len(lines) == 1:
        return tag("p", tag("b", f"{head}. "), typeset(f"{first_up(lines[0])}."), look="p-after")
    return section(
        head,
        tag("ul", *[tag("li", typeset(line)) for line in lines], look="p-notes"),
    )
