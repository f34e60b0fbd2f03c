"""Straight lines: NIST StRD Norris (certified), GUM H.3, and the tool-reset arithmetic of SQC textbooks."""

import csv
import math

import numpy as np
import pytest

from tracker.drift import wear_line

# GUM (JCGM 100:2008) table H.6: temperature reading and correction of a thermometer (digits from memory; they
# reproduce the published slope, its standard deviation, the intercept and s).
H3_READING = [21.521, 22.012, 22.512, 23.003, 23.507, 23.999, 24.513, 25.002, 25.503, 26.010, 26.511]
H3_CORRECTION = [-0.171, -0.169, -0.166, -0.159, -0.164, -0.165, -0.156, -0.157, -0.159, -0.161, -0.160]


def standard_error(interval, dof):
    from scipy import stats

    return (interval.high - interval.low) / 2 / stats.t.ppf(0.5 + interval.confidence / 2, dof)


def agreeing_digits(found, certified):
    return -math.log10(abs(found - float(certified)) / abs(float(certified)) + 1e-16)


def test_norris(case, bank_data):
    bank = case("trend-norris")
    expected, least = bank["expected"], bank["tolerance"]["lre_min_digits"]
    with (bank_data / "strd_norris.csv").open(encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    line = wear_line([float(row["y"]) for row in rows], order=[float(row["x"]) for row in rows])
    assert agreeing_digits(line.slope.estimate, expected["slope"]) >= least
    assert agreeing_digits(line.intercept.estimate, expected["intercept"]) >= least
    assert agreeing_digits(line.sd.estimate, expected["residual_sd"]) >= least
    # Read back through the t quantile, which scipy gives to about nine digits.
    assert agreeing_digits(standard_error(line.slope, line.dof), expected["se_slope"]) >= 9
    assert agreeing_digits(standard_error(line.intercept, line.dof), expected["se_intercept"]) >= 9


def test_gum_h3(case):
    expected, tol = case("trend-gum-h3")["expected"], case("trend-gum-h3")["tolerance"]
    line = wear_line(H3_CORRECTION, order=np.array(H3_READING) - 20)
    se = standard_error(line.slope, line.dof)
    assert line.slope.estimate == pytest.approx(expected["slope"], abs=tol["abs"])
    assert se == pytest.approx(expected["se_slope"], abs=tol["abs"])
    assert line.slope.estimate / se == pytest.approx(expected["t"], abs=tol["t_abs"])
    # Printed in H.3.3: intercept -0.1712 with 0.0029, s = 0.0035.
    assert line.intercept.estimate == pytest.approx(-0.1712, abs=5.1e-5)
    assert standard_error(line.intercept, line.dof) == pytest.approx(0.0029, abs=5.1e-5)
    assert line.sd.estimate == pytest.approx(0.0035, abs=5.1e-5)


def test_pieces_between_resets(case):
    bank = case("trend-reset-interval")
    inputs, expected = bank["inputs"], bank["expected"]
    start = inputs["LSL"] + 3 * inputs["sigma"]
    stop = inputs["USL"] - 3 * inputs["sigma"]
    assert (start, stop) == pytest.approx((expected["start"], expected["stop"]), abs=bank["tolerance"]["abs"])
    # A tool set to start at piece 0 whose line is known exactly: pieces left until the line reaches "stop".
    made = 11
    line = wear_line(start + inputs["wear_per_part"] * np.arange(made), order=np.arange(made), upper=stop)
    assert made - 1 + line.pieces_left == expected["parts"]
