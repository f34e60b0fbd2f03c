"""The summary of a history: every feature of every batch, and what parts, machines, tools and months have in common."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import nullcontext
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from tracker.errors import TrackerError
from tracker.history.blocks import Damage, find_blocks
from tracker.history.flags import Flags, drift_flags
from tracker.history.grouping import SPLITS, WAYS_TO_GROUP, Group, group_batches
from tracker.history.layout import BATCH_COLUMNS, BATCHES, READINGS, HistoryError, Manifest, need_arrow, read_manifest
from tracker.history.series import Series, way_of
from tracker.history.work import Sums, cluster, tasks_of, threads_of, worked
from tracker.plurals import noun
from tracker.result import Result
from tracker.spread.arguments import Array, IntArray, checked_confidence
from tracker.spread.many import BatchCapabilities, BatchSpreads, batch_capabilities, batch_spreads

Progress = Callable[[int, int], None]
Table = dict[str, np.ndarray]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class History(Result):
    """Every feature of every batch of a history, arrays of shape (series,), and groups of them.

    Attributes
    ----------
    folder, by, split : str
        ``by`` is what the groups are by ("" none); ``split`` is ``operator`` or ``gauge`` where batches are told apart
        by it, and a series is then what one of them measured of a batch.
    batch : ndarray of int
        Place of each series' batch in ``about``.
    split_name : tuple of str
    about : dict
        Columns of the table of batches.
    spread : BatchSpreads
        Sizes less the nominal.
    capable : BatchCapabilities
        Where no limit is given, ``known`` is False.
    flags : Flags
    repeatability_sd : ndarray
        Infinite where no position was read twice.
    uses : ndarray of int, shape (uses, 3)
        Batch, gauge and how many readings it gave there, ascending; ``gauge_names`` holds the names.
    bounded : ndarray of int
        Go / no-go readings of each batch of ``about``: counted, and in no size.
    incomplete : tuple of int
        Batches that lost readings to damage; they are in no series and no group.
    damaged : tuple of Damage
    groups : tuple of Group
    """

    folder: str
    by: str
    split: str
    readings: int
    batch: IntArray
    split_name: tuple[str, ...]
    about: Table
    series_readings: IntArray
    minimum: Array
    maximum: Array
    spread: BatchSpreads
    capable: BatchCapabilities
    flags: Flags
    repeatability_sd: Array
    uses: IntArray
    gauge_names: tuple[str, ...]
    bounded: IntArray
    incomplete: tuple[int, ...]
    damaged: tuple[Damage, ...]
    groups: tuple[Group, ...]
    confidence: float

    def __str__(self) -> str:
        pieces, drifting = int(self.spread.n.sum()), int(self.flags.any.sum())
        batches = len(set(self.batch.tolist()))
        words = (
            f"{self.readings:,} {noun(self.readings, 'reading')} of {pieces:,} {noun(pieces, 'piece')} in {batches:,}"
            f" {noun(batches, 'batch', 'batches')}; {drifting:,} of {len(self.batch):,}"
            f" {noun(drifting, 'is', 'are')} flagged for drift"
        )
        if self.damaged:
            words += f"; {len(self.damaged)} damaged, {len(self.incomplete):,}"
            words += f" {noun(len(self.incomplete), 'batch', 'batches')} left out for it"
        return words

    def gauges(self, batch: int) -> dict[str, int]:
        """Return how many readings each gauge gave of a batch, by name."""
        first, last = np.searchsorted(self.uses[:, 0], [batch, batch + 1])
        return {self.gauge_names[gauge] or "not said": count for _, gauge, count in self.uses[first:last].tolist()}

    def row(self, at: int) -> dict[str, Any]:
        """Return one series as plain data, sizes in the batch's unit; None where something cannot be told."""
        batch = int(self.batch[at])
        nominal = float(self.about["nominal"][batch])
        spread, capable = self.spread, self.capable
        many, able = bool(spread.known[at]), bool(capable.known[at])
        told = {name: _plain(self.about[name][batch]) for name in TOLD}
        if self.split:
            told[self.split] = self.split_name[at]
        tolerance = told["upper"] - told["lower"] if None not in (told["upper"], told["lower"]) else None
        noise = _finite(self.repeatability_sd[at])
        return told | {
            "readings": int(self.series_readings[at]),
            "go_no_go_readings": int(self.bounded[batch]),
            "pieces": int(spread.n[at]),
            "mean": nominal + float(spread.mean[at]),
            "mean_low": nominal + float(spread.mean_low[at]) if many else None,
            "mean_high": nominal + float(spread.mean_high[at]) if many else None,
            "bias": nominal + float(spread.mean[at]) - told["target"] if told["target"] is not None else None,
            "sd": float(spread.sd[at]) if many else None,
            "sd_low": float(spread.sd_low[at]) if many else None,
            "sd_high": float(spread.sd_high[at]) if many else None,
            "minimum": nominal + float(self.minimum[at]),
            "maximum": nominal + float(self.maximum[at]),
            "pp": _finite(capable.pp[at]) if able else None,
            "ppk": float(capable.ppk[at]) if able else None,
            "ppk_low": _finite(capable.ppk_low[at]) if able else None,
            "ppk_high": _finite(capable.ppk_high[at]) if able else None,
            "beyond_lower": float(capable.beyond_lower[at]) if able else None,
            "beyond_upper": float(capable.beyond_upper[at]) if able else None,
            **self.flags.row(at),
            "gauges": self.gauges(batch),
            "repeatability_sd": noise,
            "gauge_share_of_tolerance": 6 * noise / tolerance if noise is not None and tolerance else None,
            "why_not": _why_not(many, able, told),
        }

    def worst_first(self) -> IntArray:
        """Return the places of the series: those flagged for drift first, then by Ppk, what cannot be told last."""
        rank = np.where(self.capable.known, self.capable.ppk, np.inf)
        return np.asarray(np.lexsort((np.arange(rank.size), rank, ~self.flags.any)))

    def to_dict(self) -> dict[str, Any]:
        """Return plain data, one dict a series and one a group."""
        return {
            "folder": self.folder,
            "by": self.by or None,
            "readings": self.readings,
            "confidence": self.confidence,
            "method": METHOD,
            "batches": [self.row(at) for at in range(len(self.batch))],
            "incomplete": [{name: _plain(self.about[name][batch]) for name in TOLD} for batch in self.incomplete],
            "damaged": [lost.to_dict() for lost in self.damaged],
            "groups": [group.to_dict() for group in self.groups],
        }


TOLD = (
    *("batch", "job", "record_batch", "part", "feature", "label", "unit", "kind", "nominal", "target", "lower"),
    *("upper", "machine", "tool", "gauge", "begun", "month"),
)
METHOD = (
    "sizes by each feature's own rule; t and chi-square intervals; overall capability with Bissell's approximate"
    " interval, which is too short below about 25 pieces"
)


def summarize_history(
    folder: str | Path,
    by: str | None = None,
    *,
    workers: int | None = None,
    address: str | None = None,
    client: Any = None,
    keep_going: bool = False,
    confidence: float = 0.95,
    progress: Progress | None = None,
) -> History:
    """Return size, spread, capability, drift and gauge use of every feature of every batch of a history.

    Parameters
    ----------
    folder : str or pathlib.Path
        As `export_history` wrote it.
    by : str, optional
        What to group by: part, feature, machine, tool, operator, gauge, month or job.
    workers : int, optional
        So many processes on this machine; without it, this process.
    address : str, optional
        The scheduler of a cluster, whose workers see the folder under the same path.
    client : distributed.Client, optional
        A cluster that is open already.
    keep_going : bool
        Whether to leave out what is damaged, and the batches that lost readings to it.
    confidence : float
    progress : callable, optional
        Called with the readings done and the readings in all.

    Returns
    -------
    History

    Raises
    ------
    HistoryError
        If the folder is no history, a part is damaged (unless ``keep_going``), readings are missing, or an extra is.

    Notes
    -----
    Readings become sums by position of a piece (count, mean, sum of squares), which add up; a batch that runs over
    several parts is made of their sums. So the numbers do not hang on how the history is cut, or on who sums what
    (tested to 1e-12). In memory: some half a million readings a worker at a time, and a row a batch.

    Capability takes the pieces as they come, drift in them included. A batch cut short by a tool change shows as drift.

    References
    ----------
    Chan, Golub, LeVeque (1983), as `tracker.spread.grouped_sums`. Tests: ``tests/tracker/history``.
    """
    if by is not None and by not in WAYS_TO_GROUP:
        raise TrackerError(f"cannot group by {by!r}; accepted: {', '.join(WAYS_TO_GROUP)}")
    checked_confidence(confidence)
    home = Path(folder).absolute()
    manifest = read_manifest(home)
    about = read_batches(home, manifest)
    blocks, lost = find_blocks(home, manifest.batches)
    known = {pair: way_of(*pair) for pair in set(zip(about["rule"], about["kind"]))}
    ways = np.array([known[pair] for pair in zip(about["rule"], about["kind"])], dtype=np.int64)
    split = by if by in SPLITS else ""
    listed = {"gauges": len(manifest.gauges), "operators": len(manifest.operators)}
    sums = Sums(ways=ways, blocks=blocks)
    with cluster(workers, address) if client is None else nullcontext(client) as many:
        listed["threads"] = threads_of(many)
        tasks = tasks_of(blocks, str(home), ways, about["nominal"], split=split, **listed)
        worked(tasks, sums, many, keep_going=keep_going, progress=progress, already=lost)
    return history_of(home, by or "", split, manifest, about, sums, confidence, keep_going)


def read_batches(folder: Path, manifest: Manifest) -> Table:
    """Return the columns of the table of batches; texts as object arrays, an open limit infinite or NaN.

    Raises
    ------
    HistoryError
        If it cannot be read, or does not go with ``history.json``.
    """
    arrow = need_arrow()
    path = folder / BATCHES
    words = [name for name, kind in BATCH_COLUMNS.items() if kind == "string"]
    try:
        table = arrow.parquet.read_table(path, page_checksum_verification=True, read_dictionary=words)
    except (arrow.ArrowException, OSError) as error:
        said = " ".join(str(error).split())
        raise HistoryError(f"{path} is damaged ({said}); nothing can be told without it, export it again") from error
    lacking = [name for name in BATCH_COLUMNS if name not in table.column_names]
    if lacking:
        raise HistoryError(f"{path} has no column {', '.join(lacking)}; export the history again")
    found = {name: table.column(name).to_numpy() for name in BATCH_COLUMNS if name not in words}
    for name in words:
        column = table.column(name).unify_dictionaries().combine_chunks()
        chunk = column.chunk(0) if hasattr(column, "num_chunks") and column.num_chunks else column
        names = np.array([str(word or "") for word in chunk.dictionary.to_pylist()] or [""], dtype=object)
        found[name] = names[np.asarray(chunk.indices.fill_null(0))] if len(chunk) else np.array([], dtype=object)
    if not np.array_equal(found["batch"], np.arange(manifest.batches)):
        raise HistoryError(f"{path} has {len(found['batch'])} batches and {manifest.batches} are said; export it again")
    return found


def history_of(
    home: Path,
    by: str,
    split: str,
    manifest: Manifest,
    about: Table,
    sums: Sums,
    confidence: float,
    keep_going: bool,
) -> History:
    """Return what sums say of the batches they are of: intervals, capability, flags of drift, groups.

    Raises
    ------
    HistoryError
        If there is no measured size, or readings are missing and it is not ``keep_going``.
    """
    uses, bounded, incomplete = _uses(manifest, about, sums)
    damaged = list(sums.damaged)
    if incomplete.size and not damaged:
        first = int(incomplete[0])
        words = (
            f"{incomplete.size} batches have not the readings that {BATCHES} speaks of, the first is batch {first}"
            f" ({about['part'][first]}, {about['feature'][first]}); a part is missing or there twice"
        )
        if not keep_going:
            raise HistoryError(f"{home / READINGS}: {words}; export it again, or go on without them by --keep-going")
        damaged.append(Damage(file=READINGS, block=None, reason=words))
    series = sums.series()
    if series is None:
        raise HistoryError(f"{home} holds no measured size; log readings, and export the history again")
    series = series.chosen(~np.isin(series.batch, incomplete))
    lower, upper = (about[name][series.batch] for name in ("lower", "upper"))
    spread = batch_spreads(series.sizes, confidence)
    capable = _capable(series, about, lower, upper, confidence)
    flags = drift_flags(series, about)
    noise = np.sqrt(series.noise_ss / np.maximum(series.noise_dof, 1))
    names = {"operator": manifest.operators, "gauge": manifest.gauges}.get(split)
    split_name = tuple(names[at] for at in series.split.tolist()) if names else ()
    groups = group_batches(series, about, capable, flags, by, split_name) if by else ()
    return History(
        folder=str(home),
        by=by,
        split=split,
        readings=int(uses[:, 2].sum()),
        batch=series.batch,
        split_name=split_name,
        about=about,
        series_readings=series.readings,
        minimum=series.sizes.minimum,
        maximum=series.sizes.maximum,
        spread=spread,
        capable=capable,
        flags=flags,
        repeatability_sd=np.where(series.noise_dof > 0, noise, np.inf),
        uses=uses,
        gauge_names=manifest.gauges,
        bounded=bounded,
        incomplete=tuple(incomplete.tolist()),
        damaged=tuple(damaged),
        groups=groups,
        confidence=confidence,
    )


def _uses(manifest: Manifest, about: Table, sums: Sums) -> tuple[IntArray, IntArray, IntArray]:
    """Return readings by batch and gauge, go / no-go readings a batch, and the batches that lack readings."""
    rows = np.concatenate([np.zeros((0, 3), dtype=np.int64), *sums.uses])
    width = max(len(manifest.gauges), 1)
    key, inverse = np.unique(rows[:, 0] * width + rows[:, 1], return_inverse=True)
    counts = np.zeros(key.size, dtype=np.int64)
    np.add.at(counts, inverse, rows[:, 2])
    found = np.zeros(manifest.batches, dtype=np.int64)
    np.add.at(found, key // width, counts)
    bounded = np.zeros(manifest.batches, dtype=np.int64)
    for part in sums.bounded:
        np.add.at(bounded, part[:, 0], part[:, 1])
    uses = np.column_stack([key // width, key % width, counts])
    return uses, bounded, np.flatnonzero(found != about["readings"])


def _capable(series: Series, about: Table, lower: Array, upper: Array, confidence: float) -> BatchCapabilities:
    """Return the capability of each series; not known where no limit is given."""
    nominal = about["nominal"][series.batch]
    low = np.where(np.isnan(lower), -np.inf, lower - nominal)
    high = np.where(np.isnan(upper), np.inf, upper - nominal)
    limited = (np.isfinite(low) | np.isfinite(high)) & (low < high)
    sums = series.chosen(limited).sizes
    found = batch_capabilities(sums, low[limited], high[limited], confidence)
    whole: dict[str, Any] = {"n": series.sizes.n, "confidence": confidence, "method": found.method}
    for name, blank in (
        *(("pp", 0.0), ("ppk", 0.0), ("ppk_low", -np.inf), ("ppk_high", np.inf)),
        *(("beyond_lower", 0.0), ("beyond_upper", 0.0), ("known", False)),
    ):
        column = np.full(len(series), blank)
        column[limited] = getattr(found, name)
        whole[name] = column
    return BatchCapabilities(**whole)


def _why_not(many: bool, able: bool, told: dict[str, Any]) -> str | None:
    if not many:
        return "one piece has no spread; measure two or more"
    if able:
        return None
    if told["lower"] is None and told["upper"] is None:
        return "the feature has no limits, so no capability; give them in job.toml"
    return "all pieces are alike, so no capability; the gauge reads too coarsely, or the limits are the wrong way round"


def _finite(value: Any) -> float | None:
    return float(value) if np.isfinite(value) else None


def _plain(value: Any) -> Any:
    if isinstance(value, str):
        return value
    number = value.item() if hasattr(value, "item") else value
    return None if isinstance(number, float) and not np.isfinite(number) else number
