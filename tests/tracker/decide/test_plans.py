"""The cheapest plan: against brute force, by hand, and what it must never do."""

import itertools
import json
import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from tracker.decide import plan, prices
from tracker.decide.demands import Aim, chance_of_all
from tracker.errors import NotEnoughData, TrackerError
from tracker.fit import pair

LOW, HIGH = -0.0009, -0.0003
COSTS = {
    "press": 1.0,
    "rework": {"external": 4.0},
    "remake": {"external": 11.0, "internal": 60.0},
    "spoiled_assembly": 120.0,
}
SDS = {"rework_sd": {"external": 0.00005, "internal": 0.00006}, "make_sd": {"external": 0.0001, "internal": 0.0001}}
EXACT = {"rework_sd": {"external": 0.0, "internal": 0.0}, "make_sd": {"external": 0.0, "internal": 0.0}}


def one_assembly(x, y, costs, u):
    """Return the least cost of an assembly of these two (None: new), written out way by way."""
    aim = (LOW + HIGH) / 2

    def spoiled(gap, sd):
        sd = max(sd, 1e-15)
        good = stats.norm.cdf(HIGH, gap, sd) - stats.norm.cdf(LOW, gap, sd)
        return costs["spoiled_assembly"] * (1 - good)

    press, rework, remake = costs["press"], costs.get("rework", {}), costs.get("remake", {})
    unmade = costs.get("unmade_assembly", costs["spoiled_assembly"])
    ways = []
    if x is not None and y is not None:
        ways.append(press + spoiled(x - y, math.hypot(u, u)))
        if "external" in rework and x - aim <= y:
            ways.append(press + rework["external"] + spoiled(aim, math.hypot(u, SDS["rework_sd"]["external"])))
        if "internal" in rework and y + aim >= x:
            ways.append(press + rework["internal"] + spoiled(aim, math.hypot(u, SDS["rework_sd"]["internal"])))
    elif x is not None:
        if "external" in remake:
            ways.append(press + remake["external"] + spoiled(aim, math.hypot(u, SDS["make_sd"]["external"])))
    elif y is not None:
        if "internal" in remake:
            ways.append(press + remake["internal"] + spoiled(aim, math.hypot(u, SDS["make_sd"]["internal"])))
    else:
        both = math.inf
        if len(remake) == 2:
            work, lost = press + sum(remake.values()), spoiled(aim, math.hypot(*SDS["make_sd"].values()))
            if (1 - lost / costs["spoiled_assembly"]) * unmade >= work:
                both = work + lost
        return min(both, unmade)
    worth_it = [cost for cost in ways if cost <= costs["spoiled_assembly"]]  # no piece is spoiled only to be used
    return min(worth_it, default=math.inf)


def brute_force(internal, external, wanted, costs, u):
    """Return the least cost over every choice of that many assemblies."""
    best = math.inf
    m, n = len(internal), len(external)
    for paired in range(min(m, n, wanted) + 1):
        for rows in itertools.combinations(range(m), paired):
            for columns in itertools.permutations(range(n), paired):
                cost = sum(one_assembly(internal[i], external[j], costs, u) for i, j in zip(rows, columns))
                lone = [one_assembly(internal[i], None, costs, u) for i in range(m) if i not in rows]
                lone += [one_assembly(None, external[j], costs, u) for j in range(n) if j not in columns]
                lone += [one_assembly(None, None, costs, u)] * (wanted - paired)
                best = min(best, cost + sum(sorted(lone)[: wanted - paired]))
    return best


@pytest.mark.parametrize("seed", range(100))
def test_as_cheap_as_brute_force(seed):
    rng = np.random.default_rng(seed)
    m, n = rng.integers(1, 4, size=2)
    # no gauge noise, or two pieces a side at most: then true sizes are taken as they read
    u = 0.0 if seed % 2 else 0.00006
    if u and max(m, n) > 2:
        m, n = min(m, 2), min(n, 2)
    internal = 0.6252 + 0.0003 * rng.normal(size=m)
    external = 0.6258 + 0.0003 * rng.normal(size=n)
    sides = [{}, {"external": 4.0}, {"internal": 7.0}, {"external": 4.0, "internal": 7.0}]
    costs = {**COSTS, "rework": sides[rng.integers(1, 4)], "spoiled_assembly": float(rng.choice([5.0, 30.0, 120.0]))}
    if seed % 3 == 0:
        costs["remake"] = {"external": 11.0}
    if seed >= 60:
        costs["unmade_assembly"] = float(rng.choice([0.5, 2.0, 5.0])) * costs["spoiled_assembly"]
    wanted = int(rng.integers(1, min(m, n) + 2))
    answer = plan(internal, external, LOW, HIGH, costs, wanted=wanted, uncertainty=u, **SDS)
    assert answer.cost == pytest.approx(brute_force(internal, external, wanted, costs, u), rel=1e-6)
    assert len(answer.pairs) == wanted


def test_everything_good_is_pressed_as_it_is():
    answer = plan([0.6250, 0.6252, 0.6251], [0.6257, 0.6258, 0.6256], LOW, HIGH, COSTS, **SDS)
    assert answer.work == ("Press all three pairs as listed.",)
    assert (answer.reworked, answer.remade, answer.not_made, answer.cost) == (0, 0, 0, 3.0)
    assert answer.external_actions == ("press as is",) * 3
    assert answer.expected_good == pytest.approx(3.0)
    assert answer.chance_all == pytest.approx(1.0)


def test_list_of_work_in_the_shops_words():
    internal = [0.6253] * 12
    external = [0.6259] * 12
    for piece in (3, 7, 11):
        external[piece - 1] = 0.6264
    answer = plan(
        internal, external, LOW, HIGH, COSTS, increment=0.0001, names=("bore", "plug"), rework_word="regrind",
        say=lambda value: f"{value:.4f}", **SDS
    )  # fmt: skip
    assert answer.work == ("Regrind plugs 3, 7 and 11 to 0.6259.", "Press all twelve pairs as the plan lists them.")
    assert [answer.external_actions[piece - 1] for piece in (3, 7, 11)] == ["rework"] * 3


def test_own_piece_numbers_are_used():
    answer = plan(
        [0.6253], [0.6264], LOW, HIGH, COSTS, labels=(["B9"], ["P4"]), names=("bore", "plug"), increment=0.0001, **SDS
    )
    assert answer.work[0] == "Rework plug P4 to 0.6259."


def test_no_rework_where_no_material_is_left():
    """The plug is too small: grinding cannot help, a new one is made."""
    answer = plan([0.6256], [0.6257], LOW, HIGH, COSTS, **SDS)
    assert (answer.reworked, answer.remade) == (0, 1)
    assert answer.external_actions == ("leave over",)
    assert answer.work[0] == "Make one new external piece to 0.6262, for internal piece 1."


def test_a_bore_can_be_opened_but_not_closed():
    costs = {**COSTS, "rework": {"internal": 4.0}}
    opened = plan([0.6250], [0.6260], LOW, HIGH, costs, **SDS)
    assert (opened.internal_actions, opened.pairs[0].size) == (("rework",), pytest.approx(0.6254))
    closed = plan([0.6260], [0.6260], LOW, HIGH, costs, **SDS)
    assert closed.reworked == 0


@pytest.mark.parametrize(("least", "reworked"), [(0.0004, 1), (0.0006, 0)], ids=["enough comes off", "too little"])
def test_least_cut(least, reworked):
    answer = plan([0.6253], [0.6264], LOW, HIGH, COSTS, least_cut=least, **SDS)  # 0.0005 to come off
    assert answer.reworked == reworked


@pytest.mark.parametrize(
    ("rework", "word"), [(9.9, "rework"), (11.1, "leave over")], ids=["just cheaper", "just dearer"]
)
def test_rework_against_remake(rework, word):
    costs = {**COSTS, "rework": {"external": rework}, "remake": {"external": 10.5}}
    answer = plan([0.6253], [0.6264], LOW, HIGH, costs, **EXACT)
    assert answer.external_actions == (word,)


def test_nothing_can_be_done():
    costs = {"rework": {"internal": 4.0}, "remake": {"internal": 500.0}, "spoiled_assembly": 120.0}
    answer = plan([0.6260], [0.6260], LOW, HIGH, costs, **EXACT)
    assert (answer.not_made, answer.expected_good, answer.chance_all) == (1, 0.0, 0.0)
    assert "unmade" in answer.work[0]


def test_more_wanted_than_there_are():
    answer = plan([0.6253] * 3, [0.6259] * 2, LOW, HIGH, COSTS, wanted=3, **EXACT)
    assert (answer.remade, answer.expected_good) == (1, pytest.approx(3.0))
    assert answer.to_make[0].side == "external"
    assert answer.to_make[0].pieces.number == 1


def test_how_many_to_make_is_asked_of_the_new_pieces():
    sds = {**EXACT, "make_sd": {"external": 0.0003, "internal": 0.0}}
    answer = plan([0.6256] * 4, [0.6257] * 4, LOW, HIGH, {**COSTS, "remake": {"external": 11.0}}, **sds)
    chance = stats.norm.cdf(1) - stats.norm.cdf(-1)  # limits are one sd away on both sides
    to_make = answer.to_make[0].pieces
    assert to_make.chance_good == pytest.approx(chance, rel=1e-6)
    enough = [k for k in range(4, 40) if stats.binom.sf(3, k, chance) >= 0.95]
    assert to_make.number == enough[0] == 9
    assert "Make five external pieces more: of nine, four will be good with 95 % assurance." in answer.work


def test_shared_uncertainty_is_shared():
    """Pairs off by the same calibration are spoiled together: all good is likelier than the product says."""
    pieces = [0.6253] * 6, [0.6259] * 6
    answer = plan(*pieces, LOW, HIGH, COSTS, common_uncertainty=0.00015, wanted=6, **EXACT)
    each = stats.norm.cdf(2) - stats.norm.cdf(-2)
    assert answer.expected_good == pytest.approx(6 * each, rel=1e-6)
    assert answer.chance_all == pytest.approx(each, rel=1e-9)


@pytest.mark.parametrize("noise", [0.0, 0.00002, 0.0001], ids=["none", "little", "much"])
def test_chance_of_all_against_simulation(noise):
    rng = np.random.default_rng(8)
    gap = np.array([-0.0006, -0.0005, -0.00042, -0.0007])
    aim = Aim(low=LOW, high=HIGH, gap=-0.0006, common=0.00008, increment=None, least_cut=0.0)
    moved = gap + 0.00008 * rng.normal(size=(400_000, 1)) + noise * rng.normal(size=(400_000, 4))
    happened = np.mean(np.all((moved >= LOW) & (moved <= HIGH), axis=1))
    assert chance_of_all(gap, np.full(4, noise), aim) == pytest.approx(happened, abs=0.0025)  # three standard errors


def test_times_add_up():
    times = {"press": 2.0, "rework": {"external": 6.0}, "remake": {"external": 20.0}}
    answer = plan([0.6253, 0.6253], [0.6259, 0.6264], LOW, HIGH, COSTS, times=times, **EXACT)
    assert answer.minutes == pytest.approx(10.0)
    assert plan([0.6253], [0.6259], LOW, HIGH, COSTS, **EXACT).minutes is None


# --- alternatives -----------------------------------------------------------------------------------


def alternatives(answer):
    return {item.name: item for item in answer.alternatives}


def test_the_plan_is_never_dearer_than_the_plain_ways():
    for seed in range(20):
        rng = np.random.default_rng(seed)
        internal, external = 0.6252 + 0.0003 * rng.normal(size=6), 0.6258 + 0.0003 * rng.normal(size=6)
        answer = plan(internal, external, LOW, HIGH, COSTS, uncertainty=0.00003, **SDS)
        ways = alternatives(answer)
        assert {"press in any order", "pair", "cheapest plan"} <= set(ways)
        for name in ("press in any order", "pair"):
            assert ways["cheapest plan"].cost <= ways[name].cost + 1e-6


def test_any_order_by_hand():
    """Two by two, no noise: three of the four pairs good, so 1.5 of 2 expected; half of the orders are all good."""
    answer = plan([0.6250, 0.6253], [0.6257, 0.6259], -0.00075, HIGH, COSTS, **EXACT)
    any_order = alternatives(answer)["press in any order"]
    assert any_order.expected_good == pytest.approx(1.5)
    assert any_order.risk == pytest.approx(0.5, abs=0.02)  # a whole order of measured pieces is simulated there
    assert any_order.cost == pytest.approx(2.0 + 0.5 * 120.0)
    assert alternatives(answer)["pair"].cost == pytest.approx(2.0)


def test_pairs_that_are_missing_are_made_up():
    answer = plan([0.6253, 0.6256], [0.6259, 0.6255], LOW, HIGH, COSTS, **EXACT)
    paired = alternatives(answer)["pair"]
    assert (paired.assemblies, paired.expected_good) == (2, pytest.approx(2.0))
    assert paired.cost == pytest.approx(1.0 + 12.0)
    assert "one new external piece" in paired.words


def test_without_comparing_only_the_plan_itself_is_there():
    pieces = [0.6253, 0.6256], [0.6259, 0.6255]
    one, other = (plan(*pieces, LOW, HIGH, COSTS, compare=compare, **SDS) for compare in (True, False))
    assert alternatives(other).keys() == {"cheapest plan"}
    assert (one.cost, one.pairs, one.work) == (other.cost, other.pairs, other.work)


def test_trays_by_hand():
    """Two sizes a side, one tray each: every pair in its tray is good, any order only half of them."""
    internal, external = [0.6250] * 3 + [0.6260] * 3, [0.6256] * 3 + [0.6266] * 3
    ways = alternatives(plan(internal, external, LOW, HIGH, COSTS, **EXACT))
    assert ways["sort into classes"].pressed_good == pytest.approx(6.0)
    assert ways["sort into classes"].cost == pytest.approx(6.0)
    assert ways["press in any order"].expected_good == pytest.approx(3.0)


def test_remaking_a_side_is_cut_to_the_mates():
    """All bores alike: every new plug is cut to bore plus 0.0006 and is good unless it misses by 3 sd."""
    ways = alternatives(plan([0.6253] * 4, [0.6250] * 4, LOW, HIGH, COSTS, **SDS))
    remade = ways["remake every external piece"]
    assert remade.target == pytest.approx(0.6259, abs=1e-6)
    good = stats.norm.cdf(3) - stats.norm.cdf(-3)
    assert remade.expected_good == pytest.approx(4 * good, rel=1e-6)
    assert remade.cost == pytest.approx(4 * (1 + 11) + 120 * 4 * (1 - good), rel=1e-6)
    assert remade.risk == pytest.approx(1 - good**4, rel=1e-6)


# --- costs ------------------------------------------------------------------------------------------


def test_default_costs_are_stated():
    price = prices(None)
    assert (price.press, price.rework["external"], price.remake["internal"], price.spoiled_assembly) == (1, 4, 10, 21)
    assert (price.unmade_assembly, price.unmade_from) == (42, "assumed: twice a whole new one, our choice")
    assert price.assumed == ("press", "rework", "remake", "spoiled_assembly")
    answer = plan([0.6253] * 2, [0.6259] * 2, LOW, HIGH)
    assert any("Assumed costs" in remark for remark in answer.remarks)


def test_a_side_left_out_cannot_be_done():
    assert prices({"rework": {"external": 4.0}}).rework == {"external": 4.0}
    assert prices({"remake": {}}).remake == {}
    assert plan([0.6253], [0.6266], LOW, HIGH, {"rework": {}, "remake": {}}).pairs[0].way == "not made"


def test_what_is_cut_keeps_the_limits_of_its_drawing():
    """Bore 0.6250 may be opened to 0.6257; the plug of 0.6270 asks for 0.6264 and is ground down instead."""
    given = [0.6250], [0.6270], LOW, HIGH, {"rework": {"internal": 1.0, "external": 4.0}}
    free = plan(*given, **EXACT)
    assert (free.pairs[0].way, free.pairs[0].size) == ("rework internal", pytest.approx(0.6264))
    kept = plan(*given, **EXACT, keep=[((0.6250, 0.6257), (0.6255, None))])
    assert (kept.pairs[0].way, kept.pairs[0].size) == ("rework external", pytest.approx(0.6256))
    # the drawing ends between two steps of the machine: the last whole step within it is cut
    near = plan(*given, **EXACT, increment=0.0001, keep=[((0.6250, 0.62664), (None, None))])
    assert near.pairs[0].size == pytest.approx(0.6264)
    ends = plan([0.6250], [0.6270], LOW, HIGH, {"rework": {"internal": 1.0}}, **EXACT, increment=0.0001,
                keep=[((0.6250, 0.62625), (None, None))])  # fmt: skip
    assert ends.pairs[0].size == pytest.approx(0.6262)
    assert ends.pairs[0].gap == pytest.approx(-0.0008)


@pytest.mark.parametrize(
    ("costs", "says"),
    [
        ({"pres": 1.0}, "it can hold: press"),
        ({"press": -1.0}, "zero or more"),
        ({"rework": 4.0}, "mapping"),
        ({"remake": {"shank": 4.0}}, "internal, external"),
        ({"spoiled_assembly": math.inf}, "zero or more"),
    ],
)
def test_refuses_costs_that_make_no_sense(costs, says):
    with pytest.raises(TrackerError, match=says):
        prices(costs)


# --- refusals ----------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("args", "terms", "error", "says"),
    [
        (([], [1.0], LOW, HIGH), {}, NotEnoughData, "internal"),
        (([1.0], [1.0], HIGH, LOW), {}, TrackerError, "swap"),
        (([1.0], [1.0], None, HIGH), {}, NotEnoughData, "give target"),
        (([1.0], [1.0], LOW, HIGH), {"wanted": 0}, TrackerError, "at least one"),
        (([1.0], [1.0], LOW, HIGH), {"assurance": 2.0}, TrackerError, "assurance"),
        (([1.0], [1.0], LOW, HIGH), {"labels": (["a", "b"], ["c"])}, TrackerError, "one each"),
        (([1.0] * 2000, [1.0] * 2000, LOW, HIGH), {}, TrackerError, "too many"),
    ],
)
def test_refuses_what_makes_no_sense(args, terms, error, says):
    with pytest.raises(error, match=says):
        plan(*args, **terms)


def test_one_piece_without_a_stated_spread_says_so():
    answer = plan([0.6256], [0.6257], LOW, HIGH)
    assert sum("state make_sd" in remark for remark in answer.remarks) == 2


def test_answer_is_plain_data_and_reads_well():
    answer = plan([0.6256, 0.6253], [0.6257, 0.6259], LOW, HIGH, COSTS, **SDS)
    data = json.loads(json.dumps(answer.to_dict()))
    assert data["pairs"][0]["way"]
    assert "2 internal and 2 external pieces" in str(answer)


# --- invariants -----------------------------------------------------------------------------------------

SIZES = st.lists(st.integers(-12, 12), min_size=2, max_size=5).map(lambda values: np.array(values) / 10_000)


@settings(max_examples=40, deadline=None)
@given(SIZES, SIZES)
def test_inch_and_millimetre_cost_the_same(internal, external):
    internal, external = internal + 0.6252, external + 0.6258
    sds = {key: {side: 25.4 * value for side, value in sd.items()} for key, sd in SDS.items()}
    # sizes on the limit to the last bit may fall on either side; half a step of 0.0001 never does
    inch, metric = (
        plan(
            scale * internal, scale * external, scale * (LOW - 5e-5), scale * (HIGH + 5e-5), COSTS, compare=False, **sd
        )
        for scale, sd in ((1.0, SDS), (25.4, sds))
    )
    assert metric.cost == pytest.approx(inch.cost, rel=1e-6)


@settings(max_examples=40, deadline=None)
@given(SIZES, SIZES, st.floats(0, 0.001))
def test_wider_limits_never_cost_more(internal, external, more):
    internal, external = internal + 0.6252, external + 0.6258
    narrow = plan(internal, external, LOW, HIGH, COSTS, target=-0.0006, compare=False, **SDS)
    wide = plan(internal, external, LOW - more, HIGH + more, COSTS, target=-0.0006, compare=False, **SDS)
    assert wide.cost <= narrow.cost + 1e-6


@settings(max_examples=40, deadline=None)
@given(SIZES, SIZES)
def test_order_of_pieces_changes_no_cost(internal, external):
    internal, external = internal + 0.6252, external + 0.6258
    one = plan(internal, external, LOW, HIGH, COSTS, compare=False, **SDS)
    other = plan(internal[::-1], external[::-1], LOW, HIGH, COSTS, compare=False, **SDS)
    assert other.cost == pytest.approx(one.cost, rel=1e-6)


def test_plan_and_pairing_agree_where_cost_leaves_it_open():
    rng = np.random.default_rng(12)
    internal, external = 0.6253 + 0.00007 * rng.normal(size=8), 0.6259 + 0.00007 * rng.normal(size=8)
    answer = plan(internal, external, LOW, HIGH, COSTS, **SDS)
    best = pair(internal, external, LOW, HIGH, target=-0.0006)
    assert best.good == 8
    assert [item.external for item in answer.pairs] == best.external.tolist()


# --- risk -----------------------------------------------------------------------------------------------


def pareto(internal, external, costs, u):
    """Return (cost, chance of all) of every plan of pairs that are pressed as they are or reworked, by brute force."""
    aim = (LOW + HIGH) / 2
    for mates in itertools.permutations(range(len(external))):
        for ground in itertools.product((False, True), repeat=len(internal)):
            cost, every = 0.0, 1.0
            for i, (j, grind) in enumerate(zip(mates, ground)):
                x, y = internal[i], external[j]
                if grind and x - aim > y:
                    break
                gap, sd = (aim, math.hypot(u, 0.00005)) if grind else (x - y, math.hypot(u, u))
                good = stats.norm.cdf(HIGH, gap, sd) - stats.norm.cdf(LOW, gap, sd)
                cost += costs["press"] + grind * costs["rework"]["external"] + costs["spoiled_assembly"] * (1 - good)
                every *= good
            else:
                yield cost, every


@pytest.mark.parametrize("most_risk", [0.5, 0.1, 0.02, 0.012])
def test_risk_is_kept_and_no_plan_is_cheaper_and_safer(most_risk):
    costs = {"press": 1.0, "rework": {"external": 4.0}, "remake": {"internal": 900.0}, "spoiled_assembly": 9.0}
    internal, external = np.array([0.6252, 0.6254]), np.array([0.62603, 0.62622])
    u = 0.00006
    answer = plan(internal, external, LOW, HIGH, costs, uncertainty=u, most_risk=most_risk, **SDS)
    assert 1 - answer.chance_all <= most_risk
    for cost, every in pareto(internal, external, costs, u):
        assert not (cost < answer.cost - 1e-9 and every > answer.chance_all + 1e-9)


def test_less_risk_never_costs_less():
    costs = {"press": 1.0, "rework": {"external": 4.0}, "spoiled_assembly": 9.0}
    internal, external = [0.6252, 0.6254, 0.62525], [0.62603, 0.62624, 0.62608]
    risks = (None, 0.3, 0.05, 0.001)
    found = [plan(internal, external, LOW, HIGH, costs, uncertainty=0.00005, most_risk=r, **SDS) for r in risks]
    assert [item.cost for item in found] == sorted(item.cost for item in found)
    assert [item.chance_all for item in found] == sorted(item.chance_all for item in found)
    assert found[-1].reworked > found[0].reworked


def test_risk_that_cannot_be_kept_is_said():
    answer = plan([0.6254], [0.6258], LOW, HIGH, COSTS, uncertainty=0.0003, most_risk=0.001, **SDS)
    assert 1 - answer.chance_all > 0.001
    assert any("No plan keeps the risk" in remark for remark in answer.remarks)


def test_equal_pieces_are_paired_in_the_plan_as_in_the_pairing():
    internal = [0.6252, 0.6253, 0.6254, 0.6251]
    external = [0.6200, 0.6258, 0.6258, 0.6259]
    made = plan(internal, external, -0.0009, -0.0003, {"remake": {"external": 5}}, make_sd={"external": 0.00002})
    best = pair(internal, external, -0.0009, -0.0003, -0.0006)
    pressed = {(one.internal, one.external) for one in made.pairs if one.way == "press as is"}
    assert pressed == set(zip(best.internal.tolist(), best.external.tolist()))


def test_a_side_named_at_the_assumed_cost_is_said_to_be_assumed():
    price = prices({"press": 1, "remake": ("external",)})
    assert price.remake == {"external": 10.0}
    assert price.assumed == ("rework", "remake", "spoiled_assembly")


def test_no_piece_is_reworked_to_the_size_it_reads_or_to_less_than_half_a_step_from_it():
    bores, plugs = [0.5000] * 4, [0.5006, 0.50060, 0.50063, 0.50057]
    answer = plan(bores, plugs, -0.0009, -0.0003, {"spoiled_assembly": 1e6}, uncertainty=(2e-4, 1e-5), step=1e-4)
    assert [item.size for item in answer.pairs if item.way == "rework internal" and abs(item.size - 0.5) < 5e-5] == []


def test_rework_comes_no_nearer_to_its_size_than_the_gauge_reads():
    """Bores that all read alike on a coarse gauge show no spread; opening them up to size takes the same gauge."""
    bores, plugs = [0.5000] * 6, [0.5016] * 6
    coarse = plan(bores, plugs, -0.0009, -0.0003, {"remake": {}, "spoiled_assembly": 40}, uncertainty=(1e-3, 1e-5))
    assert coarse.chance_all < 0.05
    fine = plan(bores, plugs, -0.0009, -0.0003, {"spoiled_assembly": 40}, uncertainty=(2e-5, 1e-5))
    assert fine.chance_all > 0.99
