"""Pieces that belong to a batch and have no size: suspect, refused, or not measured; what is to be done with them."""

from __future__ import annotations

import dataclasses
from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING

from tracker.decide import Verdict
from tracker.decide.verdicts import CANNOT_SAY, MEASURE
from tracker.decide.words import count, listed, number_word, plural, set_aside_words
from tracker.judge.answers import LeftOver, Unsized
from tracker.judge.words import plain_name
from tracker.plurals import noun

if TYPE_CHECKING:
    import pandas as pd

    from tracker.job import Job
    from tracker.readings import Import

ANY = ""
"""Stands for the name of the feature where a refused row does not tell it."""
HELD, REFUSED = WITHOUT_SIZE = "no size, only suspect readings", "no size, only refused rows"
"""Why pieces without a size are left over."""


def unsized_of(job: Job, readings: Import) -> dict[str, Unsized]:
    """Return by feature what lies on the bench without a size; under `ANY` what may be of any of them."""
    refused = readings.refused
    of_row = list(zip(refused["row"].tolist(), refused["feature"].tolist(), refused["piece"].tolist()))
    found = {}
    for name, feature in job.features.items():
        counted = _pieces(readings.readings, name)
        held = [piece for piece in _pieces(readings.suspects, name) if piece not in counted]
        named = dict.fromkeys(piece for row, whose, piece in of_row if row and whose == name and piece)
        lost = [piece for piece in named if piece not in counted and piece not in held]
        short = 0
        if feature.pieces is not None and counted:
            short = max(feature.pieces - len(counted) - len(held) - len(lost), 0)
        complete = feature.pieces is not None and not short
        nameless = sum(bool(row) and whose == name and not piece for row, whose, piece in of_row)
        found[name] = Unsized(
            feature=name,
            held=tuple(held),
            refused=tuple(lost),
            rows=0 if complete else nameless,
            files=0,
            short=short,
            stated=feature.pieces,
        )
    found[ANY] = Unsized(
        feature=ANY,
        held=(),
        refused=(),
        rows=sum(bool(row) and not whose for row, whose, _ in of_row),
        files=sum(not row for row, _, _ in of_row),
        short=0,
        stated=None,
    )
    return {name: item for name, item in found.items() if item.any}


def _pieces(frame: pd.DataFrame, feature: str) -> dict[str, None]:
    """Return the pieces of a feature in a frame of readings, in their order."""
    return dict.fromkeys(frame["piece"][frame["feature"] == feature].tolist())


def unsized_words(item: Unsized) -> str:
    """Return what has no size, as it is set aside: ``holes 2 and 4``, ``two pins of 6``."""
    name = plain_name(item.feature)
    words = []
    if item.pieces:
        words.append(f"{name if len(item.pieces) == 1 else plural(name)} {listed(item.pieces)}")
    if item.short and item.pieces:
        words.append(f"{number_word(item.short)} more of {item.stated}")
    elif item.short:
        words.append(f"{count(item.short, name)} of {item.stated}")
    if item.rows:
        what = name or "piece"
        words.append(f"the {what if item.rows == 1 else plural(what)} of {count(item.rows, 'refused row')}")
    if item.files:
        words.append(f"what stands in {count(item.files, 'file')} that could not be read")
    return listed(words)


def remarks_of(job: Job, readings: Import, unsized: Mapping[str, Unsized]) -> tuple[str, ...]:
    """Return which pieces are in no figure: suspect or refused readings only, or fewer than the job says there are."""
    words = []
    for name, feature in job.features.items():
        item = unsized.get(name)
        for pieces, only in () if item is None else ((item.held, "suspect readings"), (item.refused, "refused rows")):
            if pieces:
                several = len(pieces) > 1
                words.append(
                    f"{plural(plain_name(name)) if several else plain_name(name)} {listed(pieces)}: only {only}, so"
                    f" {'they are' if several else 'it is'} in no figure and in no verdict"
                )
        counted = _pieces(readings.readings, name)
        if counted and feature.pieces is not None and len(counted) < feature.pieces:
            words.append(
                f"{len(counted)} of the {feature.pieces} pieces of {plain_name(name)}"
                f" {noun(len(counted), 'has', 'have')} readings that count; nothing is said of the others"
            )
    rows = sum(item.rows for item in unsized.values())
    if rows:
        words.append(
            f"{rows} refused {noun(rows, 'row does', 'rows do')} not tell whose reading it is; a piece with no other"
            " reading is in no figure and in no verdict"
        )
    return tuple(words)


def left_without_size(unsized: Mapping[str, Unsized], features: Iterable[str], named: Iterable[str]) -> list[LeftOver]:
    """Return the pieces of a part, of these features, that have no size; ``named`` are those listed already."""
    own = list(features)
    seen, found = set(named), []
    for item in (unsized[name] for name in own if name in unsized):
        for pieces, why in ((item.held, HELD), (item.refused, REFUSED)):
            found += [LeftOver(feature=own[0], piece=piece, why=why) for piece in pieces if piece not in seen]
            seen.update(pieces)
    return found


def said_of(unsized: Mapping[str, Unsized], features: Iterable[str]) -> str:
    """Return what of these features has no size, to be set aside; "" when all is known."""
    return "; ".join(unsized_words(unsized[name]) for name in (*features, ANY) if name in unsized)


def with_set_aside(verdict: Verdict, words: str) -> Verdict:
    """Return a verdict that says what has no size and is to be set aside, where pieces go together at all."""
    if not words or verdict.unread or verdict.word in (MEASURE, CANNOT_SAY):
        return verdict
    action = verdict.action if verdict.action != "Nothing." else ""
    return dataclasses.replace(verdict, action=f"{action}{set_aside_words(words)}".strip(), unread=words)
