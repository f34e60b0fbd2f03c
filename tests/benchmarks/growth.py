"""Time against size, for each core operation over three decades or more, and the exponent with which it grows.

Run it with ``make growth``. Each size is timed several times and the least counts, for other work on the machine only
ever adds to it. The exponent is the slope of log time on log size, by least squares: over all sizes, and over the last
decade, where what is done once (start-up, tables) weighs little. Nothing here fails on time. The table is written to
``.bench/``, which is not kept in the repository, and with ``--markdown FILE`` to a file for the docs; ``--largest N``
leaves out larger sizes, ``--only WORD`` other operations.
"""

from __future__ import annotations

import argparse
import datetime
import os
import platform
import tempfile
import time
import uuid
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np

ROOT = Path(__file__).parents[2]
SAMPLE = ROOT / "sample_readings" / "rest_buttons"
LONG = 5.0
"""What takes so many seconds is timed twice, what takes ten times as long once, anything else five times."""

JOB = """[job]
name = "order {number}"
unit = "in"
[features.bore]
kind = "internal"
part = "housing"
nominal = 0.6250
target = 0.62535
lower = 0.6250
upper = 0.6257
machine = {{ name = "mill {machine}", tool = "reamer" }}
"""
HEAD = "batch,piece,position,repeat,value,gauge,operator,time\n"


@dataclass(frozen=True)
class Operation:
    """What is timed: its name, what its size counts, the sizes, and what makes it ready for a size."""

    name: str
    counts: str
    sizes: tuple[int, ...]
    ready: Callable[[int, Path], Callable[[], object]]


def decades(first: int, last: int) -> tuple[int, ...]:
    return tuple(10**power for power in range(first, last + 1))


def pairing(size: int, _: Path) -> Callable[[], object]:
    from tracker import pair

    bores, plugs = two_batches(size)
    return lambda: pair(bores, plugs, -0.0009, -0.0003)


def chance(size: int, _: Path) -> Callable[[], object]:
    from tracker import chance_any

    bores, plugs = two_batches(size)
    return lambda: chance_any(bores, plugs, -0.0009, -0.0003)


def summarizing(size: int, _: Path) -> Callable[[], object]:
    from tracker import summarize

    bores, _plugs = two_batches(size)
    return lambda: summarize(bores, 0.6250)


def capable(size: int, _: Path) -> Callable[[], object]:
    from tracker import capability

    bores, _plugs = two_batches(size)
    return lambda: capability(bores, 0.6246, 0.6254, 0.6250)


def checking(size: int, folder: Path) -> Callable[[], object]:
    """So many bores and so many shanks, one reading each."""
    from tracker import check, load_job
    from tracker.readings import read_readings

    home = folder / f"check-{size}"
    home.mkdir()
    (home / "job.toml").write_text((SAMPLE / "job.toml").read_text(encoding="utf-8"), encoding="utf-8")
    bores, plugs = two_batches(size)
    for name, values in (("bore", bores + 0.00035), ("shank", plugs)):
        lines = [f"{name},{piece},{value:.5f}\n" for piece, value in enumerate(values, 1)]
        (home / f"{name}.csv").write_text("feature,piece,value\n" + "".join(lines), encoding="utf-8")
    job = load_job(home)
    readings = read_readings(home, job)
    return lambda: check(job, readings, [])


def importing(size: int, folder: Path) -> Callable[[], object]:
    """From a CSV file, checked, into a record of its own (SQLite)."""
    from tracker.job import load_job
    from tracker.readings import read_readings
    from tracker.record import open_record

    home = order(folder / f"import-{size}", size, 0)

    def act() -> None:
        job = load_job(home)
        with open_record(home / f"{uuid.uuid4().hex}.sqlite") as record:
            record.add_readings(record.add_job(job.text).id, read_readings(home, job))

    return act


def page(size: int, folder: Path) -> Callable[[], object]:
    """The History page and its picture, as a browser asks for them, the record unchanged since the last look."""
    client, _record = served(size, folder)
    return lambda: ask(client)


def page_after(size: int, folder: Path) -> Callable[[], object]:
    """The same just after one more reading was logged: its batch is summed up anew."""
    client, record = served(size, folder)

    def act() -> None:
        record.add_reading(1, "bore", "1", "0.62535", batch="0", client_id=uuid.uuid4().hex)
        ask(client)

    return act


def page_first(size: int, folder: Path) -> Callable[[], object]:
    """The same as the first thing after the server was started: every reading is read."""
    from dashboard.server import create_app

    _client, record = served(size, folder)
    return lambda: ask(create_app(record).server.test_client())


OPERATIONS = (
    Operation("pair, one fit", "bores and as many plugs", decades(2, 6), pairing),
    Operation("chance, any order", "bores and as many plugs", decades(2, 6), chance),
    Operation("summarize", "sizes", decades(2, 6), summarizing),
    Operation("capability", "sizes", decades(1, 5), capable),
    Operation("check of one fit, all of it", "bores and as many shanks", decades(1, 4), checking),
    Operation("import, a CSV read whole, a batch every 20 readings, to SQLite", "readings", decades(3, 6), importing),
    Operation("page History, as it stands", "readings", decades(3, 6), page),
    Operation("page History, one reading later", "readings", decades(3, 6), page_after),
    Operation("page History, first look", "readings", decades(3, 6), page_first),
)


def two_batches(size: int) -> tuple[np.ndarray, np.ndarray]:
    rng = np.random.default_rng(size)
    return rng.normal(0.6250, 0.0001, size), rng.normal(0.6256, 0.0001, size)


def order(home: Path, readings: int, number: int, each: int = 20) -> Path:
    """Write a job with batches of five pieces read four times, over two years."""
    home.mkdir(parents=True)
    (home / "job.toml").write_text(JOB.format(number=number, machine=number % 3), encoding="utf-8")
    rng = np.random.default_rng(number)
    batches = max(readings // each, 1)
    days = np.datetime64("2024-11-04") + np.sort(rng.integers(0, 730, batches)).astype("timedelta64[D]")
    with (home / "bore.csv").open("w", encoding="utf-8") as file:
        file.write(HEAD)
        for batch in range(batches):
            values = 0.62535 + np.repeat(rng.normal(0, 0.00005, each // 4), 4) + rng.normal(0, 0.00001, each)
            file.writelines(
                f"{batch},{turn // 4 + 1},{'top' if turn % 4 < 2 else 'bottom'},{turn % 2 + 1},{value:.5f},bore gauge,"
                f"bench {batch % 2},{days[batch]}T08:00:00\n"
                for turn, value in enumerate(values)
            )
    return home


KEPT: dict[int, tuple[object, object]] = {}


def served(size: int, folder: Path) -> tuple[object, object]:
    """Return a client of the dashboard on a record with so many readings in ten jobs, and the record."""
    from dashboard.server import create_app
    from tracker.job import load_job
    from tracker.readings import read_readings
    from tracker.record import open_record

    if size not in KEPT:
        record = open_record(folder / f"page-{size}.sqlite")
        for number in range(10):
            home = order(folder / f"page-{size}-{number}", size // 10, number)
            job = load_job(home)
            record.add_readings(record.add_job(job.text, client_id=str(number)).id, read_readings(home, job))
        client = create_app(record).server.test_client()
        ask(client)
        KEPT[size] = (client, record)
    return KEPT[size]


def ask(client: object) -> None:
    """Ask for the page and its picture as the browser does; raise when either is refused."""
    wanted = {
        "output": "..room.children...mark.data..",
        "outputs": [{"id": "room", "property": "children"}, {"id": "mark", "property": "data"}],
        "inputs": [
            {"id": "where", "property": "pathname", "value": "/history"},
            {"id": "where", "property": "search", "value": ""},
        ],
        "changedPropIds": ["where.pathname"],
        "state": [],
    }
    answers = client.post("/_dash-update-component", json=wanted), client.get("/pictures/tapes.svg?width=1000")
    if any(answer.status_code != 200 for answer in answers):
        raise SystemExit(f"the page was refused: {[answer.status_code for answer in answers]}")


def least_time(act: Callable[[], object]) -> float:
    """Return the least of several times, fewer where each is long."""

    def once() -> float:
        start = time.perf_counter()
        act()
        return time.perf_counter() - start

    first = once()
    times = 0 if first > 10 * LONG else 1 if first > LONG else 5
    return min([first, *(once() for _ in range(times))])


def exponent(sizes: list[int], seconds: list[float]) -> float:
    """Return the slope of log time on log size."""
    return float(np.polyfit(np.log(sizes), np.log(seconds), 1)[0])


def lines(operations: list[Operation], largest: int, folder: Path) -> Iterator[str]:
    yield "| operation | size is | size: least time, s | exponent | last decade |"
    yield "| --- | --- | --- | ---: | ---: |"
    for operation in operations:
        sizes = [size for size in operation.sizes if size <= largest]
        seconds = [least_time(operation.ready(size, folder)) for size in sizes]
        told = "; ".join(f"{size:,}: {taken:.2g}" for size, taken in zip(sizes, seconds))
        whole, last = (f"{exponent(sizes[-n:], seconds[-n:]):.2f}" if len(sizes) > 1 else "" for n in (len(sizes), 2))
        yield f"| {operation.name} | {operation.counts} | {told} | {whole} | {last} |"


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--markdown", type=Path, metavar="FILE", help="write the table there too")
    parser.add_argument("--only", default="", metavar="WORD", help="only operations with this in their name")
    parser.add_argument("--largest", type=int, default=10**9, metavar="N", help="no size above this")
    asked = parser.parse_args()
    now = datetime.datetime.now()
    machine = f"{now:%Y-%m-%d}, {platform.machine()}, {os.cpu_count()} processors, Python {platform.python_version()}"
    text = [f"{machine}. The least of several runs.", ""]
    print(text[0], flush=True)
    with tempfile.TemporaryDirectory() as folder:
        for line in lines([one for one in OPERATIONS if asked.only in one.name], asked.largest, Path(folder)):
            print(line, flush=True)
            text.append(line)
        for _, record in KEPT.values():
            record.close()
    home = ROOT / ".bench"
    home.mkdir(exist_ok=True)
    for path in (home / f"growth-{now:%Y-%m-%d-%H%M}.md", *([asked.markdown] if asked.markdown else [])):
        path.write_text("\n".join(text) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
