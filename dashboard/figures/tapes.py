"""Batches over the years, a tape for each machine (part, tool, operator), hung side by side from their limits."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from dashboard.figures.drawing import Drawing, width_of
from dashboard.figures.numbers import Numbers
from dashboard.figures.when import day, months
from tracker.history import History, Strand
from tracker.units import convert

MOST_TAPES = 12
MOST_ROWS = 3
MOST_STEPS = 150
NARROWEST, WIDEST, BETWEEN = 104.0, 250.0, 22.0
ROOMY_FROM, ROOMY = 700.0, 150.0
WORTH_DRAWING = 3
MARGIN = 62.0
REACH = 1.5
HEAD, BAND, CUT, FOOT = 44.0, 28.0, 30.0, 10.0
LOOKS = {"internal": "bore", "external": "shank"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Tape:
    """One tape: batches of everything that one machine (part, tool, operator) made, and the strand to look at.

    Arrays have one entry a batch, ascending by ``rank``.

    Attributes
    ----------
    name : str
    rank : ndarray of int
        Place of the batch in the order in which all were begun.
    mean, half : ndarray of float
        Mean size and sd as shares of half the tolerance: -1 is the lower limit, 1 the upper one.
    look : sequence of str
        ``bore``, ``shank`` or ``length``.
    says : sequence of str
    strand : Strand or None
        The strand that moved, with its levels before and after in ``levels`` (shares).
    cut : int or None
        Rank of the first batch after the move.
    since : str
    moved : str
        By how much, in words.
    worst : int or None
        Rank of the history's worst batch, if it is on this tape.
    """

    name: str
    rank: np.ndarray
    mean: np.ndarray
    half: np.ndarray
    look: Sequence[str]
    says: Sequence[str]
    strand: Strand | None = None
    levels: tuple[float, float] = (0.0, 0.0)
    cut: int | None = None
    since: str = ""
    moved: str = ""
    worst: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Wall:
    """All tapes, those that moved first, and what they share.

    Attributes
    ----------
    tapes : tuple of Tape
    ranks : int
        How many batches have a place.
    months : sequence of (int, str)
        Rank of the first batch of each month, and its name.
    left_out : int
        Batches with no two limits, which have no place on a tape.
    more : int
        Tapes that are not drawn.
    told : bool
        Whether any strand has batches enough to tell.
    """

    tapes: tuple[Tape, ...]
    ranks: int
    months: Sequence[tuple[int, str]]
    left_out: int
    more: int
    told: bool = True


def wall_of(found: History, strands: Sequence[Strand], numbers: Numbers, worst: int | None = None) -> Wall:
    """Return the tapes that a history makes, one for each value that its strands are told apart by.

    Parameters
    ----------
    found : History
    strands : sequence of Strand
        As `tracker.history.strands_of` returns them.
    numbers : Numbers
    worst : int, optional
        Place in the history of the batch to point at.
    """
    about = {name: found.about[name][found.batch] for name in ("lower", "upper", "nominal", "begun", "kind", "unit")}
    half = (about["upper"] - about["lower"]) / 2
    limited = np.isfinite(half) & (half > 0)
    safe = np.where(limited, half, 1.0)
    middle = np.where(limited, (about["upper"] + about["lower"]) / 2 - about["nominal"], 0.0)
    mean = (found.spread.mean - middle) / safe
    spread = np.where(found.spread.known, found.spread.sd, 0.0) / safe
    begun = about["begun"].astype(str)
    order = np.lexsort((found.batch, begun))
    order = order[limited[order]]
    rank = np.full(begun.size, -1)
    rank[order] = np.cumsum(np.diff(found.batch[order], prepend=-1) != 0) - 1
    by_value: dict[str, list[Strand]] = {}
    for strand in strands:
        by_value.setdefault(strand.value, []).append(strand)
    tapes = []
    for name, mine in by_value.items():
        at = np.concatenate([strand.at for strand in mine])
        at = at[limited[at]]
        at = at[np.argsort(rank[at], kind="stable")]
        if not at.size:
            continue
        tapes.append(
            Tape(
                name=name,
                rank=rank[at],
                mean=mean[at],
                half=spread[at],
                look=[LOOKS.get(str(kind), "length") for kind in about["kind"][at]],
                says=[_says(found, int(place), numbers) for place in at] if at.size <= MOST_STEPS else [""] * at.size,
                worst=int(rank[worst]) if worst is not None and worst in at else None,
                **_moved(mine[0], numbers, rank, limited, safe, mean, begun),
            )
        )
    worth = [tape for tape in tapes if tape.rank.size >= WORTH_DRAWING] or tapes
    shown = worth[:MOST_TAPES]
    dated = np.full(int(rank.max(initial=-1)) + 1, "", dtype=begun.dtype)
    dated[rank[order]] = begun[order]
    return Wall(
        tapes=tuple(shown),
        ranks=dated.size,
        months=months(dated.tolist()),
        left_out=int(np.unique(found.batch[~limited]).size),
        more=len(tapes) - len(shown),
        told=any(strand.told for strand in strands),
    )


def _moved(strand: Strand, numbers: Numbers, rank, limited, safe, mean, begun) -> dict:  # type: ignore[no-untyped-def]
    first = strand.at[strand.first]
    if not strand.moved or not limited[strand.at].all():
        return {}
    step = numbers.off(convert(strand.move, strand.unit, numbers.unit))
    sides = strand.at[: strand.first], strand.at[strand.first :]
    return {
        "strand": strand,
        "levels": tuple(float(mean[side].mean()) for side in sides),
        "cut": int(rank[first]),
        "since": day(str(begun[first])),
        "moved": f"{step} {numbers.small}",
    }


def _says(found: History, at: int, numbers: Numbers) -> str:
    batch = int(found.batch[at])
    about = found.about
    unit = str(about["unit"][batch])
    target = about["target"][batch] - about["nominal"][batch]
    bias = float(found.spread.mean[at]) - (0.0 if np.isnan(target) else float(target))
    label = f" {about['label'][batch]}" if about["label"][batch] else ""
    words = f"{about['part'][batch]}, {about['feature'][batch]}{label}, {day(str(about['begun'][batch]))}:"
    return f"{words} {numbers.off(convert(bias, unit, numbers.unit))} {numbers.small} from target"


def tapes_title(wall: Wall) -> str:
    """Return what the tapes show: what moved first, by how much and since when."""
    if not wall.tapes:
        return "No batch has two limits, so none has a place on a tape"
    moved = [tape for tape in wall.tapes if tape.strand is not None]
    batches = f"{wall.ranks:,} batch{'' if wall.ranks == 1 else 'es'}"
    if not wall.told:
        return f"{batches} so far: too few to tell whether anything moved"
    if not moved:
        return f"No tape is cut: nothing moved in {batches}, as far as they tell"
    first = moved[0]
    words = f"{_capital(first.name)} moved by {first.moved} on {first.since}"
    return words if len(moved) == 1 else f"{words}; {len(moved)} of {len(wall.tapes) + wall.more} tapes are cut"


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]


@dataclass(slots=True)
class Rows:
    """Where the ranks stand along one row of tapes: opened at each cut, thinned to steps where there are many."""

    ranks: int
    cuts: list[int]
    top: float
    tall: float
    step: float = field(init=False)
    each: int = field(init=False)

    def __post_init__(self) -> None:
        self.each = max(1, -(-self.ranks // MOST_STEPS))
        self.step = min(13.0, max(3.0, self.tall / max(-(-self.ranks // self.each), 1)))

    def y(self, rank: int) -> float:
        """Return the middle of a rank."""
        opened = sum(cut // self.each <= rank // self.each for cut in self.cuts)
        return self.top + (rank // self.each + 0.5) * self.step + opened * CUT

    @property
    def bottom(self) -> float:
        """Where the last rank ends."""
        return self.y(max(self.ranks - 1, 0)) + self.step / 2 + 4


def tapes(wall: Wall, width: float = 900) -> Drawing:
    """Return the wall of tapes; at most 12 tapes of 150 steps, so never more than 5,000 marks.

    Parameters
    ----------
    wall : Wall
    width : float

    Notes
    -----
    Where there are more batches than steps, each step of a tape shows the least and the greatest mean of its batches,
    so that none that stands out is lost in the thinning.
    """
    room = width - MARGIN
    least = ROOMY if width >= ROOMY_FROM else NARROWEST
    across = max(1, min(len(wall.tapes), int((room + BETWEEN) // (least + BETWEEN))))
    shown = wall.tapes[: across * MOST_ROWS]
    wide = min((room + BETWEEN) / across - BETWEEN, WIDEST)
    drawing_rows = [shown[start : start + across] for start in range(0, len(shown), across)]
    more = wall.more + len(wall.tapes) - len(shown)
    left_out = f" {wall.left_out:,} batches have no two limits and are not drawn." if wall.left_out else ""
    thinned = -(-wall.ranks // MOST_STEPS)
    how = (
        "Each tape hangs between its limits, however wide, the oldest batch on top; a bar is a batch: its mean the"
        " heavy edge, one sd to each side"
        if thinned <= 1
        else f"Each tape hangs between its limits, however wide, the oldest on top; {thinned} batches a step, from the"
        " least mean to the greatest"
    )
    how += ". A tape is cut where its level moved." + left_out
    how += f" The table names {more} more." if more else ""
    placed, tall = [], (640.0 if width >= ROOMY_FROM else 420.0)
    top = 0.0
    for row in drawing_rows:
        cuts = sorted({tape.cut for tape in row if tape.cut is not None})
        rows = Rows(ranks=wall.ranks, cuts=cuts, top=top + HEAD + BAND + 8, tall=tall)
        placed.append((row, rows, top))
        top = rows.bottom + FOOT + 22
    drawing = Drawing(width, max(top - 22, 60), tapes_title(wall), how)
    for row, rows, begin in placed:
        _dates(drawing, wall, rows)
        for index, tape in enumerate(row):
            _tape(drawing, tape, rows, MARGIN + index * (wide + BETWEEN), wide, begin)
    return drawing


def _dates(drawing: Drawing, wall: Wall, rows: Rows) -> None:
    reached = -100.0
    for rank, words in wall.months:
        y = rows.y(rank)
        if y - reached >= 26:
            drawing.text(MARGIN - 14, y + 4.5, words, "n2", "end")
            reached = y


def _tape(drawing: Drawing, tape: Tape, rows: Rows, left: float, wide: float, top: float) -> None:
    def x(share: float) -> float:
        return left + (min(max(share, -REACH), REACH) + REACH) / (2 * REACH) * wide

    drawing.text(left, top + 15, _fitted(tape.name, wide, "wb"), "wb")
    small = f"{tape.moved}" if tape.strand else f"{tape.rank.size:,} batch{'' if tape.rank.size == 1 else 'es'}"
    drawing.text(left, top + 35, _fitted(small, wide, "w2"), "wb" if tape.strand else "w2")
    under = top + HEAD
    drawing.rect(left, under, wide, BAND, "band")
    drawing.line(left, under + BAND, left + wide, under + BAND, "tick")
    for share in (-1.5, -1, -0.5, 0, 0.5, 1, 1.5):
        drawing.line(x(share), under + BAND, x(share), under + BAND - (9 if share in (-1, 0, 1) else 5), "tick")
    if wide >= 116:
        drawing.text(x(-1), under + 15, "lower", "w", "middle")
        drawing.text(x(1), under + 15, "upper", "w", "middle")
    begin = under + BAND
    ends = [(begin, rows.bottom)]
    if tape.cut is not None:
        y = rows.y(tape.cut) - rows.step / 2
        ends = [(begin, y - CUT + 3), (y - 3, rows.bottom)]
        drawing.text(left, y - 9, _fitted(f"since {tape.since}", wide + BETWEEN, "w"), "w")
        drawing.line(left - 4, y - 5, left + wide + 4, y - 5, "cut")
    for start, stop in ends:
        drawing.rect(x(-1), start, x(1) - x(-1), stop - start, "ground")
    for start, stop in ends:
        for share in (-1, 1):
            drawing.line(x(share), start, x(share), stop, "limit")
        drawing.line(x(0), start, x(0), stop, "aim")
    for level, (start, stop) in zip(tape.levels, ends if tape.strand else ()):
        drawing.line(x(level), start, x(level), stop, "line")
    if rows.each > 1:
        _thinned(drawing, tape, rows, x)
    else:
        _batches(drawing, tape, rows, x)


def _batches(drawing: Drawing, tape: Tape, rows: Rows, x) -> None:  # type: ignore[no-untyped-def]
    tall = max(rows.step - 2, 2.5)
    for rank, mean, half, look, says in zip(tape.rank.tolist(), tape.mean, tape.half, tape.look, tape.says):
        y, low, high = rows.y(rank), x(mean - half), x(mean + half)
        if look == "bore":  # too low for a hatch: a thin bar, where an external one is full
            drawing.line(low, y, high, y, "boreline")
        else:
            drawing.rect(low, y - tall / 2, high - low, tall, f"{look}fill", says)
        if abs(mean) > 1:
            drawing.bead(x(mean), y, radius=4.5, form="struck", says=says)
        else:
            drawing.rect(x(mean) - 1.75, y - tall / 2, 3.5, tall, f"{look}dot", says)
        if rank == tape.worst:
            drawing.circle(x(mean), y, 9, "mark", f"the worst batch: {says}")


def _thinned(drawing: Drawing, tape: Tape, rows: Rows, x) -> None:  # type: ignore[no-untyped-def]
    """Draw each step of a tape from its least mean to its greatest, both with an edge."""
    step = tape.rank // rows.each
    starts = np.concatenate([[0], np.flatnonzero(np.diff(step)) + 1])
    least, most = np.minimum.reduceat(tape.mean, starts), np.maximum.reduceat(tape.mean, starts)
    look = tape.look[0] if len(set(tape.look)) == 1 else "length"
    tall = max(rows.step - 1, 2)
    for rank, low, high in zip(tape.rank[starts].tolist(), least, most):
        drawing.rect(x(low) - 1.2, rows.y(rank) - tall / 2, x(high) - x(low) + 2.4, tall, f"{look}dot")
    if tape.worst is not None:
        at = int(np.flatnonzero(tape.rank == tape.worst)[0])
        drawing.circle(x(float(tape.mean[at])), rows.y(tape.worst), 8, "mark", "the worst batch")


def _fitted(words: str, wide: float, look: str) -> str:
    """Return words cut to a width."""
    if width_of(words, look) <= wide:
        return words
    most = int(wide / width_of("x", look))
    return f"{words[: max(most - 1, 1)]}…"
