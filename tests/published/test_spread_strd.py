"""NIST Statistical Reference Datasets: univariate summary statistics and one-way analysis of variance.

Expected values are strings of the bank, certified to 15 digits; what double precision can hold is stated there as the
least log relative error (number of right digits).
"""

from decimal import Decimal

import numpy as np
import pytest

from tracker.spread import grouped_sums, summarize
from tracker.spread.variance import components

UNIVARIATE = ("michelso", "lottery", "lew", "numacc2", "numacc3")
ONE_WAY = ("SiRstv", "AtmWtAg", "SmLs02", "SmLs03", "SmLs05", "SmLs06", "SmLs08", "SmLs09")


def digits(found: float, certified: str) -> float:
    """Return the log relative error: how many digits agree."""
    exact = Decimal(certified)
    gap = abs(Decimal(float(found)) - exact) / abs(exact) if exact else abs(Decimal(float(found)))
    return 15.0 if gap == 0 else min(15.0, float(-gap.log10()))


def numbers(path):
    rows = path.read_text(encoding="utf-8").split()
    return np.array([float(cell) for cell in rows if cell[0] in "-.0123456789"])


@pytest.mark.parametrize("name", UNIVARIATE)
def test_univariate_mean_and_sd_hold_the_certified_digits(case, bank_data, name):
    item = case(f"strd-{name}")
    values = numbers(bank_data / f"strd_{name}.csv")
    assert values.size == item["inputs"]["n"]
    least = item["tolerance"]["lre_min_digits"]
    found = summarize(values)
    assert digits(found.mean.estimate, item["expected"]["mean"]) >= min(least["mean"], 14.9)
    assert digits(found.sd.estimate, item["expected"]["sd_nminus1"]) >= min(least["sd_nminus1"], 14.9)
    scattered = grouped_sums(values, np.zeros(values.size, dtype=int))
    assert digits(scattered.sd[0], item["expected"]["sd_nminus1"]) >= min(least["sd_nminus1"], 14.9)


def generated(generator):
    """Return the SmLs data by the rule that the bank states, exact in decimal before they become floats."""
    base, tenth = Decimal(generator["base"]), Decimal("0.1")
    value, group = [], []
    for index, d in enumerate(generator["d"]):
        middle = base + Decimal(str(d))
        column = [middle] + [middle - tenth, middle + tenth] * generator["pairs_per_treatment"]
        value += [float(v) for v in column]
        group += [index] * len(column)
    return np.array(value), np.array(group)


@pytest.mark.parametrize("name", ONE_WAY)
def test_one_way_mean_squares_hold_the_certified_digits(case, bank_data, name):
    item = case(f"strd-{name}")
    path = bank_data / f"strd_{name}.csv"
    if path.exists():
        table = np.genfromtxt(path, delimiter=",", skip_header=1)
        group, value = table[:, 0].astype(int), table[:, 1]
    else:
        value, group = generated(item["inputs"]["generator"])
    assert value.size == item["inputs"]["n_total"]
    least = item["tolerance"]["lre_min_digits"]
    expected = item["expected"]
    sums = grouped_sums(value, group - group.min())
    within = sums.ss.sum() / (value.size - sums.n.size)
    between = grouped_sums(sums.mean, np.zeros(sums.n.size, dtype=int)).ss[0] * sums.n[0] / (sums.n.size - 1)
    if len(set(sums.n)) == 1:
        assert digits(between, expected["ms_between"]) >= least
        assert digits(between / within, expected["F"]) >= least
    assert digits(within, expected["ms_within"]) >= least
    assert digits(np.sqrt(within), expected["residual_sd"]) >= least
    found = components(value, group)
    assert digits(found.within_sd.estimate, expected["residual_sd"]) >= min(least, 8 if not found.balanced else least)
