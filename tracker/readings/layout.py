"""From a line of column names to a `Layout`: tidy or wide, which feature, which piece, and the words that say so."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from tracker.errors import TrackerError
from tracker.readings.columns import (
    Layout,
    NoHeader,
    ValueColumn,
    feature_in_name,
    known_field,
    matching_feature,
    place_words,
    plain_words,
    split_unit,
)
from tracker.readings.entry import read_entry

ACCEPTED_HEADER = (
    "accepted is a line of column names: feature, piece, value (one reading a row), or piece and then one column"
    " for every feature or repeat (one row a piece)"
)


@dataclass(frozen=True, slots=True)
class Known:
    """What is known beside the header: the job's features and positions, and the names of file and sheet."""

    features: Sequence[str]
    positions: Mapping[str, Sequence[str]]
    stem: str
    sheet: str
    has_job: bool


def understand(cells: Sequence[str], known: Known, sample: Sequence[Sequence[str]]) -> Layout:
    """Return what a line of column names says.

    Parameters
    ----------
    cells : sequence of str
    known : Known
    sample : sequence of rows
        Some rows below, to tell labels from lengths.

    Raises
    ------
    NoHeader
        If it is not such a line; the text says what is missing.
    """
    header = [cell.replace("\ufeff", "").strip() for cell in cells]
    fields, values, unknown, said, ignored = _sorted_columns(header, known, sample)
    single = _single_value(fields, values, said, header)
    if single is not None:
        passed = [*[column.header for column in values if column.feature], *[header[i] for i in unknown if header[i]]]
        layout = Layout(header, fields, [single], None, False, said)
    else:
        columns, passed = _wide_columns(header, values, unknown, known, sample)
        columns = _piece_column(header, fields, columns, sample, known)
        columns = _positions_not_repeats([column for column in columns if _may_hold_values(column, known, sample)])
        layout = Layout(header, fields, columns, None, True, said)
    if not layout.values:
        raise NoHeader(f"the line {_quoted(header)} names no column of values; {ACCEPTED_HEADER}")
    if not layout.wide and "piece" not in fields:
        raise NoHeader(f"there is no piece column in {_quoted(header)}; {ACCEPTED_HEADER}")
    passed = [*passed, *ignored]
    if passed:
        said.append(f"passed over: {_quoted(passed)}")
    return _with_feature(layout, known)


def _sorted_columns(
    header: list[str], known: Known, sample: Sequence[Sequence[str]]
) -> tuple[dict[str, int], list[ValueColumn], list[int], list[str], list[str]]:
    """Sort columns into fields, columns of values, and the rest; with what is to be said and what is passed over."""
    fields: dict[str, int] = {}
    values: list[ValueColumn] = []
    unknown: list[int] = []
    ignored: list[str] = []
    names = [known_field(text) or known_field(split_unit(text)[0] or "-") for text in header]
    of_features = _feature_column(header, names, known, sample)
    for index, text in enumerate(header):
        base, unit = split_unit(text)
        named = matching_feature(text, known.features) or matching_feature(base, known.features)
        name = "feature" if index == of_features else names[index]
        exact = header.index(text) == index and plain_words(text) == name
        if text and named is not None:
            values.append(ValueColumn(index, text, feature=named, unit=unit))
        elif name is None:
            unknown.append(index)
        elif name == "pass":
            ignored.append(text)
        elif name in ("value", "deviation"):
            if any(column.kind == name for column in values):
                ignored.append(text)
            else:
                values.append(ValueColumn(index, text, unit=unit, kind=name))
        elif name in fields and not exact:
            ignored.append(text)
        else:
            if name in fields:
                ignored.append(header[fields[name]])
            fields[name] = index
    said = [] if of_features is None else [f"feature in {header[of_features]!r}"]
    return fields, values, unknown, said, [text for text in ignored if not text.casefold().startswith("refused ")]


def _feature_column(
    header: list[str], names: list[str | None], known: Known, sample: Sequence[Sequence[str]]
) -> int | None:
    """Return a column that names features in every row, when none is called so."""
    if "feature" in names or not known.features:
        return None
    for index in range(len(header)):
        cells = [row[index].strip() for row in sample if index < len(row)]
        if cells and all(cell and matching_feature(cell, known.features) is not None for cell in cells):
            return index
    return None


def _single_value(
    fields: dict[str, int], values: list[ValueColumn], said: list[str], header: list[str]
) -> ValueColumn | None:
    """Return the one column of values of a tidy table; None when the table is wide."""
    by_kind = {column.kind: column for column in values if column.kind is not None}
    if "value" in by_kind:
        if "deviation" in by_kind:
            said.append(f"{by_kind['deviation'].header!r} was passed over, as there is a column of sizes")
        return replace(by_kind["value"], kind=None)
    if "deviation" in by_kind:
        return replace(by_kind["deviation"], kind="comparator")
    going = [fields[name] for name in ("goes", "not") if name in fields]
    if going and not any(column.feature for column in values):
        return ValueColumn(going[0], " / ".join(header[i] for i in going), kind="go_no_go")
    return None


def _wide_columns(
    header: list[str], values: list[ValueColumn], unknown: list[int], known: Known, sample: Sequence[Sequence[str]]
) -> tuple[list[ValueColumn], list[str]]:
    columns = [column for column in values if column.feature is not None]
    passed: list[str] = []
    for index in unknown:
        text = header[index]
        if not text:
            if index == 0 or any(row[index].strip() for row in sample if index < len(row)):
                columns.append(ValueColumn(index, ""))
            continue
        base, unit = split_unit(text)
        feature, rest = _feature_before(base, known.features)
        position, repeat = place_words(rest)
        if repeat is None and position and not _looks_measured(index, position, feature, known, sample) and index:
            passed.append(text)
            continue
        columns.append(ValueColumn(index, text, feature=feature, position=position, repeat=repeat, unit=unit))
    return sorted(columns, key=lambda column: column.index), passed


def _feature_before(text: str, features: Sequence[str]) -> tuple[str | None, str]:
    """Split ``bore top 1`` into the feature and the rest."""
    words = plain_words(text).split()
    for count in range(len(words) - 1, 0, -1):
        found = matching_feature(" ".join(words[:count]), features)
        if found is not None:
            return found, " ".join(words[count:])
    if words and words[0].rstrip("0123456789") != words[0]:
        found = matching_feature(words[0].rstrip("0123456789"), features)
        if found is not None:
            return found, " ".join([words[0][len(words[0].rstrip("0123456789")) :], *words[1:]])
    return None, " ".join(text.replace("_", " ").split())


def _looks_measured(
    index: int, position: str, feature: str | None, known: Known, sample: Sequence[Sequence[str]]
) -> bool:
    """Tell whether a column of an unknown name holds lengths: a known position, or most cells read as values."""
    if feature is not None or any(
        plain_words(position) == plain_words(place) for places in known.positions.values() for place in places
    ):
        return True
    cells = [row[index] for row in sample if index < len(row) and row[index].strip()]
    return bool(cells) and sum(_is_length(cell) for cell in cells) * 2 > len(cells)


def _may_hold_values(column: ValueColumn, known: Known, sample: Sequence[Sequence[str]]) -> bool:
    if column.index or column.repeat is not None or column.feature is not None:
        return True  # the others were looked at before
    return _looks_measured(column.index, column.position, column.feature, known, sample)


def _is_length(text: str) -> bool:
    for comma in (False, True):
        try:
            read_entry(text, unit="mm", master=1e9 if text.strip()[:1] in "+-" else None, decimal_comma=comma)
        except TrackerError:
            continue
        return True
    return False


def _piece_column(
    header: list[str],
    fields: dict[str, int],
    columns: list[ValueColumn],
    sample: Sequence[Sequence[str]],
    known: Known,
) -> list[ValueColumn]:
    """Find the column that names the pieces when none is called so; the others stay columns of values."""
    if "piece" in fields:
        return [column for column in columns if column.header]
    first = next((column for column in columns if column.index == 0), None)
    others = [column for column in columns if column is not first and column.header]
    if first is not None and others and first.repeat is None:
        labels = [row[0].strip() for row in sample if row and row[0].strip()]
        unlike = all(label.isdigit() or not _is_length(label) for label in labels)
        alone = first.feature is None or not any(column.feature for column in others)
        if labels and unlike and len(set(labels)) == len(labels) and alone:
            fields["piece"] = 0
            if first.feature is not None:
                return [replace(column, feature=first.feature) for column in others]
            return others
    return [column for column in columns if column.header]


def _positions_not_repeats(columns: list[ValueColumn]) -> list[ValueColumn]:
    """Take bare numbers that do not count 1, 2, 3 … (0, 90, 180) as positions."""
    bare = [column for column in columns if column.header.strip().isdigit()]
    numbers = sorted(int(column.header) for column in bare)
    if not bare or numbers == list(range(1, len(numbers) + 1)):
        return columns
    return [
        replace(column, position=column.header.strip(), repeat=None) if column in bare else column for column in columns
    ]


def _with_feature(layout: Layout, known: Known) -> Layout:
    """Find the feature of what names none: the sheet, the file, or the only feature there is."""
    if "feature" in layout.fields or all(column.feature for column in layout.values):
        return layout
    for name, where in ((known.sheet, "sheet's name"), (known.stem, "file's name")):
        found = feature_in_name(name, known.features) if name else None
        if found is not None:
            layout.said.append(f"feature {found}, from the {where}")
            return replace(layout, feature=found)
    if len(known.features) == 1:
        layout.said.append(f"feature {known.features[0]}, the only one of the job")
        return replace(layout, feature=known.features[0])
    if not known.has_job:
        layout.said.append(f"feature {known.stem}, from the file's name")
        return replace(layout, feature=known.stem)
    unnamed = [column.header for column in layout.values if not column.feature]
    if len(unnamed) < len(layout.values):
        layout.said.append(f"passed over: {_quoted(unnamed)} (no feature of this job)")
        return replace(layout, values=[column for column in layout.values if column.feature])
    raise NoHeader(
        f"neither a feature column, nor the file's name, nor the columns {_quoted(unnamed)} say which feature this is;"
        f" accepted are {', '.join(known.features)}: add a feature column or name the file after one of them"
    )


def layout_words(layout: Layout, name: str, unit: str) -> str:
    """Return one sentence that says what was understood of a table."""
    header, fields = layout.header, layout.fields
    parts: list[str] = []
    if layout.wide:
        piece = f"named by {header[fields['piece']] or 'the first column'!r}" if "piece" in fields else "counted from 1"
        parts.append(f"one row a piece, {piece}")
        parts.append(_wide_words(layout.values))
    else:
        parts.append("one reading a row")
        if "piece" in fields and known_field(header[fields["piece"]]) != plain_words(header[fields["piece"]]):
            parts.append(f"piece in {header[fields['piece']]!r}")
        parts.append(f"values in {_column_words(layout.values[0])}")
        beside = [key for key in fields if key not in ("piece", "goes", "not")]
        if beside:
            parts.append("with " + ", ".join(beside))
    units = {column.unit for column in layout.values if column.unit}
    if units:
        parts.append(f"unit {' and '.join(sorted(units))} from the column name")
    elif "unit" not in fields:
        parts.append(f"numbers without a unit are {unit}")
    return f"{name}: {'; '.join([*parts, *layout.said])}"


def _wide_words(columns: Sequence[ValueColumn]) -> str:
    """Say what the columns of a wide table hold: the features and places, and how many repeats of each."""
    if len(columns) <= 3:
        return "values in " + ", ".join(_column_words(column) for column in columns)
    places: dict[str, list[int]] = {}
    for column in columns:
        name = " ".join(word for word in (column.feature, column.position) if word)
        places.setdefault(name, []).append(column.repeat or 0)
    told = []
    for name, repeats in places.items():
        numbers = sorted(repeat for repeat in repeats if repeat)
        if not numbers:
            told.append(name)
        elif len(numbers) > 1 and numbers == list(range(numbers[0], numbers[-1] + 1)):
            told.append(f"{name} repeats {numbers[0]} to {numbers[-1]}".strip())
        else:
            told.append(f"{name} repeat {', '.join(map(str, numbers))}".strip())
    return f"values in {columns[0].header!r} to {columns[-1].header!r}: {', '.join(told)}"


def _column_words(column: ValueColumn) -> str:
    meant = [column.feature] if column.feature and plain_words(column.feature) != plain_words(column.header) else []
    if column.position:
        meant.append(column.position)
    if column.repeat is not None:
        meant.append(f"repeat {column.repeat}")
    if column.kind == "comparator":
        meant.append("deviations from the master")
    told = " ".join(meant)
    return (
        f"{column.header!r}"
        if not told or plain_words(told) == plain_words(column.header)
        else (f"{column.header!r} ({told})")
    )


def _quoted(names: Sequence[str]) -> str:
    shown = [repr(name) for name in names[:8]]
    return ", ".join([*shown, "…"] if len(names) > 8 else shown)
