"""Press fits against published examples and the bank (cases press-*, practice-shoulder-fillet)."""

import math

import pytest

from tracker.fit.press_materials import presses
from tracker.fit.pressing import press_fit
from tracker.fit.seating import seat


def by_case(given, units="mm", **more):
    return press_fit(
        given["d"],
        given.get("length_mm", 1.0),
        given["diametral_interference"],
        given["d_shaft_bore"],
        given["d_hub_outer"],
        given.get("mu", 0.12),
        units=units,
        inner_modulus=given["E_shaft"],
        inner_poisson=given["nu_shaft"],
        outer_modulus=given["E_hub"],
        outer_poisson=given["nu_hub"],
        **more,
    )


@pytest.mark.parametrize(
    ("name", "units"), [("press-steel-50-80", "mm"), ("press-hollow-ci", "mm"), ("press-inch-dowel", "in")]
)
def test_pressure_stresses_and_growth_of_the_bank(case, name, units):
    """Computed by the closed form and, for the mixed hollow case, by a boundary-value solver (see verified_by)."""
    known = case(name)
    printed, rel = known["expected"], known["tolerance"]["rel"]
    fit = by_case(known["inputs"], units)
    assert fit.pressure == pytest.approx(printed["p"], rel=rel)
    assert fit.stresses["hoop_outer_bore"] == pytest.approx(printed["hoop_hub_in"], rel=rel)
    assert fit.stresses["hoop_outer_outside"] == pytest.approx(printed["hoop_hub_out"], rel=rel)
    assert fit.stresses["hoop_inner_joint"] == pytest.approx(printed["hoop_shaft_out"], rel=rel)
    assert fit.stresses["hoop_inner_bore"] == pytest.approx(printed["hoop_shaft_in"], rel=rel)
    assert fit.changes["outer_outside"].middle == pytest.approx(printed["growth_hub_od"], rel=rel)
    assert fit.changes["outer_bore"].middle == pytest.approx(printed["growth_hub_bore"], rel=rel)
    assert fit.changes["inner_outside"].middle == pytest.approx(printed["change_shaft_od"], rel=rel)
    if "force_N" in printed:
        assert fit.push_force == fit.holding_force == pytest.approx(printed["force_N"], rel=rel)
        assert fit.torque == pytest.approx(printed["torque_Nm"], rel=rel)


def test_timoshenko_built_up_cylinder(case):
    """Timoshenko, Strength of Materials, part II: 4050 psi (print, from memory); the stresses are recomputed."""
    known = case("press-timoshenko")
    given, printed = known["inputs"], known["expected"]
    fit = press_fit(
        given["d_interface"],
        1.0,
        given["diametral_interference"],
        given["d_inner"],
        given["d_outer"],
        units="in",
        inner_modulus=given["E"],
        outer_modulus=given["E"],
    )
    assert fit.pressure == pytest.approx(printed["p_psi"], abs=known["tolerance"]["p_abs"])
    assert fit.stresses["hoop_outer_bore"] == pytest.approx(printed["hoop_outer_at_interface"], rel=1e-6)
    assert fit.stresses["hoop_inner_bore"] == pytest.approx(printed["hoop_inner_bore"], rel=1e-6)


def handbook_factor(fit, poisson):
    """C of the handbook from our own pressure: its T is the largest-strain stress of the hub at the bore.

    T = hoop + Poisson's ratio times pressure, so that allowance / d = T (1 + C) / E for one material: the hub's share
    of the interference is T / E and C is the shaft's share beside it. (Not the hoop stress itself: the bank's notes.)
    """
    hub = fit.changes["outer_bore"].middle
    shaft = -fit.changes["inner_outside"].middle
    strain_stress = fit.stresses["hoop_outer_bore"] + poisson * fit.pressure
    return shaft / hub, strain_stress


def test_handbook_shrink_fit_factors_solid_shaft(case):
    """Machinery's Handbook, 31st edition, p. 644, table 1; steel with Poisson's ratio 1/3, cast iron with 1/4."""
    known = case("press-mh-table1")
    rows = zip(
        known["inputs"]["D2_over_D1"],
        known["expected"]["C_steel_hub"],
        known["expected"]["C_cast_iron_hub"],
        strict=True,
    )
    for ratio, steel, iron in rows:
        shaft = {"units": "in", "inner_modulus": 30e6, "inner_poisson": 1 / 3}
        fit = press_fit(1.0, 1.0, 0.0002, 0.0, ratio, outer_modulus=30e6, outer_poisson=1 / 3, **shaft)
        factor, strain_stress = handbook_factor(fit, 1 / 3)
        assert factor == pytest.approx(steel, abs=known["tolerance"]["abs"])
        assert strain_stress * (1 + factor) / 30e6 == pytest.approx(0.0002, rel=1e-9)
        # cast iron, E = 15e6: allowance / d = T (2 + C) / 30e6, the shaft's share counted on the steel's modulus
        fit = press_fit(1.0, 1.0, 0.0002, 0.0, ratio, outer_modulus=15e6, outer_poisson=1 / 4, **shaft)
        share, strain_stress = handbook_factor(fit, 1 / 4)
        assert 2 * share == pytest.approx(iron, abs=known["tolerance"]["abs"])
        assert strain_stress * (2 + 2 * share) / 30e6 == pytest.approx(0.0002, rel=1e-9)


def test_handbook_shrink_fit_factors_hollow_shaft(case):
    """Machinery's Handbook, 31st edition, p. 645, table 2."""
    known = case("press-mh-table2")
    for ratio, row in known["expected"]["C"].items():
        for hollow, factor in zip(known["inputs"]["D1_over_D0"], row, strict=True):
            fit = press_fit(
                1.0,
                1.0,
                0.0002,
                1 / hollow,
                float(ratio),
                units="in",
                inner_poisson=1 / 3,
                outer_poisson=1 / 3,
                inner_modulus=30e6,
                outer_modulus=30e6,
            )
            assert handbook_factor(fit, 1 / 3)[0] == pytest.approx(factor, abs=known["tolerance"]["abs"])


def test_handbook_force_factors_are_of_the_right_size(case):
    """Machinery's Handbook forced-fit factors: tons = A a F / 2.

    They imply a friction of .076 at 1 in, falling to .066 at 10 in. An empirical table: only a plausibility check (the
    bank's notes). The friction is found with our push force.
    """
    known = case("press-mh-force-factor")
    implied = []
    for size, factor in zip(known["inputs"]["diameter_in"], known["expected"]["F"], strict=True):
        interference = 0.0005 * size
        tons = math.pi * size * 1.0 * interference * factor / 2
        fit = press_fit(
            size,
            1.0,
            interference,
            0.0,
            2.0 * size,
            1.0,
            units="in",
            inner_modulus=30e6,
            inner_poisson=0.29,
            outer_modulus=15e6,
            outer_poisson=0.27,
        )
        implied.append(tons * 2000 / fit.push_force)
    assert implied[0] == pytest.approx(0.076, abs=0.0005)
    assert implied[-1] == pytest.approx(0.066, abs=0.0005)
    assert all(0.06 < friction < 0.08 for friction in implied)


def test_joining_temperature_of_the_bank(case):
    known = case("press-heating")
    given = known["inputs"]
    fit = press_fit(
        given["d_mm"],
        30.0,
        given["interference_mm"],
        0.0,
        80.0,
        outer_expansion=given["alpha"],
        ambient=given["ambient_C"],
        assembly_clearance=given["assembly_clearance_mm"],
    )
    assert fit.heat_to == pytest.approx(known["expected"]["T_C"], abs=known["tolerance"]["abs"])


def test_shoulder_fillet_of_the_bank(case):
    """Common practice, no source: an edge break as large as the fillet cures it."""
    known = case("practice-shoulder-fillet")
    given = known["inputs"]
    held = seat(given["fillet_in"], given["edge_break_in"], given["gap_in"])
    assert held.seats is known["expected"]["seats"]
    assert held.stand_off > 0
    assert seat(given["fillet_in"], 0.015, given["gap_in"]).seats is known["expected"]["edge_break_0.015_seats"]


def test_din_7190_limit_pressures():
    """DIN 7190-1 (from memory): outer p = (1 - Q^2) / sqrt 3 yield, and a hollow inner part the same.

    The standard's modified shear stress hypothesis takes the bore of a thick wall as sqrt 3 p / (1 - Q^2). Von Mises in
    the plane, which is used here, is p sqrt(3 + Q^4) / (1 - Q^2): never less strict, and equal for a thin shaft in a
    thick wall.
    """
    for ratio in (1.2, 1.5, 2.0, 5.0):
        fit = press_fit(100.0, 50.0, 0.02, 0.0, 100.0 * ratio, outer_yield=300.0, inner_yield=1e6)
        ours = fit.pressure * fit.margins["outer"]
        standard = (1 - 1 / ratio**2) / math.sqrt(3) * 300.0
        assert ours == pytest.approx(standard / math.sqrt(1 + 1 / (3 * ratio**4)), rel=1e-9)
        assert ours <= standard
    assert press_fit(10.0, 5.0, 0.001, outer_yield=300.0).margins["outer"] == pytest.approx(
        300.0 / math.sqrt(3) / press_fit(10.0, 5.0, 0.001).pressure, rel=1e-9
    )


def test_press_ratings_are_short_tons():
    """1 short ton = 2000 lbf; 1 lbf = 4.4482216152605 N exactly."""
    assert presses("in")["3 ton arbor press"] == 6000.0
    assert presses("mm")["3 ton arbor press"] == pytest.approx(6000.0 * 4.4482216152605, rel=1e-15)
