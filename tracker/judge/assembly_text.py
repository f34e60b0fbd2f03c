"""An assembly, and a closure between two parts, as plain text: the verdict, the pairs, what is left over."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from tracker.decide.edges import NOT_MADE
from tracker.decide.words import listed
from tracker.judge.answers import AssemblyCheck, Check, ClosureCheck, FitCheck, LeftOver
from tracker.judge.layout import (
    LONG_UNIT,
    MOST_ROWS,
    before_work,
    chance_words,
    labelled,
    plan_words,
    set_aside_lines,
    table,
    unmade_words,
)
from tracker.judge.unsized import WITHOUT_SIZE
from tracker.judge.words import Scale, left_words, plain_name
from tracker.plurals import noun


def assembly_lines(answer: Check, item: AssemblyCheck) -> Iterator[str]:
    """Yield the lines about pieces that must meet several fits and closures at once."""
    scale = Scale(answer.unit, step_of_assembly(answer, item))
    yield f"{plain_name(item.name)}, at once: {item.verdict.word.upper()}"
    yield from labelled("why", item.verdict.reason)
    yield from labelled("do", item.verdict.action)
    yield from labelled("would change", item.verdict.what_would_change_it)
    if item.chance_any is not None:
        pair, every = chance_words(item.pair_any or 0.0), chance_words(item.chance_any)
        words = f"these pieces, met at random: one pair meets everything {pair}, all {item.wanted} in any order {every}"
        yield from labelled("chance", words)
    if item.chance_pairs is not None:
        near = sum(row.near for row in item.pairs)
        words = f"paired: {len(item.pairs)} within all limits, all hold with {chance_words(item.chance_pairs)} chance"
        yield from labelled("", words + (f"; {near} nearer to a limit than the gauge can tell" if near else ""))
    if item.plan is not None:
        yield from labelled("plan", plan_words(item.verdict, item.plan))
    for what, reason in item.reasons.items():
        yield from labelled("cannot say", f"{what.replace('_', ' ')}: {reason}")
    if item.pairs:
        yield from assembly_table(item, scale)
    yield from _plan_in_full(answer, item, scale)
    yield from _left_over(item.left_over)


def step_of_assembly(answer: Check, item: AssemblyCheck) -> float:
    """Return the finest step of the gauges behind an assembly."""
    fits = {fit.name: fit for fit in answer.fits}
    steps = [answer.feature(name).step for one in item.fits for name in (fits[one].internal, fits[one].external)]
    closures = {closure.name: closure for closure in answer.closures}
    return min([*steps, *(closures[name].step for name in item.closures)])


def assembly_table(item: AssemblyCheck, scale: Scale, *, most: int | None = MOST_ROWS) -> Iterator[str]:
    """Yield the pairs with every gap and sum; ``most`` rows, or all of them."""
    names = list(item.pairs[0].gaps)
    heads = (item.internal, item.external, *(plain_name(name) for name in names), "room", "")
    rows = [
        (
            row.internal,
            row.external,
            *(scale.size(row.gaps[name], signed=name in item.fits) for name in names),
            scale.off(row.margin, signed=False),
            "measure again" if row.near else "",
        )
        for row in item.pairs[:most]
    ]
    yield ""
    note = f"gaps and sums in {LONG_UNIT[scale.unit]}, room to the nearest limit of all in {scale.small}"
    note += before_work(item.plan)
    yield from table(rows, heads, note=note)
    if most is not None and len(item.pairs) > most:
        more = len(item.pairs) - most
        yield f"  ... and {more} more {noun(more, 'pair')}: tenthwise pair prints them all"


def _plan_in_full(answer: Check, item: AssemblyCheck, scale: Scale) -> Iterator[str]:
    """Yield every assembly of a plan that needs work first."""
    plan = item.plan
    if plan is None or not (plan.reworked or plan.remade):
        return
    words = []
    for one in (pair for pair in plan.pairs if pair.way != NOT_MADE):
        sides = [
            f"new {name}" if index is None else f"{name} {labels[index]}"
            for name, labels, index in (
                (item.internal, item.pieces[0], one.internal),
                (item.external, item.pieces[1], one.external),
            )
        ]
        cuts = listed(f"{cut.what} {scale.size(cut.size)}".strip() for cut in one.cuts)
        words.append(f"{sides[0]} with {sides[1]}" + (f" ({cuts})" if cuts else ""))
    yield from labelled("plan", f"in full: {'; '.join(words)}{unmade_words(plan)}")


def _left_over(left: Sequence[LeftOver]) -> Iterator[str]:
    by_reason: dict[tuple[str, str], list[str]] = {}
    for item in (one for one in left if one.why not in WITHOUT_SIZE):
        by_reason.setdefault((item.feature, item.why), []).append(item.piece)
    for (feature, why), pieces in by_reason.items():
        yield from labelled("left over", left_words(feature, pieces, why))


def no_press_lines(item: FitCheck | AssemblyCheck) -> Iterator[str]:
    """Yield that these pieces are not to be pressed, and what would do, where a part would pass its strength."""
    if item.do_not_press:
        yield from labelled("why not", item.verdict.reason)
        yield from labelled("do", item.verdict.action)


def assembly_pair_lines(answer: Check, item: AssemblyCheck) -> Iterator[str]:
    """Yield the pairing of an assembly, every pair a line."""
    scale = Scale(answer.unit, step_of_assembly(answer, item))
    pairs = f"{len(item.pairs)} of {item.wanted} {noun(item.wanted, 'pair')}"
    yield f"{plain_name(item.name)}, at once: {pairs} within all limits"
    if item.chance_pairs is not None:
        yield from labelled("chance", f"all these pairs hold: {chance_words(item.chance_pairs)}")
    yield from no_press_lines(item)
    if item.pairs:
        yield from assembly_table(item, scale, most=None)
    yield from _left_over(item.left_over)
    yield from set_aside_lines(item.verdict)


def closure_pair_lines(answer: Check, item: ClosureCheck) -> Iterator[str]:
    """Yield the pairing of a closure, every pair a line."""
    if item.made:
        yield from _made_lines(item, Scale(answer.unit, item.step))
        return
    if item.chance_pairs is None and not item.pairs:
        yield f"{plain_name(item.name)}: cannot be paired"
        yield from labelled("cannot say", f"{_why_no_pairs(answer, item)} {item.verdict.reason}")
        return
    wanted = item.verdict.wanted
    yield f"{plain_name(item.name)}: {len(item.pairs)} of {wanted} {noun(wanted, 'pair')} within limits"
    if item.chance_pairs is not None:
        yield from labelled("chance", f"all these pairs hold: {chance_words(item.chance_pairs)}")
    yield from _closure_table(item, Scale(answer.unit, item.step), most=None)
    yield from _left_over(item.left_over)
    yield from set_aside_lines(item.verdict)


def _why_no_pairs(answer: Check, item: ClosureCheck) -> str:
    if "which together" in item.reasons:
        return f"{item.reasons['which together']}."
    return "pieces are put together where all terms are measured and lie on two parts or more."


def _made_lines(item: ClosureCheck, scale: Scale) -> Iterator[str]:
    """Yield which pieces of three parts or more go together, every sum a line."""
    good = sum(row.within for row in item.made)
    yield f"{plain_name(item.name)}: {good} of {len(item.made)} sums within limits"
    yield from labelled("how", f"{item.made_how}.")
    if item.chance_pairs is not None:
        yield from labelled("chance", f"those within limits all hold: {chance_words(item.chance_pairs)}")
    if good < len(item.made):
        yield from labelled("why", item.verdict.reason)
        yield from labelled("do", item.verdict.action)
    yield from _made_table(item, scale, most=None)
    yield from _left_over(_in_no_row(item))
    yield from set_aside_lines(item.verdict)


def _in_no_row(item: ClosureCheck) -> list[LeftOver]:
    """Return the pieces left over that are not listed with a sum out of limits either."""
    return [one for one in item.left_over if all(row.pieces[one.feature] != one.piece for row in item.made)]


def _made_table(item: ClosureCheck, scale: Scale, *, most: int | None) -> Iterator[str]:
    heads = (*(plain_name(name) for name in item.made[0].pieces), "sum", "room", "")
    rows = [
        (
            *row.pieces.values(),
            scale.size(row.total),
            f"{scale.off(row.margin, signed=not row.within)} +- {scale.off(1.96 * row.uncertainty, signed=False)}",
            "measure again" if row.near else "" if row.within else "out of limits",
        )
        for row in item.made[:most]
    ]
    yield ""
    note = f"sums in {LONG_UNIT[scale.unit]}, room to the nearer limit in {scale.small} (95 %)"
    yield from table(rows, heads, note=note)
    if most is not None and len(item.made) > most:
        yield f"  ... and {len(item.made) - most} more sums: tenthwise pair prints them all"


def closure_pairs_where_chosen(item: ClosureCheck, scale: Scale) -> Iterator[str]:
    """Yield who goes with whom where a closure holds by choosing pieces, or where some of them must be changed."""
    if item.made and item.verdict.word not in ("press as they come", "cannot say"):
        yield from _made_table(item, scale, most=MOST_ROWS)
        yield from _left_over(_in_no_row(item))
    if item.assembly is None and item.verdict.word == "pair":
        yield from _closure_table(item, scale, most=MOST_ROWS)
        yield from _left_over(item.left_over)


def _closure_table(item: ClosureCheck, scale: Scale, *, most: int | None) -> Iterator[str]:
    rows = [
        (
            row.internal,
            row.external,
            scale.size(row.total),
            f"{scale.off(row.margin, signed=False)} +- {scale.off(1.96 * row.uncertainty, signed=False)}",
            "measure again" if row.near else "",
        )
        for row in item.pairs[:most]
    ]
    if not rows:
        return
    yield ""
    heads = (*(item.sides or ("piece", "with")), "sum", "room", "")
    note = f"sums in {LONG_UNIT[scale.unit]}, room to the nearer limit in {scale.small} (95 %)"
    yield from table(rows, heads, note=note)
    if most is not None and len(item.pairs) > most:
        more = len(item.pairs) - most
        yield f"  ... and {more} more {noun(more, 'pair')}: tenthwise pair prints them all"
