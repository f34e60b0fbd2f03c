"""What has drifted: every batch of the record by part, machine, tool, operator and month."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from typing import Any

import numpy as np
from dash import html

from dashboard.figures.numbers import MINUS
from dashboard.figures.tapes import tapes
from dashboard.figures.when import day
from dashboard.parts.address import WAYS, Address
from dashboard.parts.answers import Answers
from dashboard.parts.looking_back import LookedBack
from dashboard.parts.panels import Page, chooser, empty, panel, picture
from dashboard.parts.sentences import history_answer, history_reasons, moved_words
from dashboard.parts.tables import Column, table
from tracker.decide.words import share
from tracker.history import Group, HistoryError, Strand
from tracker.judge import plain_name
from tracker.units import convert, format_number

MOST_GROUPS = 60
MOST_BATCHES = 10
NOT_SAID = "not said"
QUESTION = "What has drifted, and since when?"


def page(answers: Answers, address: Address) -> tuple[Page, str]:
    """Return the page of the whole record, and the unit it speaks where the address names none."""
    try:
        seen = answers.back.at(address)
    except HistoryError:
        infos = answers.record.jobs()
        return _nothing(address), infos[0].unit if infos else "in"
    here = address.to(by=seen.by)
    options = [(way, address.to(by=way)) for way in WAYS]
    word, said = ("shift", "it has moved") if seen.moved else ("keep going" if seen.told else "cannot say", "")
    body: list[Any] = [picture("tapes", here, tapes(seen.wall)), _groups(seen), _worst(seen, address)]
    return (
        Page(
            question=QUESTION,
            answer=history_answer(seen),
            reasons=history_reasons(seen),
            word=word,
            said=said,
            choosers=[chooser("by", options, seen.by)],
            body=body,
        ),
        seen.numbers.unit,
    )


def _nothing(address: Address) -> Page:
    return Page(
        question=QUESTION,
        answer="Cannot say yet: no batch is measured.",
        word="cannot say",
        body=[
            empty(
                "The record holds no measured batch",
                "Log readings, or bring a job in; each batch then takes its place here, by part, machine and tool.",
                links=[("all jobs", address.to(page="", by="").href)],
            )
        ],
    )


def _groups(seen: LookedBack) -> html.Section:
    numbers, found = seen.numbers, seen.history
    lead: dict[str, Strand] = {}
    for strand in seen.strands:
        lead.setdefault(strand.value, strand)
    place = {name: index for index, name in enumerate(lead)}
    groups = list(found.groups)
    if seen.by != "month":
        groups.sort(key=lambda group: place.get(group.value, len(place)))
    units = Counter(group.value for group in groups)
    rows = [_group_row(group, lead.get(group.value), seen, units[group.value] > 1) for group in groups[:MOST_GROUPS]]
    heads = [
        Column(seen.by),
        *([] if seen.by == "month" else [Column("level")]),
        Column("batches", number=True),
        Column("pieces", number=True, wide=True),
        Column(f"off target, {numbers.small}", number=True, strong=True),
        Column("spread within", number=True, wide=True, roomy=True),
        Column("least Ppk", number=True, strong=True),
        Column("outside", number=True, wide=True),
        Column("gauge repeats to", number=True, wide=True, roomy=True),
        Column("batches to look at", number=True, wide=True),
    ]
    more = len(groups) - len(rows)
    how = (
        f"Off target, spread (sd) and what the gauge repeats to in {numbers.small}; outside is the expected share"
        " beyond the limits. To look at: a trend within the batch, a piece far off, or a mean far from its like."
    )
    if more > 0:
        how += f" The first {len(rows)} of {len(groups):,}; the command history gives all."
    return panel(_groups_title(groups, seen.by), table(heads, rows, label=f"batches by {seen.by}"), how=how)


def _groups_title(groups: Sequence[Group], by: str) -> str:
    """Return how many machines, parts or whatever they are told apart by there are; what says none is no such one."""
    named = {group.value for group in groups if group.value != NOT_SAID}
    silent = sum(group.batches for group in groups if group.value == NOT_SAID)
    rest = f"{silent:,} {'batch' if silent == 1 else 'batches'}"
    if not named:
        return f"No {by} is said of {rest}"
    title = f"{len(named):,} {by}{'' if len(named) == 1 else 's'}" + ("" if by == "month" else ", what moved first")
    return f"{title}; {rest} {'says' if silent == 1 else 'say'} none" if silent else title


def _group_row(group: Group, strand: Strand | None, seen: LookedBack, twice: bool) -> list[Any]:
    numbers = seen.numbers

    def off(value: float | None, *, signed: bool = False) -> str:
        return "" if value is None else numbers.off(convert(value, group.unit, numbers.unit), signed=signed)

    level = [] if seen.by == "month" else [_level(strand, seen)]
    return [
        f"{group.value}, {group.unit}" if twice else group.value,
        *level,
        f"{group.batches:,}",
        f"{group.pieces:,}",
        off(group.bias, signed=True),
        off(group.sd_within),
        _index(group.worst_ppk),
        "" if group.beyond is None else share(group.beyond),
        off(group.repeatability_sd),
        f"{group.drifting:,}",
    ]


def _index(value: float | None) -> str:
    return "" if value is None else format_number(value, 2, minus=MINUS)


def _level(strand: Strand | None, seen: LookedBack) -> str:
    if strand is None or not strand.told:
        return "too few batches to tell"
    return moved_words(strand, seen) if strand.moved else "no clear move"


def _worst(seen: LookedBack, address: Address) -> html.Section:
    found, numbers = seen.history, seen.numbers
    able = np.flatnonzero(found.capable.known)
    order = able[np.argsort(found.capable.ppk[able], kind="stable")][:MOST_BATCHES].tolist()
    if not order:
        return empty("Which job was worst cannot be told", "No batch has limits and two pieces or more that differ.")
    heads = [
        Column("job and batch"),
        Column("begun", wide=True),
        Column("pieces", number=True, wide=True),
        Column(f"off target, {numbers.small}", number=True, strong=True),
        Column("spread", number=True, wide=True),
        Column("Ppk", number=True, strong=True),
        Column("95 % interval", number=True, wide=True, roomy=True),
        Column("outside", number=True),
    ]
    rows = [_batch_row(seen, at, address) for at in order]
    how = "The least Ppk first, taken from the pieces as they came; outside is the expected share beyond the limits."
    without = seen.batches - np.unique(found.batch[able]).size
    if without:
        has = "has" if without == 1 else "have"
        how += f" {without:,} more {has} no Ppk: without limits, or with no two pieces that differ."
    return panel(
        f"The worst of {len(able):,} batches: Ppk {rows[0][5]}" if len(able) > 1 else f"Ppk {rows[0][5]}",
        table(heads, rows, label="the worst batches"),
        how=how,
    )


def _batch_row(seen: LookedBack, at: int, address: Address) -> Sequence[Any]:
    row, numbers = seen.history.row(at), seen.numbers

    def off(value: float | None, *, signed: bool = False) -> str:
        return "" if value is None else numbers.off(convert(value, row["unit"], numbers.unit), signed=signed)

    to = address.to(page="batch", job=row["job"], feature=row["feature"], by="")
    who = f", {seen.history.split_name[at] or NOT_SAID}" if seen.history.split_name else ""
    low, high = (_index(row[name]) for name in ("ppk_low", "ppk_high"))
    return [
        html.Span(
            [
                html.A(seen.names.get(row["job"], str(row["job"])), href=to.href),
                f", {plain_name(row['feature'])}{' ' + row['label'] if row['label'] else ''}{who}",
            ]
        ),
        day(row["begun"]),
        str(row["pieces"]),
        off(row["bias"], signed=True),
        off(row["sd"]),
        _index(row["ppk"]),
        f"{low} to {high}",
        share(row["beyond_lower"] + row["beyond_upper"]),
    ]
