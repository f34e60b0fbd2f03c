"""What the job says of costs, of the machine and of the next look, as the next cut takes it."""

import math

import pytest

from tracker import check, next_shift
from tracker.decide import economic_aim
from tracker.errors import JobError

JOB = """
[job]
name = "Nest, pins"
unit = "mm"
[features.pin]
kind = "KIND"
nominal = 10
target = 10.000
lower = 9.990
upper = 10.010
MACHINE
[gauges.g]
resolution = 0.0001
COSTS
"""
SIZES = [10.0031, 10.0022, 10.0035, 10.0027, 10.0030, 10.0024, 10.0033, 10.0026, 10.0029, 10.0028]


def answered(path, *, kind="external", machine="", costs="", sizes=SIZES):
    path.mkdir(exist_ok=True)
    text = JOB.replace("KIND", kind).replace("MACHINE", machine).replace("COSTS", costs)
    (path / "job.toml").write_text(text, encoding="utf-8")
    rows = [f"{piece},{size:.4f}" for piece, size in enumerate(sizes, 1) for _ in range(2)]
    (path / "pin.csv").write_text("piece,value\n" + "\n".join(rows) + "\n", encoding="utf-8")
    return check(path).feature("pin").shift


def test_alike_costs_lean_to_no_side(tmp_path):
    for costs in ("", "[costs]\nremake = { pin = 9 }\n", "[costs]\nrework = { pin = 9 }\n"):
        assert answered(tmp_path, costs=costs).aim_off == 0.0


@pytest.mark.parametrize(("kind", "sign"), [("external", 1), ("internal", -1)])
def test_material_is_left_on_where_rework_is_cheaper(tmp_path, kind, sign):
    costs = "[costs]\nrework = { pin = 2 }\nremake = { pin = 20 }\n"
    found = answered(tmp_path, kind=kind, costs=costs)
    assert math.copysign(1, found.aim_off) == sign
    spread = math.hypot(found.sd, found.sd / math.sqrt(found.n))  # gauge noise is next to nothing here
    aim = economic_aim(9.99, 10.01, spread, *((20, 2) if sign > 0 else (2, 20))) - 10.0
    assert found.aim_off == pytest.approx(aim, rel=0.05)


def test_the_leaning_is_said_where_it_shows(tmp_path):
    wide = [10 + 10 * (size - 10) for size in SIZES]
    costs = "[costs]\nrework = { pin = 1 }\nremake = { pin = 200 }\n"
    found = answered(tmp_path, costs=costs, sizes=wide)
    assert "to the larger side, where a miss costs less" in found.reason


def test_touching_that_costs_more_than_it_saves_is_left_alone(tmp_path):
    costs = "[costs]\nremake = { pin = 10 }\n"
    assert answered(tmp_path, costs=costs).because == "shift"
    dear = answered(tmp_path, costs=costs + "touch = 5\n")
    assert (dear.leave_alone, dear.because) == (True, "not worth it")
    assert "touching the machine costs 5" in dear.reason
    # over many pieces the same shift pays
    near = [size + 0.0066 for size in SIZES]
    many = answered(tmp_path, costs=costs + "touch = 5\n", machine="machine = { look_every = 500 }", sizes=near)
    assert many.because == "shift"


def test_half_the_wear_to_the_next_look_is_aimed_off(tmp_path):
    worn = [9.995 + 0.001 * k + d for k, d in enumerate((0, 2e-4, -1e-4, 1e-4, -2e-4, 2e-4, 0, -1e-4, 1e-4, 0, 1e-4))]
    one = answered(tmp_path, sizes=worn)
    twenty = answered(tmp_path, sizes=worn, machine="machine = { look_every = 20 }")
    assert twenty.pieces_ahead == 20
    assert one.slope == twenty.slope == pytest.approx(0.001, rel=0.05)
    assert twenty.shift.estimate - one.shift.estimate == pytest.approx(-one.slope * (20 - 1) / 2, rel=1e-6)
    assert "half the wear of the 20 pieces to the next look aimed off" in twenty.reason
    plain = next_shift(worn, 10.0, 9.99, 10.01, pieces_ahead=20)
    assert plain.shift.estimate == pytest.approx(twenty.shift.estimate, abs=2e-5)


def test_odd_keys_are_refused_with_what_is_accepted(tmp_path):
    with pytest.raises(JobError, match="look_every is 0; accepted is a whole number from 1"):
        answered(tmp_path, machine="machine = { look_every = 0 }")
    with pytest.raises(JobError, match=r"touch is -1.*accepted is 0 or more"):
        answered(tmp_path, costs="[costs]\ntouch = -1\n")
