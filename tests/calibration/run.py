"""Measure the tool's own accuracy: ``python tests/calibration/run.py [--size N] [--seed S] [--only WORD] ...``.

Every ``*.py`` beside this file that has a function ``rows(rng, size)`` is a piece; rooms add theirs by adding a
file. ``rows`` yields dicts with the keys

``what``      what is measured ("interval of the mean")
``setting``   under what truth ("n = 8")
``said``      what the tool says (0.95), a share
``happened``  what happened, a share
``tries``     how many independent tries it rests on
``low, high`` bounds that ``happened`` must lie within; None where the row only informs
``note``      optional: why, in words

``size`` is the number of tries the piece aims at per row; each piece gets its own generator, spawned from the seed by
the name of the file, so that a new piece does not move the numbers of the others.
"""

from __future__ import annotations

import argparse
import importlib.util
import math
import sys
import zlib
from collections.abc import Iterator
from pathlib import Path
from types import ModuleType

import numpy as np

HERE = Path(__file__).parent


def load(path: Path) -> ModuleType:
    """Return a piece as a module (tests are no package, so it is loaded from its file)."""
    name = f"calibration_{path.stem}"
    spec = importlib.util.spec_from_file_location(name, path)
    if spec is None or spec.loader is None:
        raise ImportError(f"{path} cannot be loaded")
    module = importlib.util.module_from_spec(spec)
    sys.modules[name] = module
    spec.loader.exec_module(module)
    return module


def pieces(only: str = "") -> Iterator[tuple[str, ModuleType]]:
    """Yield the pieces, by name."""
    for path in sorted(HERE.glob("*.py")):
        if path.stem == "run" or path.stem.startswith(("test_", "_")) or only not in path.stem:
            continue
        module = load(path)
        if hasattr(module, "rows"):
            yield path.stem, module


def generator(seed: int, name: str) -> np.random.Generator:
    """Return the generator of a piece."""
    return np.random.default_rng([seed, zlib.crc32(name.encode())])


def holds(row: dict[str, object]) -> bool | None:
    """Return whether a row lies within its bounds, give or take three standard errors; None if it has none."""
    if row.get("low") is None or row.get("high") is None:
        return None
    happened, tries = float(row["happened"]), float(row["tries"])  # type: ignore[arg-type]

    def slack(bound: float) -> float:
        return 3 * math.sqrt(max(bound * (1 - bound), 1e-4) / tries)

    low, high = float(row["low"]), float(row["high"])  # type: ignore[arg-type]
    return low - slack(low) <= happened <= high + slack(high)


def table(seed: int, size: int, only: str = "") -> Iterator[dict[str, object]]:
    """Yield all rows of all pieces."""
    for name, module in pieces(only):
        for row in module.rows(generator(seed, name), size):
            yield {"piece": name, "note": "", "low": None, "high": None, **row}


HEADER = "| what | truth | said | happened | tries | holds |\n|---|---|---:|---:|---:|---|"


def line(row: dict[str, object]) -> str:
    """Return a row as a line of the table."""
    verdict = {None: "for information", True: "yes", False: "NO"}[holds(row)]
    note = f"; {row['note']}" if row["note"] else ""
    happened = f"{100 * float(row['happened']):.2f} %"  # type: ignore[arg-type]
    said = f"{100 * float(row['said']):.4g} %"  # type: ignore[arg-type]
    return f"| {row['what']} | {row['setting']} | {said} | {happened} | {int(row['tries']):,} | {verdict}{note} |"  # type: ignore[call-overload]


def main(arguments: list[str] | None = None) -> int:
    """Print the table; exit status 1 when a row does not hold."""
    parser = argparse.ArgumentParser(description="Measure the tool's own accuracy by simulation with known truth.")
    parser.add_argument("--size", type=int, default=20_000, help="tries a row (default 20000)")
    parser.add_argument("--seed", type=int, default=20_260_930, help="seed (default 20260930)")
    parser.add_argument("--only", default="", help="only the pieces whose name holds this")
    parser.add_argument("--markdown", type=Path, help="write the table to this file as well")
    chosen = parser.parse_args(arguments)
    title = f"Seed {chosen.seed}, {chosen.size:,} tries a row unless the row says otherwise."
    text = [title, "", HEADER]
    print("\n".join(text), flush=True)
    missed = 0
    for row in table(chosen.seed, chosen.size, chosen.only):
        missed += holds(row) is False
        text.append(line(row))
        print(text[-1], flush=True)
    if chosen.markdown:
        chosen.markdown.write_text("\n".join(text) + "\n", encoding="utf-8")
    return 1 if missed else 0


if __name__ == "__main__":
    sys.exit(main())
