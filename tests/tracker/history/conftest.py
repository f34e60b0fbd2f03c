"""Histories to test on, written from arrays."""

import itertools
from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest

from tracker.history import HistoryWriter

NOMINAL = 0.6250


def about(number, readings, **said):
    """Return a row of the table of batches."""
    return {
        "job": number // 2 + 1,
        "record_batch": number + 1,
        "part": f"rest button {number % 2}",
        "feature": "shank",
        "label": f"b{number}",
        "unit": "in",
        "kind": "external",
        "nominal": NOMINAL,
        "target": NOMINAL + 0.0001,
        "lower": NOMINAL - 0.0003,
        "upper": NOMINAL + 0.0004,
        "machine": f"lathe {number % 3}",
        "tool": "insert",
        "gauge": "tenths micrometer",
        "begun": f"2026-{1 + number % 9:02d}-03T08:00:00",
        "month": f"2026-{1 + number % 9:02d}",
        "revision": 1,
        "readings": readings,
    } | said


def write(folder, frame, rows=None, rows_a_group=1 << 19, rows_a_part=1 << 22, steps=None):
    """Write readings (batch, piece, position, value, gauge, operator) as a history cut as asked."""
    counts = frame["batch"].value_counts()
    rows = rows or [about(i, int(counts.get(i, 0))) for i in range(int(frame["batch"].max()) + 1)]
    with HistoryWriter(folder, rows_a_group=rows_a_group, rows_a_part=rows_a_part) as writer:
        for name in ("tenths micrometer", "bench micrometer"):
            writer.code("gauge", name)
        for name in ("operator A", "operator B", ""):
            writer.code("operator", name)
        writer.add_batches(rows)
        cuts = np.linspace(0, len(frame), (steps or 1) + 1).astype(int)
        for first, last in itertools.pairwise(cuts):
            writer.add_readings({name: frame[name].to_numpy()[first:last] for name in frame.columns})
    return folder


def readings(rng, batches=12, pieces=10, positions=2, repeats=2, uneven=True):
    """Return a frame of readings, ascending; batches and pieces of uneven length."""
    columns = []
    for batch in range(batches):
        for piece in range(int(rng.integers(1, pieces + 1)) if uneven else pieces):
            size = NOMINAL + rng.normal(0.0001, 0.0001)
            for position in range(positions):
                spot = size + rng.normal(0, 0.00003)
                for _ in range(int(rng.integers(1, repeats + 1)) if uneven else repeats):
                    operator, gauge = int(rng.integers(0, 2)), int(rng.random() < 0.2)
                    columns.append((batch, piece, position, spot + rng.normal(0, 0.00001), gauge, operator))
    names = ["batch", "piece", "position", "value", "gauge", "operator"]
    return pd.DataFrame(columns, columns=names)


@pytest.fixture
def rng():
    return np.random.default_rng(20261125)


@pytest.fixture(scope="session")
def make():
    return SimpleNamespace(about=about, write=write, readings=readings, nominal=NOMINAL)


@pytest.fixture(scope="session")
def job_text():
    """A job in the form of job.toml."""
    return """
[job]
name = "Leak-test nest, rest buttons"
unit = "in"

[features.bore]
kind = "internal"
nominal = 0.6250
lower = 0.6250
upper = 0.6257
"""
