"""Control-chart constants against printed tables (ASTM MNL 7 / STP 15D, Montgomery; digits recalled from memory)."""

import pytest

from tracker.drift import chart_constants

# Where old tables differ from exact values in the last digit (rounded d2 and d3 on the way): named in the bank.
OLD_LAST_DIGIT = {("d3", 19), ("D3", 19), ("D3", 22), ("D3", 24), ("D4", 3), ("D4", 18), ("D4", 19), ("D4", 22)}


@pytest.mark.parametrize("identity", ["const-d2d3c4", "const-D3D4B3B4"])
def test_every_printed_digit(case, identity):
    bank = case(identity)
    checked = 0
    for name, column in bank["expected"]["table"].items():
        for n, printed in column.items():
            digits = len(printed.partition(".")[2])
            half = 0.5 * 10**-digits + 1e-12
            if (name, int(n)) in OLD_LAST_DIGIT:
                half = bank["tolerance"]["table_abs"]
            assert getattr(chart_constants(int(n)), name) == pytest.approx(float(printed), abs=half), (name, n)
            checked += 1
    assert checked >= 72


@pytest.mark.parametrize("identity", ["const-d2d3c4", "const-D3D4B3B4"])
def test_ten_digits_of_an_independent_integration(case, identity):
    bank = case(identity)
    for n, row in bank["expected"]["computed_10_digits"].items():
        for name, value in row.items():
            found = getattr(chart_constants(int(n)), name)
            assert found == pytest.approx(value, abs=bank["tolerance"]["computed_abs"]), (name, n)


def test_factors_for_means_as_printed():
    # Montgomery, App. VI (from memory): A2, A3 at n = 2, 5, 10, 25.
    printed = {2: (1.880, 2.659), 5: (0.577, 1.427), 10: (0.308, 0.975), 25: (0.153, 0.606)}
    for n, (a2, a3) in printed.items():
        assert pytest.approx(a2, abs=5.1e-4) == chart_constants(n).A2
        assert pytest.approx(a3, abs=5.1e-4) == chart_constants(n).A3


def test_single_values_from_the_mean_moving_range():
    # Printed 2.660 comes from 3 / 1.128; exact 3 / (2 / sqrt(pi)) = 2.65868.
    assert pytest.approx(2.65868, abs=5e-6) == chart_constants(2).E2
