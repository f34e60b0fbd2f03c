"""Time the tool against a floor, or against what one would otherwise pick; print a table of ratios.

Run it with ``make bench``. Both sides of a row run in turn, in this one run; the medians of several are compared.
Nothing here fails on time. The table is also written to ``.bench/``, which is not kept in the repository, and with
``--markdown FILE`` to a file for the docs. ``--only WORD`` runs the rows with that word in their name.
"""

from __future__ import annotations

import argparse
import contextlib
import datetime
import os
import platform
import subprocess
import sys
import tempfile
from collections.abc import Callable
from pathlib import Path

import numpy as np
from comparison import ROOT, SAMPLE, Row, table
from kept_rows import kept_rows

TENTHWISE = [sys.executable, "-m", "tracker.cli"]
FRAME = 1 / 60
BY_QUERY = (
    "the query reads two columns of six and knows no pieces: 0.32 processor seconds for 10,000,000 readings; the"
    " summary takes 1.1: decoding 0.23, sums by position 0.26, sizes and batches 0.43, in one place 0.13. Asked for"
    " sizes by piece first, the same engine takes 2.4 (the next row). Tried: eight turns a worker, results sent past"
    " the scheduler, words coded once"
)
BY_TWO = (
    "of 1.1 processor seconds for 10,000,000 readings 0.13 are spent in one place, and with workers 0.2 to 0.3 more on"
    " sending; so 0.6 is the floor, and other work on two processors adds to it"
)


def process(*arguments: str) -> Callable[[], object]:
    environment = {name: value for name, value in os.environ.items() if name != "PYTHONDONTWRITEBYTECODE"}
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
    fewer, larger = plugs[:90_000], plugs + 0.0004
    few_bores, few_plugs = bores[:2000], plugs[:2000]
    heights = rng.normal(0.5, 0.0002, 2000), rng.normal(0.5003, 0.0002, 2000)
    inner = np.column_stack([few_bores, heights[0]])
    outer = np.column_stack([few_plugs, heights[1]])
    low, high = np.array([-0.0009, -0.0009]), np.array([-0.0003, 0.0003])
    close = np.array([-0.0009, -0.0005]), np.array([-0.0003, -0.0001])

    def dense(low: np.ndarray, high: np.ndarray) -> object:
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
            "pairing 100,000 bores with 90,000 plugs, the rest left over",
            "sorting both arrays",
            20,
            lambda: pair(bores, fewer, -0.0009, -0.0003),
            lambda: (np.sort(bores), np.sort(fewer)),
        ),
        Row(
            "pairing 100,000 bores and plugs, a third of both left over",
            "sorting both arrays",
            20,
            lambda: pair(bores, larger, -0.0009, -0.0003),
            sorting,
        ),
        Row(
            "pairing 2,000 x 2,000, two closures",
            "dense assignment",
            1,
            lambda: pair(inner, outer, low, high),
            lambda: dense(low, high),
            3,
        ),
        Row(
            "pairing 2,000 x 2,000, two closures, close limits",
            "dense assignment",
            1,
            lambda: pair(inner, outer, *close),
            lambda: dense(*close),
            3,
            "by profile half is the largest worst margin (some fifteen matchings of 2,000 rows, 15 ms each), a third"
            " the assignment and what prepares it",
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

    from tracker.spread import batch_capabilities, batch_spreads, grouped_sums, piece_sizes

    number = 10_000_000
    keys = np.repeat(np.arange(100_000), number // 100_000)
    values = rng.normal(0.6250, 0.0001, number)
    frame = pd.DataFrame({"key": keys, "value": values})
    piece, position = np.repeat(np.arange(number // 4), 4), np.tile([0, 0, 1, 1], number // 4)
    batch = np.repeat(np.arange(100_000), number // 400_000)

    def grouped() -> object:
        return frame.groupby("key", sort=False)["value"].agg(["count", "mean", "std", "min", "max"])

    def whole() -> object:
        sums = grouped_sums(piece_sizes(values, piece, position, step=0.00001).size, batch)
        return batch_spreads(sums), batch_capabilities(sums, 0.6247, 0.6253)

    rows = [
        Row(
            "n, mean, sd, min, max of 100,000 groups in 10,000,000 readings",
            "pandas groupby",
            0.5,
            lambda: grouped_sums(values, keys),
            grouped,
            3,
        ),
        Row(
            "sizes by piece, spread and capability by batch, 10,000,000 readings",
            "pandas groupby with count, mean, sd, min, max",
            1,
            whole,
            grouped,
            3,
            "by profile 90 % is `piece_sizes`, which reads three columns where the other side reads two: sums of"
            " 5,000,000 positions and 2,500,000 pieces 30 %, where they begin 17 %, least and largest 15 %, noise and"
            " form 11 %; spread and capability of the batches are 3 %. Tried: pairs of readings summed without a table"
            " (3.7 to about 2.1). Memory at its highest 560 MB beside the 240 MB of readings it is given (tracemalloc),"
            " 2.3 times; twice was wanted",
        ),
    ]
    try:
        import duckdb
    except ModuleNotFoundError:
        return rows
    query = "SELECT key, count(*), avg(value), stddev_samp(value), min(value), max(value) FROM frame GROUP BY 1"
    asked = duckdb.connect()
    asked.register("frame", frame)
    by_query = Row(rows[0].what, "duckdb, on the same frame", 1, rows[0].ours, lambda: asked.sql(query).fetchnumpy(), 3)
    return [rows[0], by_query, rows[1]]


def judging() -> list[Row]:
    from tracker import check, load_job
    from tracker.readings import read_events, read_readings

    job = load_job(SAMPLE)
    readings, events = read_readings(SAMPLE, job), read_events(SAMPLE, job)
    return [
        Row(
            f"check of one fit, 12 x 12, library call (one screen frame is {FRAME:.4f} s)",
            "(reported)",
            None,
            lambda: check(job, readings, events),
            None,
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
        against, by_query, by_pieces = "duckdb (not installed, not compared)", None, None
    else:
        against = "duckdb, count, mean, sd, min, max by batch"
        query = (
            f"SELECT batch, count(*), avg(value), stddev_samp(value), min(value), max(value) FROM '{parts}' GROUP BY 1"
        )

        pieces = (
            "WITH cells AS (SELECT batch, piece, position, count(*) n, avg(value) m, var_pop(value) * count(*) ss"
            f" FROM '{parts}' GROUP BY ALL), pieces AS (SELECT batch, piece, min(m) size, sum(n) n, sum(ss) ss FROM"
            " cells GROUP BY ALL) SELECT batch, count(*), avg(size), stddev_samp(size), min(size), max(size), sum(n),"
            " sum(ss), regr_slope(size, piece) FROM pieces GROUP BY 1"
        )

        def by_query() -> object:
            return duckdb.sql(query).fetchnumpy()

        def by_pieces() -> object:
            return duckdb.sql(pieces).fetchnumpy()

    def summed(client: object) -> Callable[[], object]:
        return lambda: summarize_history(home, client=client)

    here = summed(None)
    return [
        Row(f"history summary of {size}, two workers", against, 0.7, summed(two), by_query, 3, BY_QUERY),
        Row(
            f"history summary of {size}, one process", "duckdb, sizes by piece first, as here", None, here, by_pieces, 3
        ),
        Row(f"history summary of {size}, one process", "pandas, read and groupby by batch", None, here, by_frame, 3),
        Row(f"history summary of {size}, two workers", "one worker", 1 / 1.6, summed(two), summed(one), 3, BY_TWO),
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


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--markdown", type=Path, metavar="FILE", help="write the table there too")
    parser.add_argument("--only", default="", metavar="WORD", help="only rows with this in their name")
    asked = parser.parse_args()
    rng = np.random.default_rng(7)
    now = datetime.datetime.now()
    machine = f"{now:%Y-%m-%d}, {platform.machine()}, {os.cpu_count()} processors, Python {platform.python_version()}"
    print(machine, flush=True)
    with tempfile.TemporaryDirectory() as folder, contextlib.ExitStack() as open_until_the_end:
        rows = [*starting(), *pairing(rng), *judging(), *kept_rows(Path(folder), rng), *groups(rng)]
        if not asked.only or asked.only in "history summary":
            rows += history(Path(folder), rng, open_until_the_end)
        found = table(row for row in rows if asked.only in row.what)
    home = ROOT / ".bench"
    home.mkdir(exist_ok=True)
    text = f"{machine}. Medians of several runs, both sides in turn.\n\n{found}\n"
    for path in (home / f"{now:%Y-%m-%d-%H%M}.md", *([asked.markdown] if asked.markdown else [])):
        path.write_text(text, encoding="utf-8")


if __name__ == "__main__":
    main()
