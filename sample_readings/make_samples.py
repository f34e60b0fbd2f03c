"""Make the sample jobs anew: invented readings with known truth, the same every time.

Run it from anywhere: ``python sample_readings/make_samples.py``. Every number is drawn from a seeded generator;
the sizes, spreads, form and gauge noise that were put in stand in the README beside this file.
"""

from __future__ import annotations

import csv
import re
import zipfile
from pathlib import Path

import numpy as np
from openpyxl import Workbook

HERE = Path(__file__).parent


def read_off(truth, noise, step, rng):
    """Return what a gauge of this step and repeatability shows of true sizes."""
    return np.round((truth + rng.normal(0.0, noise, np.shape(truth))) / step) * step


def write_csv(path, header, rows):
    """Write one readings file."""
    with path.open("w", newline="", encoding="utf-8") as file:
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow(header)
        writer.writerows(rows)


def without_clock(path):
    """Take the moment of writing out of a workbook, so that it comes out the same every time."""
    with zipfile.ZipFile(path) as book:
        parts = [(name, book.read(name)) for name in book.namelist()]
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as book:
        for name, content in parts:
            if name == "docProps/core.xml":
                content = re.sub(rb"20\d\d-\d\d-\d\dT\d\d:\d\d:\d\dZ", b"2026-09-14T00:00:00Z", content)
            part = zipfile.ZipInfo(name, (2026, 9, 14, 0, 0, 0))
            part.compress_type = zipfile.ZIP_DEFLATED
            book.writestr(part, content)


def rest_buttons():
    """Twelve bores about four tenths large; ten shanks large by less, and two that are small for every bore."""
    rng = np.random.default_rng(20260907)
    folder = HERE / "rest_buttons"
    bores = 0.62538 + rng.normal(0.0, 0.00009, 12)
    rows = []
    for piece, bore in enumerate(bores, 1):
        for position, form in (("top", 0.00002), ("bottom", -0.00002)):
            for repeat in (1, 2):
                value = read_off(bore + form + rng.normal(0.0, 0.00001), 0.00002, 0.00005, rng)
                rows.append(["bore", piece, position, repeat, f"{value:.5f}", "in", "bore gauge", "operator A"])
    header = ["feature", "piece", "position", "repeat", "value", "unit", "gauge", "operator"]
    write_csv(folder / "bores.csv", header, rows)
    shanks = 0.62577 + rng.normal(0.0, 0.00006, 12)
    shanks[:2] = (0.62536, 0.62534)  # ground before the offset was touched
    places = ("lead end", "middle", "shoulder")
    rows = []
    for piece, shank in enumerate(shanks, 1):
        form = rng.normal(0.0, 0.000015, 3)
        shown = [f"{read_off(shank + form[i], 0.000015, 0.00005, rng):.5f}" for i in range(3) for _ in (1, 2)]
        rows.append([piece, *shown])
    write_csv(folder / "events.csv", ["feature", "after_piece", "event"], [["shank", 2, "offset_change"]])
    write_csv(folder / "shank.csv", ["shank", *(f"{place} {repeat}" for place in places for repeat in (1, 2))], rows)


def guide_pins():
    """Eight guide pins that slip into eight bushings in any order."""
    rng = np.random.default_rng(20260914)
    folder = HERE / "guide_pins"
    bushings = 0.37528 + rng.normal(0.0, 0.00004, 8)
    pins = 0.37449 + rng.normal(0.0, 0.00004, 8)
    book = Workbook()
    sheet = book.active
    sheet.title = "readings"
    sheet.append(["piece", "bushing 1", "bushing 2", "bushing 3", "pin 1", "pin 2", "pin 3"])
    for piece, (bushing, pin) in enumerate(zip(bushings, pins), 1):
        row = [
            *read_off(np.full(3, bushing), 0.000015, 0.00005, rng),
            *read_off(np.full(3, pin), 0.000015, 0.00005, rng),
        ]
        sheet.append([piece, *(round(float(value), 5) for value in row)])
    path = folder / "pins_and_bushings.xlsx"
    book.save(path)
    without_clock(path)


def coupling_pins():
    """Forty ground pins as deviations from a 16 mm master, the wheel dressed after 24; forty H7 bores."""
    rng = np.random.default_rng(20260921)
    folder = HERE / "coupling_pins"
    since = np.concatenate([np.arange(24), np.arange(16)])
    truth = 20.6 + 0.16 * since + rng.normal(0.0, 0.55, 40)
    rows = []
    for piece, deviation in enumerate(truth, 1):
        for repeat in (1, 2):
            shown = read_off(deviation, 0.25, 0.1, rng)
            rows.append([piece, repeat, f"{shown:+.1f}", "um", "bench 2"])
    write_csv(folder / "pin.csv", ["piece", "repeat", "deviation", "unit", "operator"], rows)
    bores = 16.0092 + rng.normal(0.0, 0.0016, 40)
    rows = [
        [piece, *(f"{read_off(bore, 0.0004, 0.001, rng):.3f}" for _ in (1, 2))] for piece, bore in enumerate(bores, 1)
    ]
    write_csv(folder / "coupling_bore.csv", ["coupling", "reading 1 (mm)", "reading 2 (mm)"], rows)
    write_csv(folder / "events.csv", ["feature", "after_piece", "event"], [["pin", 24, "dressing"]])


def lid_dowels():
    """Ten reamed holes known only by gauge pins that go or do not go; ten dowels read with a micrometer."""
    rng = np.random.default_rng(20260928)
    folder = HERE / "lid_dowels"
    holes = 6.0030 + rng.normal(0.0, 0.0011, 10)
    rows = []
    for piece, hole in enumerate(holes, 1):
        goes = np.floor(hole / 0.002) * 0.002
        rows.append([piece, f"goes {goes:.3f} / not {goes + 0.002:.3f}", "gauge pins"])
    write_csv(folder / "hole.csv", ["piece", "value", "gauge"], rows)
    dowels = 6.0085 + rng.normal(0.0, 0.0007, 10)
    rows = [
        [piece, *(f"{read_off(dowel, 0.0004, 0.001, rng):.3f}" for _ in (1, 2, 3))]
        for piece, dowel in enumerate(dowels, 1)
    ]
    write_csv(folder / "dowel.csv", ["piece", "r1", "r2", "r3"], rows)


def depth_stops():
    """Eight stops for eight slots, measured with calipers that read to half a thou: too coarse for this gap."""
    rng = np.random.default_rng(20261005)
    folder = HERE / "depth_stops"
    slots = 0.50060 + rng.normal(0.0, 0.00008, 8)
    stops = 0.50010 + rng.normal(0.0, 0.00008, 8)
    for name, truth in (("slot", slots), ("stop", stops)):
        rows = [
            [piece, repeat, operator, f"{read_off(size, 0.00035, 0.0005, rng):.4f}"]
            for piece, size in enumerate(truth, 1)
            for operator in ("operator A", "operator B")
            for repeat in (1, 2)
        ]
        write_csv(folder / f"{name}.csv", ["piece", "repeat", "operator", "value"], rows)


def keyed_plugs():
    """Ten plugs with a key for ten pockets with a keyway: each pair must suit in the round and over the key."""
    rng = np.random.default_rng(20261019)
    folder = HERE / "keyed_plugs"
    bores = 0.50030 + rng.normal(0.0, 0.00020, 10)
    slots = 0.12550 + rng.normal(0.0, 0.00025, 10)
    mates = rng.permutation(10)  # each plug was made beside one pocket, and nobody wrote down which
    shanks = bores[mates] + 0.00060 + rng.normal(0.0, 0.00005, 10)
    keys = slots[mates] - 0.00060 + rng.normal(0.0, 0.00008, 10)
    for name, letter, columns in (
        ("plates", "B", {"bore": bores, "keyway": slots}),
        ("plugs", "P", {"shank": shanks, "key": keys}),
    ):
        rows = [
            [
                f"{letter}{piece + 1}",
                *(f"{read_off(size[piece], 0.00002, 0.00005, rng):.5f}" for size in columns.values() for _ in (1, 2)),
            ]
            for piece in range(10)
        ]
        write_csv(folder / f"{name}.csv", ["piece", *(f"{one} {n}" for one in columns for n in (1, 2))], rows)


def repeat_orders():
    """Fourteen months of small batches; grinder 1 makes pins two tenths larger from its sixteenth batch on."""
    rng = np.random.default_rng(20261102)
    folder = HERE / "repeat_orders"
    parts = {
        "guide_pin": (0.37448, 0.00007, 0.000010, "tenths micrometer"),
        "rest_pin": (0.50003, 0.00008, 0.000010, "tenths micrometer"),
        "bushing_bore": (0.37556, 0.00009, 0.000015, "bore gauge"),
        "spacer_length": (0.74990, 0.00022, 0.000020, "tenths micrometer"),
    }
    moved = {("guide_pin", 15): 0.00021}
    rows = []
    for number, (feature, (mean, spread, noise, gauge)) in enumerate(parts.items()):
        level = mean
        for batch in range(24):
            level += moved.get((feature, batch), 0.0)
            begun = np.datetime64("2025-08-11T07:30") + np.timedelta64(batch * 18 + number * 4, "D")
            middle = level + rng.normal(0.0, spread / 2)
            who = ("operator A", "operator B")[int(rng.integers(2))]
            for piece in range(1, 6):
                size = middle + rng.normal(0.0, spread / (0.5 if (feature, batch) == ("spacer_length", 10) else 1.3))
                time = begun + np.timedelta64(piece * 6, "m")
                for repeat in (1, 2):
                    shown = f"{read_off(size, noise, 0.00005, rng):.5f}"
                    rows.append([feature, f"{begun}"[:10], piece, repeat, shown, gauge, who, str(time)])
    header = ["feature", "batch", "piece", "repeat", "value", "gauge", "operator", "time"]
    write_csv(folder / "batches.csv", header, rows)


if __name__ == "__main__":
    rest_buttons()
    guide_pins()
    coupling_pins()
    lid_dowels()
    depth_stops()
    keyed_plugs()
    repeat_orders()
