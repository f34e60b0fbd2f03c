"""Conformity: JCGM 106:2012 examples, ISO 14253-1 rules, and computed global risks (from memory, recomputed)."""

import pytest

from tracker.gauge import conformance, global_risk


@pytest.mark.parametrize("identity", ["jcgm106-burst", "jcgm106-oil"])
def test_chance_of_conforming(case, identity):
    bank = case(identity)
    inputs = bank["inputs"]
    result = conformance(inputs["estimate"], inputs["u"], lower=inputs.get("TL"), upper=inputs.get("TU"))
    assert result.chance_conforming == pytest.approx(bank["expected"]["p_c"], abs=bank["tolerance"]["abs"])


def test_global_risk_with_guard_bands(case):
    bank = case("conf-global-risk-guarded")
    i, expected, tol = bank["inputs"], bank["expected"], bank["tolerance"]["abs"]
    risk = global_risk(
        i["process_mean"],
        i["process_sd"],
        i["u_m"],
        lower=i["TL"],
        upper=i["TU"],
        accept_lower=i["AL"],
        accept_upper=i["AU"],
    )
    assert risk.consumer_risk == pytest.approx(expected["consumer_risk"], abs=tol)
    assert risk.producer_risk == pytest.approx(expected["producer_risk"], abs=tol)


@pytest.mark.parametrize(("rule", "factor"), [("rule1998", 2.0), ("rule2017", 1.65)])
def test_decisions_of_both_editions(case, rule, factor):
    bank = case("iso14253-decision")
    i = bank["inputs"]
    found = [
        conformance(measured, i["u"], lower=i["LSL"], upper=i["USL"], guard_factor=factor).decision
        for measured in i["measured"]
    ]
    assert found == bank["expected"][rule]


def test_the_default_rule_is_that_of_2017(case):
    bank = case("iso14253-decision")
    i = bank["inputs"]
    found = [conformance(m, i["u"], lower=i["LSL"], upper=i["USL"]).decision for m in i["measured"]]
    assert found == bank["expected"]["rule2017"]
