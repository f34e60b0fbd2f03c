"""A history in words: groups, and the batches to look at first."""

from __future__ import annotations

from collections.abc import Sequence

from tracker.history.grouping import Group
from tracker.history.summary import History
from tracker.units import convert, format_number, small_unit

Row = Sequence[str]


def history_text(found: History, most: int = 20) -> str:
    """Return a history as a few aligned lines: the groups if there are any, else the batches to look at first.

    Parameters
    ----------
    found : History
    most : int
        So many batches at most.
    """
    lines = [str(found)]
    if found.groups:
        lines += ["", *_aligned(_GROUP_HEAD, [_group_row(group) for group in found.groups])]
    else:
        shown = found.worst_first()[:most].tolist()
        lines += ["", *_aligned(_BATCH_HEAD, [_batch_row(found, at) for at in shown])]
        if len(found.batch) > len(shown):
            lines.append(f"and {len(found.batch) - len(shown):,} more; --most shows them, --json gives all")
    lines += [f"damaged and left out: {lost}" for lost in found.damaged]
    for batch in found.incomplete[:most]:
        part, feature = found.about["part"][batch], found.about["feature"][batch]
        lines.append(f"left out, as readings of it are lost: batch {batch} ({part}, {feature})")
    if len(found.incomplete) > most:
        lines.append(f"and {len(found.incomplete) - most:,} more left out; --json gives all")
    return "\n".join(lines)


_GROUP_HEAD = ("", "batches", "pieces", "readings", "bias", "sd within", "worst Ppk", "in batch", "drifting", "since")
_BATCH_HEAD = ("batch", "part, feature", "begun", "pieces", "bias", "sd", "Ppk", "drift", "gauge")


def _group_row(group: Group) -> Row:
    return (
        group.value,
        f"{group.batches:,}",
        f"{group.pieces:,}",
        f"{group.readings:,}",
        _small(group.bias, group.unit, signed=True),
        "" if group.sd_within is None else _small(group.sd_within, group.unit),
        "" if group.worst_ppk is None else f"{group.worst_ppk:.2f}",
        "" if group.worst_batch is None else str(group.worst_batch),
        f"{group.drifting:,}",
        (group.drifting_since or "")[:10],
    )


def _batch_row(found: History, at: int) -> Row:
    row = found.row(at)
    label = f" {row['label']}" if row["label"] else ""
    who = f", {found.split_name[at] or 'not said'}" if found.split_name else ""
    return (
        f"{row['batch']}{label}",
        f"{row['part']}, {row['feature']}{who}",
        row["begun"][:10],
        str(row["pieces"]),
        "" if row["bias"] is None else _small(row["bias"], row["unit"], signed=True),
        "" if row["sd"] is None else _small(row["sd"], row["unit"]),
        "" if row["ppk"] is None else f"{row['ppk']:.2f}",
        found.flags.words(at),
        ", ".join(row["gauges"]),
    )


def _small(value: float, unit: str, *, signed: bool = False) -> str:
    """Return a small difference in the unit in which a shop says it."""
    small = small_unit(unit)
    return f"{format_number(convert(value, unit, small), 2, signed=signed)} {small}"


def _aligned(head: Row, rows: Sequence[Row]) -> list[str]:
    table = [tuple(head), *map(tuple, rows)]
    widths = [max(len(row[column]) for row in table) for column in range(len(head))]
    return ["  ".join(cell.ljust(width) for cell, width in zip(row, widths)).rstrip() for row in table]
