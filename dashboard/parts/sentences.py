"""The one sentence at the top of each page; what it rests on comes from the results in their own words."""

from __future__ import annotations

from typing import TYPE_CHECKING

from dashboard.figures.numbers import Numbers
from dashboard.figures.when import day
from tracker.decide import Shift
from tracker.decide.words import count, first_up, listed, number_word, plural, share
from tracker.job import Feature
from tracker.judge import FeatureCheck, FitCheck, plain_name, wear_verdict
from tracker.units import convert

if TYPE_CHECKING:
    from dashboard.parts.looking_back import LookedBack
    from tracker.history import Strand


def fit_answer(fit: FitCheck) -> str:
    """Return whether the batches of a fit go together, in one sentence."""
    bore, shank = plain_name(fit.internal), plain_name(fit.external)
    word = fit.verdict.word
    if fit.do_not_press:
        return "Do not press: a part yields."
    if word in ("press as they come", "pair") and fit.verdict.internal == fit.verdict.external == 1:
        return f"Yes, the {shank} goes into the {bore}."
    if word == "press as they come":
        return f"Yes, any {shank} goes into any {bore}{', of those that have a size' if fit.verdict.unread else ''}."
    if word == "pair":
        return f"Yes, if each {shank} goes into its own {bore}."
    if word == "sort":
        return f"Yes, sorted into {count(len(fit.classes.labels), 'tray') if fit.classes else 'a few trays'}."
    if word in ("rework", "remake"):
        return f"Not yet. {_first_work(fit)}"
    if word == "measure better" and fit.pairing is None:
        return "Cannot say: pieces are known from one side only."
    if word == "measure better":
        return "Too close to tell with this gauge."
    missing = [plain_name(name) for name in (fit.internal, fit.external) if name in fit.reasons]
    return f"Cannot say yet: no {' and no '.join(missing)} is measured." if missing else "Cannot say yet."


def _first_work(fit: FitCheck) -> str:
    """Return what is done first: the one thing there is to do, else how many pieces are reworked and made."""
    plan = fit.plan
    if plan is None or len([line for line in plan.work if not line.startswith(("Press ", "Leave "))]) < 2:
        return first_sentence(fit.verdict.action)
    worked = [actions.count("rework") for actions in (plan.internal_actions, plan.external_actions)]
    names = [plain_name(fit.internal), plain_name(fit.external)] if fit.assembly is None else ["piece", "piece"]
    words = [f"rework {count(number, name)}" for number, name in zip(worked, names) if number]
    new = [count(item.pieces.number, f"new {item.name}") for item in plan.to_make]
    words += [f"make {listed(new)}"] if new else []
    return f"{first_up(listed(words))}." if words else first_sentence(fit.verdict.action)


def shift_answer(feature: str, shift: Shift, numbers: Numbers) -> str:
    """Return what to do to the next cut, in one sentence."""
    name = plain_name(feature)
    if shift.leave_alone:
        return f"Leave the {plural(name)} alone."
    way = "larger" if shift.change > 0 else "smaller"
    return f"Make the next {plural(name)} {numbers.about(shift.change)} {way}."


def wear_answer(found: FeatureCheck, feature: Feature) -> str:
    """Return whether the tool wears and how long it lasts, in one sentence."""
    wear, name, tool = found.wear, plain_name(found.name), feature.machine.tool
    if wear is None:
        return "Cannot say yet."
    if wear.departure is not None and wear.departure.after is not None and found.sizes is not None:
        piece = found.sizes.piece[round(wear.departure.after) - 1]
        return f"Cannot say: something changed after {name} {piece}, and no event says what."
    verdict = wear_verdict(wear)
    if verdict == "perhaps wear":
        return f"Perhaps. Measure more {plural(name)} before acting on it."
    if verdict != "wear seen":
        return "No wear can be seen."
    if wear.past:
        return f"Yes. See to the {tool} now: the middle is past the limit."
    safe = wear.pieces_left_safe
    if safe == 0:
        return f"Yes. See to the {tool} before the next {name}."
    if safe is not None:
        return f"Yes. See to the {tool} within {count(safe, f'more {name}')}."
    if wear.pieces_left is not None:
        return f"Yes, and the middle gets to the limit after {count(wear.pieces_left, f'more {name}')}."
    way = "larger" if wear.slope.estimate > 0 else "smaller"
    return f"Yes, {plural(name)} come out {way} and {way}."


def one_sided_words(found: FeatureCheck) -> str:
    """Return how many pieces are known from one side only; nothing where each has a size, or none is measured."""
    many = len(found.one_sided)
    if not many:
        return ""
    return f"Cannot say: {count(many, plain_name(found.name))} {'is' if many == 1 else 'are'} known from one side only."


def batch_answer(found: FeatureCheck, numbers: Numbers) -> str:
    """Return how a batch lies, in one sentence: how far off, how far apart."""
    name = plain_name(found.name)
    if found.sizes is None:
        return one_sided_words(found) or f"Cannot say yet: no {name} is measured."
    pieces = len(found.sizes)
    if found.summary is None:
        size = float(found.sizes.size[0])
        return (
            f"One {name} measures {numbers.size(size)} {numbers.unit}."
            if pieces == 1
            else f"{pieces} {plural(name)} are measured."
        )
    bias = found.summary.bias
    spread = f"they differ by {numbers.about(found.summary.sd.estimate)} (sd)"
    if bias is None:
        return f"The {plural(name)} average {numbers.size(found.summary.mean.estimate)} {numbers.unit}; {spread}."
    if bias.low <= 0 <= bias.high:
        return f"The {plural(name)} are on target as far as {count(pieces, 'piece')} can tell; {spread}."
    side = "over" if bias.estimate > 0 else "under"
    return f"The {plural(name)} run {numbers.about(bias.estimate)} {side} target; {spread}."


def jobs_answer(words: list[str], silent: int = 0) -> str:
    """Return what is on the bench, from the verdict words of all jobs, in one sentence.

    ``silent`` jobs ask for no fit and no sum, and so have no verdict.
    """
    if not words:
        return "Nothing is on the bench yet." if not silent else "No fit is asked for; the batches are known."
    go = sum(word in ("press as they come", "pair") for word in words)
    if go == len(words):
        return "Everything measured goes together." if go > 1 else "It goes together."
    waits = len(words) - go
    if not go:
        return f"{count(waits, 'job').capitalize()} {'waits' if waits == 1 else 'wait'} for a decision."
    first = f"{count(go, 'job').capitalize()} {'goes' if go == 1 else 'go'} together"
    return f"{first}, {number_word(waits)} {'needs' if waits == 1 else 'need'} work first."


def first_sentence(text: str) -> str:
    """Return the first sentence of a text; a point inside a number ends none."""
    head, stop, _ = text.partition(". ")
    return head + "." if stop else text


def sentence(text: str) -> str:
    """Return a remark as a sentence: a capital first, a full stop last; nothing stays nothing."""
    text = text.strip()
    return f"{text[:1].upper()}{text[1:]}{'' if text.endswith(('.', '!', '?')) else '.'}" if text else ""


def history_answer(seen: LookedBack) -> str:
    """Return what has drifted and since when, in one sentence."""
    moved = seen.moved
    if moved:
        first = moved[0]
        way = "larger" if first.move > 0 else "smaller"
        amount = seen.numbers.about(convert(first.move, first.unit, seen.numbers.unit))
        name = plain_name(first.feature)
        since = f"since {day(seen.begun(first))}"
        if seen.by in ("part", "month"):
            whose = "" if name == first.part else f" of {first.part}"
            return f"{_capital(plural(name))}{whose} come out {amount} {way} {since}."
        verb = "measures" if seen.by == "operator" else "cuts"
        return f"{_capital(first.value)} {verb} {plural(name)} {amount} {way} {since}."
    if seen.told:
        what = "part" if seen.by == "month" else seen.by
        return f"No {what} has drifted, as far as {seen.batches:,} batches tell."
    most = max((strand.at.size for strand in seen.strands), default=0)
    return f"Cannot say yet: six batches of one feature are needed, and there {'is' if most == 1 else 'are'} {most}."


def history_reasons(seen: LookedBack) -> list[str]:
    """Return which job was worst, and how much the answer rests on."""
    found = seen.history
    words = []
    if seen.worst is not None:
        row = found.row(seen.worst)
        label = f" {row['label']}" if row["label"] else ""
        outside = share(row["beyond_lower"] + row["beyond_upper"])
        words.append(
            f"The worst job is {seen.names.get(row['job'], row['job'])}: {plural(plain_name(row['feature']))}{label} of"
            f" {day(row['begun'])}, Ppk {row['ppk']:.2f}, {outside} expected outside the limits."
        )
    also = ", ".join(f"{strand.value} ({plain_name(strand.feature)})" for strand in seen.moved[1:4])
    rest = f" Also moved: {also}{' and more' if len(seen.moved) > 4 else ''}." if also else ""
    words.append(
        f"{found.readings:,} reading{'' if found.readings == 1 else 's'} in {seen.batches:,}"
        f" batch{'' if seen.batches == 1 else 'es'}; {seen.told} of {count(len(seen.strands), 'run')}"
        f" of like batches are long enough to tell a change of level, and a steady shop is accused of one at most once"
        f" in twenty looks.{rest}"
    )
    return words


def moved_words(strand: Strand, seen: LookedBack) -> str:
    """Return by how much a strand moved and since when, for a table."""
    amount = seen.numbers.off(convert(strand.move, strand.unit, seen.numbers.unit))
    return f"{plural(plain_name(strand.feature))} {amount} {seen.numbers.small} since {day(seen.begun(strand))}"


def _capital(text: str) -> str:
    return f"{text[:1].upper()}{text[1:]}"
