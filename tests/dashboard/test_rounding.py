"""One size reads the same on every page: one rule in Python and in the script of the Log page."""

import json
import shutil
import subprocess
from pathlib import Path

import pytest

from dashboard.figures.numbers import Numbers
from tracker.judge.words import Scale
from tracker.units import format_number

SCRIPT = Path(__file__).parents[2] / "dashboard" / "assets" / "log-lengths.js"
SIZES = [0.624425, 0.624325, 0.624435, (0.62442 + 0.62443) / 2, 0.6244250001, 0.62442499, 15.88005, 0.0, 6.00005]


def in_the_script(values, decimals):
    """Return what the Log page writes for these values."""
    if shutil.which("node") is None:
        pytest.skip("node is not on this system")
    code = (
        f"globalThis.window = {{}}; require({json.dumps(str(SCRIPT))});"
        f"console.log(JSON.stringify({json.dumps(values)}.map((v) => window.tenthwise.lengths.fixed(v, {decimals}))))"
    )
    done = subprocess.run(["node", "-e", code], capture_output=True, text=True, check=True)
    return json.loads(done.stdout)


@pytest.mark.parametrize("decimals", [0, 1, 4, 5])
def test_the_log_page_rounds_as_every_other(decimals):
    """A typed half, the same half as a mean, and what lies to its sides; deviations in tenths too."""
    tenths = [(size - 0.624) / 0.0001 for size in SIZES[:6]]
    values = [*SIZES, *tenths, *(k / 20 for k in range(-60, 60)), *(0.62 + k * 5e-6 for k in range(200))]
    values = [abs(value) for value in values]
    assert in_the_script(values, decimals) == [format_number(value, decimals) for value in values]


def test_a_half_is_the_half_of_the_value_as_typed_or_averaged():
    for size, said in ((0.624425, "0.62442"), (0.624435, "0.62444"), (0.624325, "0.62432")):
        assert format_number(size, 5) == said
        assert Numbers("in", 0.00005).size(size) == said
        assert Scale("in", 0.00005).size(size) == said
        assert format_number((size - 0.000005 + size + 0.000005) / 2, 5) == said
    assert format_number(0.6244250001, 5) == "0.62443"


@pytest.mark.parametrize("typed", [0.624425, 0.624435, 0.62443, 0.624325, 0.6244251])
def test_size_deviation_and_aim_agree_with_each_other(typed):
    """What a row says adds up: the base and its deviation make the size, the aim and its own the same."""
    numbers, base, aim = Numbers("in", 0.00005), 0.624, 0.6245
    size = float(numbers.size(typed))
    over_base, off_aim, aim_over = (
        float(text.replace("−", "-"))
        for text in (numbers.off(typed, base), numbers.off(typed, aim), numbers.off(aim, base))
    )
    assert over_base == pytest.approx((size - base) / 0.0001)
    assert aim_over + off_aim == pytest.approx(over_base)
