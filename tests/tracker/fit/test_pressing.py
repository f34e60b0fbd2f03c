"""Press fits: an independent solution of the equations, ranges, units, refusals and cautions."""

import json
import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import solve_bvp

from tracker.errors import OutsideModel
from tracker.fit.press_materials import Material, material, material_names, presses
from tracker.fit.pressing import press_fit


def ring(inside, outside, modulus, poisson, pressure_in, pressure_out):
    """Displacement and stresses of one ring in plane stress, by a boundary-value solver on the equilibrium equation.

    u'' + u'/r - u/r^2 = 0 with the radial stress given on both edges: nothing of Lamé's closed form is used.
    """
    factor = modulus / (1 - poisson**2)

    def slope(r, y):
        return np.vstack([y[1], -y[1] / r + y[0] / r**2])

    def edges(a, b):
        return np.array(
            [
                factor * (a[1] + poisson * a[0] / inside) + pressure_in,
                factor * (b[1] + poisson * b[0] / outside) + pressure_out,
            ]
        )

    r = np.linspace(inside, outside, 60)
    guess = np.vstack([np.full_like(r, 1e-4), np.zeros_like(r)])
    found = solve_bvp(slope, edges, r, guess, tol=1e-9, max_nodes=20000)
    assert found.success

    def at(radius):
        u, du = found.sol(radius)
        return u, factor * (u / radius + poisson * du)

    return at


RINGS = [
    (40.0, 20.0, 80.0, 0.045, (205e3, 0.29), (110e3, 0.26)),
    (20.0, 14.0, 26.0, 0.010, (100e3, 0.33), (210e3, 0.30)),
    (60.0, 10.0, 300.0, 0.030, (69e3, 0.33), (193e3, 0.29)),
]


@pytest.mark.parametrize(("diameter", "inner", "outer", "interference", "in_material", "out_material"), RINGS)
def test_against_a_boundary_value_solution(diameter, inner, outer, interference, in_material, out_material):
    fit = press_fit(
        diameter,
        30.0,
        interference,
        inner,
        outer,
        inner_modulus=in_material[0],
        inner_poisson=in_material[1],
        outer_modulus=out_material[0],
        outer_poisson=out_material[1],
        inner_yield=2000.0,
        outer_yield=2000.0,
    )
    hub = ring(diameter / 2, outer / 2, *out_material, fit.pressure, 0.0)
    sleeve = ring(inner / 2, diameter / 2, *in_material, 0.0, fit.pressure)
    grown, hoop = hub(diameter / 2)
    shrunk, squeeze = sleeve(diameter / 2)
    assert 2 * (grown - shrunk) == pytest.approx(interference, rel=1e-6)  # the two close the interference exactly
    assert fit.changes["outer_bore"].middle == pytest.approx(2 * grown, rel=1e-6)
    assert fit.changes["inner_outside"].middle == pytest.approx(2 * shrunk, rel=1e-6)
    assert fit.changes["outer_outside"].middle == pytest.approx(2 * hub(outer / 2)[0], rel=1e-6)
    assert fit.changes["inner_bore"].middle == pytest.approx(2 * sleeve(inner / 2)[0], rel=1e-6)
    assert fit.stresses["hoop_outer_bore"] == pytest.approx(hoop, rel=1e-6)
    assert fit.stresses["hoop_inner_joint"] == pytest.approx(squeeze, rel=1e-6)
    assert fit.stresses["hoop_outer_outside"] == pytest.approx(hub(outer / 2)[1], rel=1e-6)
    assert fit.stresses["hoop_inner_bore"] == pytest.approx(sleeve(inner / 2)[1], rel=1e-6)


@given(
    scale=st.floats(0.1, 10),
    inner=st.floats(0, 0.9),
    outer=st.floats(1.1, 20),
    per_unit=st.floats(1e-5, 3e-4),
)
def test_scale(scale, inner, outer, per_unit):
    """Twice as large in every length: the same pressure, four times the force, eight times the torque."""
    small = press_fit(10.0, 8.0, 10.0 * per_unit, 10.0 * inner, 10.0 * outer, beyond_yield="mark")
    large = press_fit(
        10.0 * scale,
        8.0 * scale,
        10.0 * scale * per_unit,
        10.0 * scale * inner,
        10.0 * scale * outer,
        beyond_yield="mark",
    )
    assert large.pressure == pytest.approx(small.pressure, rel=1e-9)
    assert large.push_force == pytest.approx(small.push_force * scale**2, rel=1e-9)
    assert large.torque == pytest.approx(small.torque * scale**3, rel=1e-9)
    assert large.heat_to == pytest.approx(small.heat_to, rel=1e-9)


@pytest.mark.parametrize("name", material_names())
def test_inch_and_millimetre_agree(name):
    metric = press_fit(25.4, 25.4, 0.00508, 0.0, 63.5, (0.1, 0.14), outer_material=name, service_temperature=60.0)
    inch = press_fit(
        1.0, 1.0, 0.0002, 0.0, 2.5, (0.1, 0.14), units="in", outer_material=name, service_temperature=140.0
    )
    psi = 0.45359237 * 9.80665 / 25.4**2  # MPa in one psi, by definition of the pound and of standard gravity
    assert inch.pressure * psi == pytest.approx(metric.pressure, rel=1e-9)
    assert inch.push_force * 4.4482216152605 == pytest.approx(metric.push_force, rel=1e-9)
    assert inch.torque * 0.1129848290276167 == pytest.approx(metric.torque, rel=1e-9)  # N m in one lbf in
    assert (inch.heat_to - 32) / 1.8 == pytest.approx(metric.heat_to, rel=1e-9)
    assert inch.margins == pytest.approx(dict(metric.margins), rel=1e-9)
    assert inch.service.holding_force.high * 4.4482216152605 == pytest.approx(
        metric.service.holding_force.high, rel=1e-9
    )


def test_range_over_the_batch():
    gaps = np.array([0.0003, 0.0005, 0.0007])
    fit = press_fit(0.5, 0.75, gaps, 0.0, 1.5, (0.08, 0.16), units="in")
    low = press_fit(0.5, 0.75, 0.0003, 0.0, 1.5, 0.08, units="in")
    high = press_fit(0.5, 0.75, 0.0007, 0.0, 1.5, 0.16, units="in")
    middle = press_fit(0.5, 0.75, 0.0005, 0.0, 1.5, 0.12, units="in")
    for name in ("push_force", "holding_force", "torque", "pressure", "effective_interference"):
        assert fit.ranges[name].low == pytest.approx(getattr(low, name))
        assert fit.ranges[name].high == pytest.approx(getattr(high, name))
        assert getattr(fit, name) == fit.ranges[name].middle == pytest.approx(getattr(middle, name))
    assert fit.pairs == 3
    assert fit.stresses == high.stresses and fit.margins == high.margins
    assert fit.heat_to == high.heat_to  # every piece must drop in
    assert press_fit(0.5, 0.75, (0.0003, 0.0007), 0.0, 1.5, (0.08, 0.16), units="in").ranges == fit.ranges


@settings(max_examples=50)
@given(st.lists(st.floats(1e-5, 2e-4), min_size=1, max_size=20), st.randoms())
def test_order_of_pieces_does_not_matter(interference, random):
    turned = list(interference)
    random.shuffle(turned)
    one, other = (press_fit(0.5, 0.5, batch, 0.0, 2.0, units="in") for batch in (interference, turned))
    assert one.ranges["push_force"].high == other.ranges["push_force"].high
    assert one.push_force == pytest.approx(other.push_force, rel=1e-12)


def test_force_grows_evenly_with_depth():
    fit = press_fit(20.0, 30.0, 0.01, 0.0, 60.0, 0.1)
    assert fit.force_by_depth[0] == (0.0, 0.0, 0.0)
    assert fit.force_by_depth[-1][0] == 30.0
    assert fit.force_by_depth[-1][2] == pytest.approx(fit.push_force)
    assert fit.force_by_depth[5][2] == pytest.approx(math.pi * 20.0 * 15.0 * fit.pressure * 0.1)


def test_roughness_takes_eight_tenths_of_both():
    """DIN 7190-1: 0.8 (Rz + Rz); but heat and cold must still clear the whole interference."""
    rough = press_fit(20.0, 30.0, 0.020, 0.0, 60.0, inner_rz=0.003, outer_rz=0.006)
    smooth = press_fit(20.0, 30.0, 0.020 - 0.8 * 0.009, 0.0, 60.0)
    assert rough.effective_interference == pytest.approx(0.0128)
    assert rough.pressure == pytest.approx(smooth.pressure)
    assert rough.heat_to == press_fit(20.0, 30.0, 0.020, 0.0, 60.0).heat_to


def test_dropping_in_hot_or_cold_leaves_the_clearance():
    """Expand the bore at heat_to, or shrink the pin at cool_to: the gap is the clearance asked for."""
    fit = press_fit(20.0, 30.0, 0.010, 0.0, 60.0, assembly_clearance=0.008)
    bore, pin = fit.outer_material, fit.inner_material
    assert 20.0 * bore.expansion * (fit.heat_to - 20.0) - 0.010 == pytest.approx(0.008)
    assert 20.0 * pin.contraction * (20.0 - fit.cool_to) - 0.010 == pytest.approx(0.008)
    both = 20.0 * (bore.expansion * (fit.heat_with_cold - 20.0) + pin.contraction * 98.0) - 0.010
    assert both == pytest.approx(0.008) or fit.heat_with_cold == 20.0


def test_cold_alone_is_not_promised_below_liquid_nitrogen():
    fit = press_fit(20.0, 30.0, 0.030, 0.0, 60.0, assembly_clearance=0.02, beyond_yield="mark")
    assert fit.cool_to is None
    assert "liquid nitrogen" in fit.cool_reason
    assert "liquid nitrogen" in str(fit)


def test_heat_that_would_draw_the_temper_is_said():
    def about_heat(interference):
        fit = press_fit(20.0, 30.0, interference, 0.0, 60.0, outer_material="tool-steel", inner_yield=5000.0)
        return next((words for words in fit.cautions if "draw the temper" in words), None)

    assert about_heat(0.001) is None  # 20 + (0.001 + 0.020) / (11e-6 20) = 115 C, under 150 C
    assert "enough with dry ice" in about_heat(0.015)
    assert "even with the inner part out of dry ice" in about_heat(0.040)


def test_service_temperature():
    """A steel pin in aluminium loses interference when hot: d (alpha_in - alpha_out) rise, exactly."""
    cold = press_fit(20.0, 30.0, 0.030, 0.0, 60.0, outer_material="aluminium", service_temperature=20.0)
    hot = press_fit(20.0, 30.0, 0.030, 0.0, 60.0, outer_material="aluminium", service_temperature=100.0)
    assert cold.service.pressure.middle == pytest.approx(cold.pressure)
    assert hot.service.effective_interference.middle == pytest.approx(0.030 - 20.0 * (23.5e-6 - 11.5e-6) * 80.0)
    loose = press_fit(20.0, 30.0, [0.010, 0.030], 0.0, 60.0, outer_material="aluminium", service_temperature=100.0)
    assert loose.service.loose == 1
    assert loose.service.holding_force.low == 0.0
    assert any("no interference left" in words for words in loose.cautions)
    frost = press_fit(20.0, 30.0, 0.030, 0.0, 60.0, outer_material="aluminium", service_temperature=-40.0)
    assert frost.service.effective_interference.middle > 0.030
    gradient = press_fit(20.0, 30.0, 0.030, 0.0, 60.0, service_temperature=(120.0, 20.0))
    assert gradient.service.effective_interference.middle == pytest.approx(0.030 + 20.0 * 11.5e-6 * 100.0)


def test_little_left_in_service_is_said_on_both_sides_of_a_tenth_and_of_the_roughness():
    """Steel in aluminium, d = 20: each degree takes 20 (23.5 - 11.5) 1e-6 of the interference."""
    each = 20.0 * 12e-6

    def at(left, loss=0.0):
        hot = 20.0 + (0.030 - loss - left) / each
        rz = {"outer_rz": loss / 0.8}
        return press_fit(20.0, 30.0, 0.030, 0.0, 60.0, outer_material="aluminium", service_temperature=hot, **rz)

    few, enough = at(0.00299), at(0.00301)
    assert (few.service.little, enough.service.little) == (1, 0)
    assert f"{few.service.effective_interference.low:.4f} mm of interference left" in dict(few.lines())["in service"]
    assert "in service little of it is left" in few.verdict
    assert any("our choice" in words and "only 0.0030 mm" in words for words in few.cautions)
    assert not any("our choice" in words for words in enough.cautions)
    assert enough.verdict.endswith("in service).")
    assert (at(0.0049, 0.005).service.little, at(0.0051, 0.005).service.little) == (1, 0)
    assert few.sound  # it still holds


def test_service_above_the_heat_that_parts_the_joint_is_said():
    """The bore grown by the whole interference, the pin still cold; d = 20, 0.02 mm takes 0.02 / (20 11.5e-6) K."""
    lets_go = 20.0 + 0.020 / (20.0 * 11.5e-6)
    for service, there in ((lets_go - 0.5, False), (lets_go + 0.5, True)):
        fit = press_fit(20.0, 30.0, [0.020, 0.025], 0.0, 60.0, service_temperature=service)
        assert fit.service.lets_go_at == pytest.approx(lets_go)
        assert any("drops apart" in words for words in fit.cautions) is there
    loose = press_fit(20.0, 30.0, 0.010, 0.0, 60.0, outer_material="aluminium", service_temperature=200.0)
    assert not any("drops apart" in words for words in loose.cautions)  # it is loose anyway
    assert any(words.startswith("No interference is left in service") for words in loose.cautions)
    assert "1 of 1" not in str(loose)


def test_a_thin_margin_is_one_standard_with_the_window():
    from tracker.fit.press_window import interference_window

    joint = {"inner": 10.0, "outer": 80.0, "inner_rz": 0.004}
    most = interference_window(50.0, 40.0, hold=1000.0, **joint).most
    kept = press_fit(50.0, 40.0, most, **joint)
    thin = press_fit(50.0, 40.0, most * 1.02, **joint)
    assert not any("is thin" in words for words in kept.cautions)
    assert "margin" not in kept.verdict
    assert f"up to {math.floor(most * 1e4) / 1e4:.4f} mm of interference keeps that" in thin.verdict
    caution = next(words for words in thin.cautions if "is thin" in words)
    assert "under the 1.25 that is asked" in caution
    assert f"up to {math.floor(most * 1e4) / 1e4:.4f} mm of interference keeps that" in caution
    assert thin.sound


@pytest.mark.parametrize("batch", [0.2, [0.04, 0.2], [0.2, 0.2]])
def test_where_a_part_yields_nothing_is_offered(batch):
    fit = press_fit(50.0, 40.0, batch, 0.0, 80.0, beyond_yield="mark", available_presses={"huge press": 1e9})
    lines = str(fit).splitlines()
    assert lines[0].startswith("Do not press: ")
    assert f"up to {math.floor(fit.elastic_limit * 1e4) / 1e4:.4f} mm" in lines[0]
    assert not any(line.startswith(("press ", "push force", "heat", "or cool")) for line in lines)
    for words in ("huge press", "drops in", "Stop when", "Heated parts", "draw the temper", "Dry ice", "1 of 1"):
        assert words not in str(fit)
    assert "too high" in str(fit)
    assert fit.press_needed.startswith("none")
    assert "eye protection" in str(fit)
    assert not fit.sound


def test_a_part_that_yields_in_service_alone_is_not_to_be_pressed():
    """An aluminium pin in steel grows tighter when hot."""
    fit = press_fit(20.0, 30.0, 0.020, 0.0, 60.0, inner_material="aluminium", service_temperature=200.0)
    assert fit.elastic
    assert fit.service.margins["outer"] < 1
    assert fit.verdict.startswith("Do not press: at 200 °C, in service, ")
    assert not fit.sound


def test_heat_that_a_part_does_not_stand_is_not_offered():
    hard = press_fit(20.0, 30.0, 0.015, 0.0, 60.0, outer_material="tool-steel", inner_yield=5000.0)
    assert hard.heat_to > hard.outer_material.hottest >= hard.heat_with_cold
    rows = dict(hard.lines())
    assert "heat outer to" not in rows
    assert "150 °C is the most it stands" in rows["heat outer"]
    assert f"out of dry ice {hard.heat_with_cold:.0f} °C is enough" in rows["heat outer"]
    harder = press_fit(20.0, 30.0, 0.040, 0.0, 60.0, outer_material="tool-steel", inner_yield=5000.0)
    assert "dry ice" not in dict(harder.lines())["heat outer"]


@pytest.mark.parametrize(
    ("batch", "service", "verdict"),
    [
        (0.01, None, "It presses, and holds 10,600 N."),
        ([-0.002, 0.01], None, "Do not press as they are: 1 of 2 pairs has no interference left."),
        (0.01, 200.0, "It presses, but does not hold in service: at 200 °C no interference is left."),
        (
            [0.01, 0.04],
            100.0,
            "It presses, but does not hold in service: at 100 °C 1 of 2 pairs has no interference left.",
        ),
        (0.2, None, "Do not press: "),
    ],
)
def test_every_answer_begins_with_one_verdict(batch, service, verdict):
    material = "steel" if service is None else "aluminium"
    fit = press_fit(
        20.0, 30.0, batch, 0.0, 60.0, outer_material=material, service_temperature=service, beyond_yield="mark"
    )
    assert str(fit).startswith(verdict)
    assert fit.verdict.count(". ") == 0
    assert fit.verdict == fit.to_dict()["verdict"]


def test_brittle_parts_are_judged_by_tension():
    iron = press_fit(40.0, 30.0, 0.02, 0.0, 80.0, outer_material="cast iron")
    assert iron.margins["outer"] == pytest.approx(200.0 / iron.stresses["hoop_outer_bore"])
    pin = press_fit(10.0, 30.0, 0.004, 4.0, 40.0, inner_material="hardened tool steel")
    assert pin.margins["inner"] == pytest.approx(2200.0 / -pin.stresses["hoop_inner_bore"])
    assert any("brittle" in words for words in iron.cautions)


def test_elastic_limit_is_where_the_margin_is_one():
    fit = press_fit(50.0, 40.0, 0.04, 0.0, 80.0, outer_rz=0.005)
    at = press_fit(50.0, 40.0, fit.elastic_limit, 0.0, 80.0, outer_rz=0.005)
    assert min(at.margins.values()) == pytest.approx(1.0)
    assert at.elastic
    with pytest.raises(OutsideModel, match="plastic"):
        press_fit(50.0, 40.0, fit.elastic_limit * 1.001, 0.0, 80.0, outer_rz=0.005)


def test_yield_inside_the_batch_is_refused_or_marked():
    batch = [0.04, 0.05, 0.2]
    with pytest.raises(OutsideModel, match="1 of 3 pairs"):
        press_fit(50.0, 40.0, batch, 0.0, 80.0)
    marked = press_fit(50.0, 40.0, batch, 0.0, 80.0, beyond_yield="mark")
    assert (marked.elastic, marked.past_elastic) == (False, 1)
    assert marked.margins["outer"] < 1
    assert any("beyond the elastic limit" in words for words in marked.cautions)


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"outer": 50.0}, "no wall"),
        ({"outer": 40.0}, "no wall"),
        ({"outer": math.nan}, "no wall"),
        ({"inner": 50.0}, "bore"),
        ({"inner": -1.0}, "bore"),
        ({"diameter": 0.0}, "diameter"),
        ({"length": -1.0}, "length"),
        ({"interference": 0.0}, "no interference"),
        ({"interference": -0.01}, "no interference"),
        ({"interference": []}, "empty"),
        ({"interference": math.nan}, "not a number"),
        ({"interference": 0.004, "inner_rz": 0.006}, "roughness takes"),
        ({"friction": 0.0}, "friction"),
        ({"friction": (0.2, 0.1)}, "friction"),
        ({"shape": "hexagonal"}, "round"),
        ({"units": "cm"}, "accepted is"),
        ({"outer_material": "cheese"}, "cast-iron"),
        ({"outer_poisson": 0.6}, "poisson"),
        ({"outer_modulus": 0.0}, "modulus"),
        ({"inner_rz": -1.0}, "inner_rz"),
        ({"beyond_yield": "ignore"}, "refuse or mark"),
        ({"ambient": math.inf}, "ambient"),
        ({"service_temperature": math.nan}, "service"),
    ],
)
def test_refused(change, words):
    usual = {"diameter": 50.0, "length": 40.0, "interference": 0.04, "inner": 0.0, "outer": 80.0}
    with pytest.raises(OutsideModel, match=words):
        press_fit(**(usual | change))


def test_flat_and_key_are_computed_as_round_and_say_so():
    whole = press_fit(20.0, 30.0, 0.01, 0.0, 60.0)
    for shape in ("flat", "keyed"):
        fit = press_fit(20.0, 30.0, 0.01, 0.0, 60.0, shape=shape)
        assert fit.pressure == whole.pressure
        assert any("outside the model" in words for words in fit.cautions)
    assert not any("outside the model" in words for words in whole.cautions)


def test_cautions_are_always_there():
    text = str(press_fit(20.0, 30.0, 0.01, 0.0, 60.0))
    for words in ("qualified person", "eye protection", "square", "Stop when the force climbs past", "gloves", "flame"):
        assert words in text


def test_a_loose_pair_in_the_batch_is_counted():
    fit = press_fit(20.0, 30.0, [-0.002, 0.01], 0.0, 60.0)
    assert (fit.loose, fit.ranges["holding_force"].low) == (1, 0.0)
    assert any("1 of 2 pairs" in words for words in fit.cautions)


def test_press_needed():
    weak = press_fit(6.0, 10.0, 0.004, 0.0, 30.0)
    assert weak.press_needed.startswith("half-ton arbor press") == (
        weak.push_force * 1.5 <= presses()["half-ton arbor press"]
    )
    needed = weak.push_force * 1.5
    assert "small" in press_fit(6.0, 10.0, 0.004, 0.0, 30.0, available_presses={"small": needed}).press_needed
    assert "none" in press_fit(6.0, 10.0, 0.004, 0.0, 30.0, available_presses={"small": needed * 0.999}).press_needed


def test_material_stated():
    own = material("steel", "in", yield_stress=90_000.0, expansion=6.5e-6)
    assert isinstance(own, Material)
    assert (own.yield_stress, own.contraction, own.source) == (90_000.0, 6.5e-6, "as stated")
    assert material(own, "in") is not None
    assert press_fit(0.5, 1.0, 0.0003, 0.0, 2.0, units="in", outer_material=own).outer_material.yield_stress == 90_000.0
    assert material("steel").source.endswith("from memory")
    with pytest.raises(OutsideModel, match="no value"):
        material("steel", colour=1.0)


def test_plain_data():
    fit = press_fit(20.0, 30.0, [0.008, 0.01], 0.0, math.inf, service_temperature=60.0)
    assert fit.stresses["hoop_outer_outside"] == 0.0
    data = json.loads(json.dumps(fit.to_dict()))
    assert data["ranges"]["push_force"]["high"] == pytest.approx(fit.ranges["push_force"].high)
    assert data["outer"] is None  # infinite
