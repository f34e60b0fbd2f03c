"""Pieces that stand apart: worked examples of the NIST/SEMATECH e-Handbook (from memory, recomputed)."""

import pytest

from tracker.spread import outliers

# Handbook 1.3.5.17.3, Rosner's 54 values.
ROSNER = """-0.25 0.68 0.94 1.15 1.20 1.26 1.26 1.34 1.38 1.43 1.49 1.49 1.55 1.56 1.58 1.65 1.69 1.70 1.76 1.77
1.81 1.91 1.94 1.96 1.99 2.06 2.09 2.10 2.14 2.15 2.23 2.24 2.26 2.35 2.37 2.40 2.47 2.54 2.62 2.64 2.90 2.92 2.92
2.93 3.21 3.26 3.30
3.59 3.68 4.30 4.64 5.34 5.42 6.01"""


def test_generalised_esd():
    found = outliers([float(v) for v in ROSNER.split()], at_most=10)
    assert found.value == (6.01, 5.42, 5.34)
    # The handbook prints three decimals, cut off or rounded.
    assert found.statistics[:5] == pytest.approx([3.118, 2.942, 3.179, 2.810, 2.815], abs=1.1e-3)
    assert found.critical[:5] == pytest.approx([3.158, 3.151, 3.143, 3.136, 3.128], abs=1.1e-3)


def test_grubbs():
    # Handbook 1.3.5.17.1: mass spectrometer values, G = 2.4687; critical value of the two-sided test from scipy below.
    from scipy import stats

    values = [199.31, 199.53, 200.19, 200.82, 201.92, 201.95, 202.18, 245.57]
    found = outliers(values)
    assert found.statistics[0] == pytest.approx(2.468765, abs=5e-7)  # printed cut off after four decimals, 2.4687
    t = stats.t.isf(0.05 / 16, 6)
    assert found.critical[0] == pytest.approx(7 / 8**0.5 * (t * t / (6 + t * t)) ** 0.5)
    assert found.index == (7,)
