"""Time the tool against a floor, or against what one would otherwise pick; print a table of ratios.

Run it with ``make bench``. Both sides of a row run in turn, in this one run; the medians of several are compared.
Nothing here fails on time. The table is also written to ``.bench/``, which is not kept in the repository.
"""

from __future__ import annotations

import contextlib
import datetime
import itertools
import os
import platform
import sqlite3
import statistics
import subprocess
import sys
import tempfile
import time
import uuid
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import numpy as np

ROOT = Path(__file__).parents[2]
SAMPLE = ROOT / "sample_readings" / "rest_buttons"
TENTHWISE = [sys.executable, "-m", "tracker.cli"]


@dataclass(frozen=True)
class Row:
    """One comparison: what is timed, what it is measured against, and the ratio that is wanted."""

    what: str
    against: str
    wanted: float | None
    ours: Callable[[], object]
    theirs: Callable[[], object] | None
    times: int = 5


def seconds(act: Callable[[], object]) -> float:
    start = time.perf_counter()
    act()
    return time.perf_counter() - start


def process(*arguments: str) -> Callable[[], object]:
    environment = {**os.environ, "PYTHONDONTWRITEBYTECODE": "1"}
    return lambda: subprocess.run(arguments, cwd=ROOT, env=environment, capture_output=True, check=False)


def python(code: str) -> Callable[[], object]:
    return process(sys.executable, "-c", code)


def starting() -> list[Row]:
    bare = python("pass")
    science = python("import pandas, scipy.stats")
    return [
        Row("tenthwise --help", "python -c pass", 8, process(*TENTHWISE, "--help"), bare, 9),
        Row("tenthwise limits 25H7/p6", "python -c pass", 8, process(*TENTHWISE, "limits", "25H7/p6"), bare, 9),
        Row(
            "tenthwise check, sample job",
            "import pandas, scipy.stats",
            1,
            process(*TENTHWISE, "check", str(SAMPLE)),
            science,
            7,
        ),
    ]


def pairing(rng: np.random.Generator) -> list[Row]:
    from scipy.optimize import linear_sum_assignment

    from tracker import chance_any, pair

    bores = rng.normal(0.6250, 0.0001, 100_000)
    plugs = rng.normal(0.6256, 0.0001, 100_000)
    few_bores, few_plugs = bores[:2000], plugs[:2000]
    heights = rng.normal(0.5, 0.0002, 2000), rng.normal(0.5003, 0.0002, 2000)
    inner = np.column_stack([few_bores, heights[0]])
    outer = np.column_stack([few_plugs, heights[1]])
    low, high = np.array([-0.0009, -0.0009]), np.array([-0.0003, 0.0003])

    def dense() -> object:
        gaps = inner[:, None, :] - outer[None, :, :]
        room = np.minimum(gaps - low, high - gaps).min(axis=2)
        return linear_sum_assignment(np.where(room >= 0, 0.0, 1e6) - room)

    def sorting() -> object:
        return np.sort(bores), np.sort(plugs)

    return [
        Row(
            "pairing 100,000 bores and plugs, one fit",
            "sorting both arrays",
            20,
            lambda: pair(bores, plugs, -0.0009, -0.0003),
            sorting,
        ),
        Row(
            "pairing 2,000 x 2,000, two closures",
            "dense assignment",
            1,
            lambda: pair(inner, outer, low, high),
            dense,
            3,
        ),
        Row(
            "chance over 100,000 x 100,000 pairs",
            "sorting both arrays",
            5,
            lambda: chance_any(bores, plugs, -0.0009, -0.0003),
            sorting,
        ),
    ]


def groups(rng: np.random.Generator) -> list[Row]:
    import pandas as pd

    from tracker.spread.grouped import grouped_sums

    number = 10_000_000
    keys = np.repeat(np.arange(100_000), number // 100_000)
    values = rng.normal(0.6250, 0.0001, number)
    frame = pd.DataFrame({"key": keys, "value": values})
    return [
        Row(
            "n, mean, sd, min, max of 100,000 groups in 10,000,000 readings",
            "pandas groupby",
            0.5,
            lambda: grouped_sums(values, keys),
            lambda: frame.groupby("key", sort=False)["value"].agg(["count", "mean", "std", "min", "max"]),
            3,
        )
    ]


def judging() -> list[Row]:
    from tracker import check, load_job
    from tracker.readings import read_events, read_readings

    job = load_job(SAMPLE)
    readings, events = read_readings(SAMPLE, job), read_events(SAMPLE, job)
    return [
        Row("check of one fit, 12 x 12, library call", "(seconds)", None, lambda: check(job, readings, events), None)
    ]


def keeping(folder: Path, rng: np.random.Generator) -> list[Row]:
    from tracker.record import open_record

    record = open_record(str(folder / "bench.sqlite"))
    number = record.add_job((SAMPLE / "job.toml").read_text(encoding="utf-8")).id
    bare = sqlite3.connect(folder / "bare.sqlite", isolation_level=None)
    bare.executescript(
        "PRAGMA journal_mode=WAL; PRAGMA synchronous=FULL; CREATE TABLE r (id INTEGER PRIMARY KEY, typed TEXT) STRICT;"
    )

    turn = itertools.count()

    def one() -> object:
        piece, digit = str(next(turn) % 12 + 1), rng.integers(0, 9)
        return record.add_reading(number, "bore", piece, f"0.6254{digit}", client_id=uuid.uuid4().hex)

    def floor() -> object:
        bare.execute("BEGIN IMMEDIATE")
        bare.execute("INSERT INTO r (typed) VALUES ('0.6254')")
        return bare.execute("COMMIT")

    return [
        Row(
            "100 readings acknowledged one by one (SQLite, full sync)",
            "100 bare INSERT and COMMIT",
            2,
            lambda: [one() for _ in range(100)],
            lambda: [floor() for _ in range(100)],
            7,
        )
    ]


def history(folder: Path, rng: np.random.Generator, open_until_the_end: contextlib.ExitStack) -> list[Row]:
    """Years of batches in Parquet; 10 million readings, or as many million as TENTHWISE_BENCH_MILLIONS says."""
    import pandas as pd

    from tracker.history import summarize_history
    from tracker.history.work import cluster

    millions = int(os.environ.get("TENTHWISE_BENCH_MILLIONS", "10"))
    home, size = folder / "history", f"{millions * 1_000_000:,} readings"
    write_history(home, millions, rng)
    one, two = (open_until_the_end.enter_context(cluster(workers, None)) for workers in (1, 2))
    parts = f"{home / 'readings'}/*.parquet"

    def by_frame() -> object:
        frame = pd.read_parquet(home / "readings", columns=["batch", "value"])
        return frame.groupby("batch", sort=False)["value"].agg(["count", "mean", "std", "min", "max"])

    try:
        import duckdb
    except ModuleNotFoundError:
        against, by_query = "duckdb (not installed, not compared)", None
    else:
        against = "duckdb, count, mean, sd, min, max by batch"
        query = (
            f"SELECT batch, count(*), avg(value), stddev_samp(value), min(value), max(value) FROM '{parts}' GROUP BY 1"
        )

        def by_query() -> object:
            return duckdb.sql(query).fetchnumpy()

    def summed(client: object) -> Callable[[], object]:
        return lambda: summarize_history(home, client=client)

    here = summed(None)
    return [
        Row(f"history summary of {size}, two workers", against, 0.7, summed(two), by_query, 3),
        Row(f"history summary of {size}, one process", "pandas, read and groupby by batch", None, here, by_frame, 3),
        Row(f"history summary of {size}, two workers", "one worker", 1 / 1.6, summed(two), summed(one), 3),
    ]


def write_history(home: Path, millions: int, rng: np.random.Generator) -> None:
    """Write batches of 20 pieces, each read twice at two positions."""
    from tracker.history import HistoryWriter

    batches, each = 1000, 80
    said = {"feature": "bore", "unit": "in", "kind": "internal", "nominal": 0.625, "target": 0.62535, "lower": 0.625}
    said |= {"upper": 0.6257, "month": "2025-03", "begun": "2025-03-01", "tool": "reamer", "job": 1, "readings": each}
    with HistoryWriter(home) as writer:
        codes = {name: np.full(batches * each, writer.code(name, "bench 2")) for name in ("gauge", "operator")}
        for _ in range(millions * 1_000_000 // (batches * each)):
            rows = [said | {"part": f"housing {i % 7}", "machine": f"mill {i % 3}"} for i in range(batches)]
            first = writer.add_batches(rows)
            size = np.repeat(rng.normal(0.62535, 0.0001, batches * each // 4), 4)
            columns = {
                "batch": np.repeat(np.arange(first, first + batches), each),
                "piece": np.tile(np.repeat(np.arange(each // 4), 4), batches),
                "position": np.tile([0, 0, 1, 1], batches * each // 4),
                "value": np.round(size + rng.normal(0, 0.00002, size.size), 5),
            }
            writer.add_readings(columns | codes)


def measured(row: Row) -> tuple[float, float | None]:
    row.ours()
    if row.theirs is None:
        return statistics.median(seconds(row.ours) for _ in range(row.times)), None
    row.theirs()
    ours, theirs = [], []
    for _ in range(row.times):
        ours.append(seconds(row.ours))
        theirs.append(seconds(row.theirs))
    return statistics.median(ours), statistics.median(theirs)


def table(rows: list[Row]) -> str:
    lines = [
        "| what | against | ours, s | theirs, s | ratio | wanted at most |",
        "| --- | --- | ---: | ---: | ---: | ---: |",
    ]
    for row in rows:
        ours, theirs = measured(row)
        ratio = "" if theirs is None else f"{ours / theirs:.2f}"
        other = "" if theirs is None else f"{theirs:.4f}"
        wanted = "" if row.wanted is None else f"{row.wanted:g}"
        lines.append(f"| {row.what} | {row.against} | {ours:.4f} | {other} | {ratio} | {wanted} |")
        print(lines[-1], flush=True)
    return "\n".join(lines)


def main() -> None:
    rng = np.random.default_rng(7)
    now = datetime.datetime.now()
    print(
        f"{now:%Y-%m-%d}, {platform.machine()}, {os.cpu_count()} processors, Python {platform.python_version()}",
        flush=True,
    )
    with tempfile.TemporaryDirectory() as folder, contextlib.ExitStack() as open_until_the_end:
        rows = [*starting(), *pairing(rng), *judging(), *keeping(Path(folder), rng), *groups(rng)]
        rows += history(Path(folder), rng, open_until_the_end)
        found = table(rows)
    home = ROOT / ".bench"
    home.mkdir(exist_ok=True)
    (home / f"{now:%Y-%m-%d-%H%M}.md").write_text(found + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
