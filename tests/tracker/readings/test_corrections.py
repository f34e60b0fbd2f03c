"""What is added to a reading before it counts: held against hand reckoning and published coefficients."""

import pytest

from tracker.errors import ReadingsError
from tracker.job import parse_job
from tracker.readings import read_readings
from tracker.readings.corrections import at_20_degrees, expansion, expansions, plating_change

JOB = """
[job]
unit = "mm"
{head}
[features.plug]
kind = "external"
nominal = 100.0
gauge = "micrometer"
{feature}
[gauges.micrometer]
resolution = 0.001
{gauge}
"""


def read(write, text, head="", feature="", gauge=""):
    job = parse_job(JOB.format(head=head, feature=feature, gauge=gauge))
    return read_readings(write("plug.csv", text), job)


def test_steel_is_the_value_of_iso_3650():
    assert expansion("steel") == pytest.approx(11.5e-6)  # ISO 3650: (11.5 ± 1.0) per million per kelvin
    assert expansion("Tool_Steel") == expansion("gauge blocks") == expansion("steel")
    assert expansion("aluminum") == expansion("aluminium")
    assert all(0.3e-6 < value < 30e-6 for value in expansions().values())
    with pytest.raises(ReadingsError, match=r"no expansion for 'cheese'; known are .*steel"):
        expansion("cheese")


def test_like_materials_at_one_temperature_need_no_correction():
    assert at_20_degrees(100.0, 35.0, 11.5e-6, 35.0, 11.5e-6) == pytest.approx(100.0, abs=1e-12)


def test_an_aluminium_part_by_a_steel_gauge():
    # By hand: 100 mm, 10 K warm, (23.5 - 11.5) per million per kelvin: 12 um too large.
    assert at_20_degrees(100.0, 30.0, 23.5e-6, 30.0, 11.5e-6) == pytest.approx(99.988, abs=1e-9)


def test_first_order_is_near_the_exact_ratio():
    exact = 100.0 * (1 + 11.5e-6 * 10) / (1 + 23.5e-6 * 10)
    assert at_20_degrees(100.0, 30.0, 23.5e-6, 30.0, 11.5e-6) == pytest.approx(exact, rel=1e-7)


@pytest.mark.parametrize(("kind", "change"), [("external", 0.02), ("internal", -0.02), ("length", 0.01)])
def test_plating_is_twice_on_a_diameter_and_once_on_a_face(kind, change):
    assert plating_change(kind, 0.01) == pytest.approx(change)


def test_gauge_correction_then_temperature_then_plating_each_in_words(write):
    found = read(
        write,
        "piece,value,temperature\n1,100.000,30\n2,100.000,\n",
        feature='material = "aluminium"\nplating = 0.01',
        gauge='correction = 0.002\nmaterial = "steel"',
    )
    first, second = found.readings.to_dict("records")
    assert first["value"] == pytest.approx((100.002) * (1 - 12e-5) + 0.02, abs=1e-12)
    assert second["value"] == pytest.approx(100.022, abs=1e-12)
    assert first["applied"] == "gauge correction +0.002 mm; 30 °C to 20 °C -0.012 mm; plating to come +0.02 mm"
    assert second["applied"] == "gauge correction +0.002 mm; plating to come +0.02 mm"
    assert first["typed"] == "100.000"
    assert (first["low"], first["high"]) == (first["value"], first["value"])


def test_the_shop_temperature_of_the_job_serves_where_none_was_read(write):
    found = read(
        write,
        "piece,value\n1,100.000\n",
        head="temperature = 30.0",
        feature='material = "aluminium"',
        gauge='material = "steel"',
    )
    assert found.readings["value"].iloc[0] == pytest.approx(99.988, abs=1e-9)


def test_a_temperature_without_materials_is_kept_but_not_used_and_this_is_said(write):
    found = read(write, "piece,value,temperature\n1,100.000,30\n", feature='material = "aluminium"')
    assert found.readings["value"].iloc[0] == 100.0
    assert found.readings["temperature"].iloc[0] == 30.0
    assert any("no correction to 20 °C, as the gauge of plug names no material" in line for line in found.understood)


def test_a_comparator_is_corrected_after_its_master(write):
    found = read(
        write,
        "piece,deviation,unit\n1,+21,um\n",
        feature="master = 100.0",
        gauge="correction = -0.001",
    )
    row = found.readings.iloc[0]
    assert row["value"] == pytest.approx(100.02, abs=1e-12)
    assert row["applied"] == "master 100 mm +0.021; gauge correction -0.001 mm"


def test_going_is_corrected_at_both_ends_and_an_open_end_stays_open(write):
    found = read(write, "piece,value\n1,goes 100.002\n", gauge="correction = 0.001")
    row = found.readings.iloc[0]
    assert row["high"] == pytest.approx(100.003)
    assert row["low"] == float("-inf")


def test_fahrenheit_is_understood_when_it_says_so(write):
    found = read(write, "piece,value,temperature\n1,100.000,68 F\n")
    assert found.readings["temperature"].iloc[0] == pytest.approx(20.0)
