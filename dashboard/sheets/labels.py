"""Labels for sorted trays, or for pairs, to be cut out and laid in."""

from __future__ import annotations

import datetime

from markupsafe import Markup

from dashboard.figures.numbers import Numbers, typeset
from dashboard.parts.answers import Answer
from dashboard.parts.sentences import fit_answer
from dashboard.sheets.bench_lists import is_planned
from dashboard.sheets.paper import Sheet, on_paper, stop, tag
from tracker.decide.words import count, listed, plural
from tracker.fit import Classes
from tracker.judge import FitCheck, plain_name
from tracker.judge.words import each_of
from tracker.spread import Sizes

KIND = "Tray labels"


def tray_labels(answer: Answer, fit: FitCheck, *, by: str, when: datetime.datetime) -> Sheet:
    """Return the labels of one fit: a tray each when sorted or taken as they come, else a pair each."""
    numbers = answer.numbers(fit.internal, fit.external)
    inner, outer = answer.check.feature(fit.internal).sizes, answer.check.feature(fit.external).sizes
    word, parts, labels = fit.verdict.word, [], []
    if inner is None or outer is None:
        title = fit_answer(fit)
        parts.append(stop("No labels yet.", fit.verdict.reason, fit.verdict.action))
    elif fit.do_not_press:
        title = fit_answer(fit)
        parts.append(stop("Do not press.", fit.verdict.reason, fit.verdict.action))
    elif word == "sort" and fit.classes is not None:
        title = "Press within a letter, never across."
        for side, found in ((fit.internal, inner), (fit.external, outer)):
            labels += _trays(fit, fit.classes, side, found, numbers)
    elif word == "press as they come":
        title = "One tray a side; any goes with any."
        labels = [_any(fit, side, found, numbers) for side, found in ((fit.internal, inner), (fit.external, outer))]
    elif is_planned(fit):
        title = "One label a pair of the plan; the two stay together."
        parts.append(stop("Do not press yet.", fit.verdict.action))
        labels = [_planned(fit, index, numbers) for index in range(len(fit.planned))]
    elif fit.pairs:
        title = "One label a pair; the two stay together."
        if word != "pair":
            parts.append(stop("Do not press yet.", fit.verdict.action, "The pairs below read within limits now."))
        labels = [_pair(fit, index, numbers) for index in range(len(fit.pairs))]
    else:
        title = "No labels: no pair is within limits."
        parts.append(stop("Do not press.", fit.verdict.reason, fit.verdict.action))
    labels += _not_planned(fit, inner, outer) if is_planned(fit) else _set_aside(fit)
    if labels:
        parts.append(tag("div", *labels, look="p-labels"))
    body = on_paper(answer, KIND, title, parts, features=(fit.internal, fit.external), by=by, when=when)
    return Sheet(name="labels", kind=KIND, title=title, job=answer.check.job, body=body)


def _label(letter: str, name: str, *lines: str) -> Markup:
    top = (tag("span", letter, look="p-letter"), tag("p", name, look="p-name"))
    return tag("div", *top, *[tag("p", typeset(line)) for line in lines if line], look="p-label")


def _trays(fit: FitCheck, found: Classes, side: str, sizes: Sizes, numbers: Numbers) -> list[Markup]:
    internal = side == fit.internal
    edges = found.edges_internal if internal else found.edges_external
    places = found.class_internal if internal else found.class_external
    other = plain_name(fit.external if internal else fit.internal)
    labels = []
    for index, letter in enumerate(found.labels):
        pieces = [piece for piece, place in zip(sizes.piece, places.tolist()) if place == index]
        low, high = numbers.size(float(edges[index])), numbers.size(float(edges[index + 1]))
        labels.append(
            _label(
                letter,
                f"{plural(plain_name(side))}",
                f"{low} to under {high} {numbers.unit}",
                f"{count(len(pieces), 'piece')}: {', '.join(pieces)}" if pieces else "no piece now",
                f"goes with {plural(other)} {letter}",
                "",
            )
        )
    return labels


def _any(fit: FitCheck, side: str, sizes: Sizes, numbers: Numbers) -> Markup:
    other = plain_name(fit.external if side == fit.internal else fit.internal)
    low, high = numbers.size(float(sizes.size.min())), numbers.size(float(sizes.size.max()))
    return _label(
        str(sizes.size.size), f"{plural(plain_name(side))}", f"{low} to {high} {numbers.unit}", f"goes with any {other}"
    )


def _pair(fit: FitCheck, index: int, numbers: Numbers) -> Markup:
    row = fit.pairs[index]
    bore, shank = plain_name(fit.internal), plain_name(fit.external)
    return _label(
        str(index + 1),
        f"{shank} {row.external} into {bore} {row.internal}",
        f"{shank} {numbers.size(row.external_size)}, {bore} {numbers.size(row.internal_size)} {numbers.unit}",
        f"gap {numbers.off(row.gap)} {numbers.small}",
        "Measure again before it is pressed." if row.near else "",
    )


def _planned(fit: FitCheck, index: int, numbers: Numbers) -> Markup:
    pair = fit.planned[index]
    bore, shank = plain_name(fit.internal), plain_name(fit.external)
    sides = (
        (shank, pair.external, pair.external_size, pair.external_cut),
        (bore, pair.internal, pair.internal_size, pair.internal_cut),
    )
    names = [f"{name} {piece}" if piece else f"new {name}" for name, piece, _, _ in sides]
    cut = [
        f"{name if piece else f'new {name}'} to {numbers.size(size)} {numbers.unit}"
        for name, piece, size, is_cut in sides
        if is_cut and size is not None
    ]
    sizes = [f"{name} {numbers.size(size)}" for name, _, size, _ in sides if size is not None]
    return _label(
        str(index + 1),
        f"{names[0]} into {names[1]}",
        f"First {listed(cut)}; measure before it is pressed." if cut else f"{', '.join(sizes)} {numbers.unit}",
        "" if pair.gap is None else f"gap {numbers.off(pair.gap)} {numbers.small}",
    )


def _not_planned(fit: FitCheck, inner: Sizes | None, outer: Sizes | None) -> list[Markup]:
    """Return a label a side for the measured pieces that the plan does without."""
    used = {
        fit.internal: {pair.internal for pair in fit.planned},
        fit.external: {pair.external for pair in fit.planned},
    }
    made = []
    for side, found in ((fit.internal, inner), (fit.external, outer)):
        pieces = [] if found is None else [piece for piece in found.piece if piece not in used[side]]
        if pieces:
            words = f"{listed(pieces)}: in no pair of the plan"
            made.append(_label("×", f"{plural(plain_name(side))} set aside", "Not to be pressed.", words))
    return made


def _set_aside(fit: FitCheck) -> list[Markup]:
    groups: dict[str, list[str]] = {}
    for item in fit.left_over:
        groups.setdefault(item.feature, []).append(f"{item.piece}: {item.why}")
    made = []
    for feature, lines in groups.items():
        by_reason: dict[str, list[str]] = {}
        for line in lines:
            piece, _, why = line.partition(": ")
            by_reason.setdefault(why, []).append(piece)
        words = [f"{listed(pieces)}: {each_of(why) if len(pieces) > 1 else why}" for why, pieces in by_reason.items()]
        made.append(_label("×", f"{plural(plain_name(feature))} set aside", "Not to be pressed.", *words))
    return made
