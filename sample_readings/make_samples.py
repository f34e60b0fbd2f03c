"""Make the sample jobs anew: invented readings with known truth, the same every time.

Run it from anywhere: ``python sample_readings/make_samples.py``. Every number is drawn from a seeded generator;
the sizes, spreads, form and gauge noise that were put in stand in the README beside this file.
"""

from __future__ import annotations

import csv
import datetime
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
    book.properties.created = book.properties.modified = datetime.datetime(2026, 9, 14)
    sheet = book.active
    sheet.title = "readings"
    sheet.append(["piece", "bushing 1", "bushing 2", "bushing 3", "pin 1", "pin 2", "pin 3"])
    for piece, (bushing, pin) in enumerate(zip(bushings, pins), 1):
        row = [
            *read_off(np.full(3, bushing), 0.000015, 0.00005, rng),
            *read_off(np.full(3, pin), 0.000015, 0.00005, rng),
        ]
        sheet.append([piece, *(round(float(value), 5) for value in row)])
    book.save(folder / "pins_and_bushings.xlsx")


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


if __name__ == "__main__":
    rest_buttons()
    guide_pins()
    coupling_pins()
