"""One plan for several gaps at once: against brute force, and what one gap alone would have got wrong."""

import itertools
import math

import numpy as np
import pytest
from scipy import stats

from tracker.decide import plan
from tracker.errors import TrackerError

LOW, HIGH = np.array([-0.0009, 0.4995]), np.array([-0.0003, 0.5005])
AIM = (LOW + HIGH) / 2
MADE = {"external": np.array([0.0001, 0.0002]), "internal": np.array([0.0001, 0.0003])}
REWORKED = {"external": np.array([0.00005, 0.0001]), "internal": np.array([0.00006, 0.0001])}


def spoiled(gap, sd, price):
    sd = np.maximum(sd, 1e-15)
    good = stats.norm.cdf(HIGH, gap, sd) - stats.norm.cdf(LOW, gap, sd)
    return price * (1 - np.prod(good))


def one_assembly(x, y, costs, noise):
    """Return the least cost of an assembly of these two (None: new), every way of every gap tried."""
    press, rework, remake, price = costs["press"], costs["rework"], costs["remake"], costs["spoiled_assembly"]
    ways = []
    if x is not None and y is not None:
        for way in itertools.product(("as is", "external", "internal"), repeat=2):
            work, gap, sd = 0.0, np.zeros(2), np.zeros(2)
            for k, word in enumerate(way):
                gap[k], sd[k] = x[k] - y[k], math.hypot(noise, noise)
                if word == "as is":
                    continue
                cost = rework.get(word, (None, None))[k]
                size = x[k] - AIM[k] if word == "external" else y[k] + AIM[k]
                left = size <= y[k] if word == "external" else size >= x[k]
                if cost is None or not left:
                    break
                work += cost
                gap[k], sd[k] = AIM[k], math.hypot(noise, REWORKED[word][k])
            else:
                ways.append(press + work + spoiled(gap, sd, price))
    elif x is None and y is None:
        ways.append(price)
        if len(remake) == 2:
            ways.append(
                press + sum(remake.values()) + spoiled(AIM, np.hypot(MADE["external"], MADE["internal"]), price)
            )
    else:
        side = "external" if y is None else "internal"
        if side in remake:
            ways.append(press + remake[side] + spoiled(AIM, np.hypot(noise, MADE[side]), price))
    return min(ways, default=math.inf)


def brute_force(internal, external, wanted, costs, noise):
    best = math.inf
    m, n = len(internal), len(external)
    for paired in range(min(m, n, wanted) + 1):
        for rows in itertools.combinations(range(m), paired):
            for columns in itertools.permutations(range(n), paired):
                cost = sum(one_assembly(internal[i], external[j], costs, noise) for i, j in zip(rows, columns))
                lone = [one_assembly(internal[i], None, costs, noise) for i in range(m) if i not in rows]
                lone += [one_assembly(None, external[j], costs, noise) for j in range(n) if j not in columns]
                lone += [one_assembly(None, None, costs, noise)] * (wanted - paired)
                best = min(best, cost + sum(sorted(lone)[: wanted - paired]))
    return best


@pytest.mark.parametrize("seed", range(50))
def test_as_cheap_as_brute_force(seed):
    rng = np.random.default_rng(seed)
    noise = 0.0 if seed % 2 else 0.00006
    most = 4 if seed % 2 else 3  # two pieces a side at most with noise: then true sizes are taken as they read
    m, n = rng.integers(1, most, size=2)
    internal = np.column_stack([0.6252 + 0.0003 * rng.normal(size=m), -0.2500 + 0.0004 * rng.normal(size=m)])
    external = np.column_stack([0.6258 + 0.0003 * rng.normal(size=n), -0.7500 + 0.0004 * rng.normal(size=n)])
    rework = [
        {"external": (4.0, None)},
        {"external": (4.0, 3.0), "internal": (None, 5.0)},
        {"internal": (7.0, None), "external": (None, 2.0)},
    ][seed % 3]
    costs = {
        "press": 1.0,
        "rework": rework,
        "remake": {"external": 11.0, "internal": 60.0} if seed % 4 else {"external": 11.0},
        "spoiled_assembly": float(rng.choice([5.0, 30.0, 120.0])),
    }
    wanted = int(rng.integers(1, min(m, n) + 2))
    answer = plan(
        internal, external, LOW, HIGH, costs, wanted=wanted, uncertainty=noise, rework_sd=REWORKED, make_sd=MADE
    )
    assert answer.cost == pytest.approx(brute_force(internal, external, wanted, costs, noise), rel=1e-6)
    assert len(answer.pairs) == wanted


def test_the_second_gap_changes_who_goes_with_whom():
    """By diameter alone each plug suits its own bore; the heights only close crosswise."""
    internal = [[0.6250, -0.2500], [0.6251, -0.2510]]
    external = [[0.6256, -0.7510], [0.6257, -0.7500]]
    alone = plan([0.6250, 0.6251], [0.6256, 0.6257], LOW[0], HIGH[0])
    assert [(item.internal, item.external) for item in alone.pairs] == [(0, 0), (1, 1)]
    found = plan(internal, external, LOW, HIGH, {"rework": {"external": (4.0, None)}, "remake": {"external": 50.0}})
    assert [(item.internal, item.external, item.way) for item in found.pairs] == [
        (0, 1, "press as is"),
        (1, 0, "press as is"),
    ]
    assert found.pairs[0].gap is None
    assert found.pairs[0].gaps == pytest.approx((-0.0007, 0.5))


def test_work_is_said_by_dimension():
    found = plan(
        [[0.6250, -0.2500]],
        [[0.6262, -0.7500]],
        LOW,
        HIGH,
        {"rework": {"external": (4.0, None)}, "remake": {"external": 50.0}, "spoiled_assembly": 500.0},
        rework_sd={"external": (0.00001, 0.00001)},
        names=("bore", "button"),
        dimensions=[("bore", "shank"), ("depth", "head height")],
        factors=[(1.0, 1.0), (-1.0, -1.0)],
        say=lambda value: f"{value:.4f}",
    )
    assert found.work == ("Rework shank 1 to 0.6256.", "Press one pair as the plan lists them.")
    assert (found.reworked, found.external_actions) == (1, ("rework",))
    assert [(cut.gap, cut.side, cut.size) for cut in found.pairs[0].cuts] == [(0, "external", pytest.approx(0.6256))]


def test_new_pieces_name_every_dimension():
    found = plan(
        [[0.6250, -0.2500]],
        [[0.6240, -0.7400]],
        LOW,
        HIGH,
        {"rework": {"external": (None, None)}, "remake": {"external": 11.0}, "spoiled_assembly": 500.0},
        make_sd={"external": (0.00001, 0.00001)},
        names=("bore", "button"),
        dimensions=[("bore", "shank"), ("depth", "head height")],
        factors=[(1.0, 1.0), (-1.0, -1.0)],
        say=lambda value: f"{value:.4f}",
    )
    assert found.work[0] == "Make one new button to shank 0.6256 and head height 0.7500, for bore 1."
    assert found.remade == 1


def test_trays_are_refused_with_the_reason():
    rng = np.random.default_rng(3)
    internal = np.column_stack([0.6250 + 0.0001 * rng.normal(size=5), -0.25 + 0.0001 * rng.normal(size=5)])
    external = np.column_stack([0.6256 + 0.0001 * rng.normal(size=5), -0.75 + 0.0001 * rng.normal(size=5)])
    found = plan(internal, external, LOW, HIGH)
    assert any("trays are sorted by one gap" in remark for remark in found.remarks)
    named = {item.name: item for item in found.alternatives}
    assert "sort into classes" not in named
    assert named["press in any order"].expected_good <= 5
    assert named["cheapest plan"].cost <= min(item.cost for item in found.alternatives) + 1e-9


def test_as_many_limits_as_gaps():
    with pytest.raises(TrackerError, match="gap_lower: found 3 values for 2 closures"):
        plan([[1.0, 2.0]], [[1.0, 2.0]], [0, 0, 0], 1, make_sd={"external": 1.0, "internal": 1.0})
