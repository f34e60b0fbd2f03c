"""An assembly wanted and not made: what it costs, and what is done so that it is made."""

import pytest

from tracker.decide import plan

LOW, HIGH = -0.0009, -0.0003
EXACT = {"rework_sd": {"external": 0.0, "internal": 0.0}, "make_sd": {"external": 0.0, "internal": 0.0}}
WHOLE_NEW = {"rework_sd": {"external": 1e-5}, "make_sd": {"external": 1e-5, "internal": 1e-5}, "compare": False}


def test_a_whole_new_pair_is_made_where_no_cost_is_stated():
    answer = plan([0.2500], [0.2505], -0.0008, -0.0002, wanted=3, **WHOLE_NEW)
    assert answer.not_made == 0
    assert [item.way for item in answer.pairs] == ["press as is", "new both", "new both"]
    assert answer.cost == pytest.approx(1 + 2 * 21)
    assert "not made counts as 42 (assumed" in " ".join(answer.remarks)


@pytest.mark.parametrize(
    ("costs", "made"),
    [
        ({"spoiled_assembly": 20.0}, 1),
        ({"spoiled_assembly": 22.0}, 3),
        ({"spoiled_assembly": 20.0, "unmade_assembly": 22.0}, 3),
        ({"unmade_assembly": 20.0}, 1),
        ({"unmade_assembly": 22.0}, 3),
        ({"remake": {"internal": 500.0, "external": 700.0}}, 3),
    ],
    ids=[
        "spoiled stated, cheap",
        "spoiled stated, dear",
        "both stated",
        "cheap",
        "dear",
        "dear new pieces, no loss stated",
    ],
)
def test_a_whole_new_pair_is_made_where_it_costs_less_than_not_making_it(costs, made):
    """A new pair costs 21: a stated spoiled assembly says what one not made is worth, where nothing else does."""
    answer = plan([0.2500], [0.2505], -0.0008, -0.0002, costs, wanted=3, **WHOLE_NEW)
    assert 3 - answer.not_made == made
    assert all("counts as" in line for line in answer.work if "unmade" in line)


def test_no_pieces_are_spoiled_only_not_to_be_left_over():
    """One not made costs twice one spoiled by default: two pieces that never go together are not pressed for that."""
    costs = {"remake": {}, "rework": {}}
    answer = plan([0.6260], [0.6250], LOW, HIGH, costs, **EXACT)
    assert (answer.not_made, answer.cost) == (1, 42.0)
    assert answer.work == ("Leave one assembly unmade: nothing that can be done pays.",)


def test_a_risk_to_keep_does_not_make_leaving_out_cheap():
    coarse = {"rework_sd": {"external": 1e-5}, "make_sd": {"external": 5e-5, "internal": 5e-5}, "compare": False}
    answer = plan([0.2500], [0.2505], -0.0008, -0.0002, wanted=3, most_risk=0.01, **coarse)
    assert answer.not_made == 0
    assert answer.cost == pytest.approx(sum(item.cost for item in answer.pairs))
    apart = plan([0.2500], [0.2515], -0.0008, -0.0002, {"remake": {}, "rework": {}}, most_risk=0.01, **coarse)
    assert (apart.not_made, apart.cost) == (1, 42.0)
