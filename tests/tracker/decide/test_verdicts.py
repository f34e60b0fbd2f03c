"""The verdict: a table of cases for each word, and each boundary from both sides."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tracker.decide import verdict
from tracker.decide.verdicts import WORDS
from tracker.errors import TrackerError

TWELVE = {"internal": 12, "external": 12}
ALL_PAIRED = {**TWELVE, "chance_all": 0.2, "pairs_good": 12, "chance_pairs": 0.98}
ONE_SHORT = {**TWELVE, "chance_all": 0.0, "pairs_good": 11, "chance_pairs": 0.99, "pairs_good_most": 11}
T = 0.0006


def edge_of_hope(wanted, assurance=0.95):
    """The uncertainty at which gaps read dead in the middle are just assured: bisection on the normal distribution."""
    low, high = T / 100, T
    for _ in range(100):
        u = (low + high) / 2
        held = math.erf(T / 2 / u / math.sqrt(2)) ** wanted
        low, high = (u, high) if held >= assurance else (low, u)
    return low


CASES = [
    # press as they come
    pytest.param(
        {**TWELVE, "chance_all": 0.991, "pairs_good": 12, "chance_pairs": 0.999},
        "press as they come",
        id="any order is assured",
    ),
    pytest.param({**ALL_PAIRED, "chance_all": 0.95}, "press as they come", id="any order just assured"),
    pytest.param({**ALL_PAIRED, "chance_all": 0.9499}, "pair", id="any order just not assured"),
    pytest.param({**ALL_PAIRED, "chance_all": 0.97, "assurance": 0.99}, "measure better", id="more assurance asked"),
    pytest.param(
        {"internal": 1, "external": 1, "pairs_good": 1, "chance_pairs": 0.96}, "press as they come", id="one pair, good"
    ),
    pytest.param(
        {"internal": 12, "external": 10, "chance_all": 0.96, "pairs_good": 10},
        "press as they come",
        id="the shorter side counts",
    ),
    pytest.param(
        {"internal": 12, "external": 10, "wanted": 12, "chance_all": 0.96, "pairs_good": 10, "chance_pairs": 1.0},
        "remake",
        id="two externals are missing",
    ),
    pytest.param(
        {**TWELVE, "chance_all": 0.96, "pairs_good": 11, "pairs_good_most": 12},
        "press as they come",
        id="assured although one reads out",
    ),
    # pair
    pytest.param(ALL_PAIRED, "pair", id="pairs assured"),
    pytest.param({**ALL_PAIRED, "chance_pairs": 0.95}, "pair", id="pairs just assured"),
    pytest.param({**ALL_PAIRED, "chance_pairs": 0.9499, "near": 1}, "measure better", id="pairs just not assured"),
    pytest.param({**ALL_PAIRED, "chance_all": None}, "pair", id="any order not known"),
    pytest.param({**ONE_SHORT, "wanted": 11}, "pair", id="eleven wanted of twelve"),
    # sort
    pytest.param(
        {
            "internal": 30,
            "external": 30,
            "chance_all": 0.5,
            "pairs_good": 30,
            "chance_pairs": 0.99,
            "class_good": 29.96,
            "class_count": 3,
        },
        "sort",
        id="many pieces, trays assured",
    ),
    pytest.param(
        {
            "internal": 29,
            "external": 29,
            "chance_all": 0.5,
            "pairs_good": 29,
            "chance_pairs": 0.99,
            "class_good": 28.96,
            "class_count": 3,
        },
        "pair",
        id="just too few for trays",
    ),
    pytest.param(
        {
            "internal": 30,
            "external": 30,
            "chance_all": 0.5,
            "pairs_good": 30,
            "chance_pairs": 0.99,
            "class_good": 29.95,
        },
        "sort",
        id="trays just assured",
    ),
    pytest.param(
        {
            "internal": 30,
            "external": 30,
            "chance_all": 0.5,
            "pairs_good": 30,
            "chance_pairs": 0.99,
            "class_good": 29.94,
        },
        "pair",
        id="trays just not assured",
    ),
    pytest.param({**TWELVE, "chance_all": 0.5, "class_good": 11.97}, "sort", id="pieces not numbered, trays assured"),
    pytest.param(
        {**ALL_PAIRED, "chance_pairs": 0.9, "class_good": 12.0},
        "measure better",
        id="trays good as read are no assurance while the best pairs are not",
    ),
    # rework and remake
    pytest.param({**ONE_SHORT, "reworked": 1, "remade": 0}, "rework", id="rework alone saves it"),
    pytest.param({**ONE_SHORT, "reworked": 1, "remade": 1}, "remake", id="a new piece is needed too"),
    pytest.param({**ONE_SHORT, "reworked": 0, "remade": 1}, "remake", id="a new piece is needed"),
    pytest.param(ONE_SHORT, "remake", id="no plan"),
    pytest.param({**TWELVE, "wanted": 14}, "remake", id="two pieces are missing whatever the pairing"),
    pytest.param({**TWELVE, "reworked": 2, "remade": 0}, "rework", id="the plan is known, the pairing is not"),
    pytest.param({**TWELVE, "reworked": 2, "remade": 1}, "remake", id="the plan is known, and asks for a new piece"),
    pytest.param({**TWELVE, "chance_all": 0.0, "pairs_good": 0, "pairs_good_most": 0}, "remake", id="nothing fits"),
    # measure better
    pytest.param({**ONE_SHORT, "pairs_good_most": 12}, "measure better", id="the missing one could be good"),
    pytest.param(
        {**ONE_SHORT, "pairs_good_most": 12, "reworked": 1, "remade": 0},
        "measure better",
        id="no rework while the gauge cannot tell",
    ),
    pytest.param(
        {**ALL_PAIRED, "gap_tolerance": T, "gap_uncertainty": 1.001 * edge_of_hope(12)},
        "measure better",
        id="no hope even in the middle",
    ),
    pytest.param(
        {**ALL_PAIRED, "gap_tolerance": T, "gap_uncertainty": 0.999 * edge_of_hope(12)},
        "pair",
        id="just hope in the middle",
    ),
    pytest.param(
        {**ALL_PAIRED, "gap_tolerance": T, "gap_uncertainty": T / 5, "gap_common": T / 5},
        "pair",
        id="doubt that all share: erf(2.5 / sqrt 2) = 0.988 for all twelve",
    ),
    pytest.param(
        {**ALL_PAIRED, "gap_tolerance": T, "gap_uncertainty": T / 5, "gap_common": 0.0},
        "measure better",
        id="the same doubt, each its own: 0.988 to the twelfth is 0.861",
    ),
    pytest.param(
        {**ALL_PAIRED, "gap_tolerance": math.inf, "gap_uncertainty": 1.0}, "pair", id="an open limit has no middle"
    ),
    pytest.param(
        {**ALL_PAIRED, "chance_all": 1.0, "gauge_fault": "the bore gauge is past its calibration date"},
        "measure better",
        id="a gauge that may not be used",
    ),
    # cannot say
    pytest.param({"internal": 0, "external": 0}, "cannot say", id="nothing measured"),
    pytest.param({"internal": 12, "external": 0, "target": 0.62595}, "cannot say", id="bores only"),
    pytest.param({"internal": 0, "external": 12}, "cannot say", id="plugs only"),
    pytest.param(TWELVE, "cannot say", id="measured, and nothing else known"),
    pytest.param({**TWELVE, "chance_all": 0.5}, "cannot say", id="the best pairing is not known"),
    pytest.param({**TWELVE, "class_good": 11.0}, "cannot say", id="trays not assured, the best pairing not known"),
    pytest.param({**TWELVE, "pairs_good": 12}, "cannot say", id="the chance that the pairs hold is not known"),
]


@pytest.mark.parametrize(("facts", "word"), CASES)
def test_word(facts, word):
    answer = verdict(**facts)
    assert answer.word == word
    assert answer.exit_status == {"press as they come": 0, "measure better": 2, "cannot say": 2}.get(word, 1)
    for text in (answer.reason, answer.action, answer.what_would_change_it):
        assert (text and text[0].isupper()) or text[0].isdigit()
        assert text.endswith(".")


def test_every_word_is_reached():
    assert {param.values[1] for param in CASES} == {*WORDS, "cannot say"}


FIGURES = [
    pytest.param({**TWELVE, "chance_all": 0.991}, ["twelve", "99.1 %", "95 %"], id="press"),
    pytest.param(ALL_PAIRED, ["20 %", "12 of 12", "98 %", "95 %"], id="pair"),
    pytest.param(
        {"internal": 30, "external": 30, "chance_all": 0.5, "class_good": 29.97, "class_count": 3},
        ["three trays", "29.97 of 30", "50 %"],
        id="sort",
    ),
    pytest.param({**ONE_SHORT, "reworked": 1, "remade": 0}, ["11 of 12", "one piece"], id="rework"),
    pytest.param({**ONE_SHORT, "reworked": 2, "remade": 1}, ["11 of 12", "one new piece", "two rework"], id="remake"),
    pytest.param(
        {**ALL_PAIRED, "chance_pairs": 0.8, "gap_uncertainty": 0.00005, "worst_margin": 0.00002},
        ["All 12", "5e-05", "2e-05", "80 %"],
        id="measure: near",
    ),
    pytest.param(
        {**ONE_SHORT, "pairs_good_most": 12, "gap_uncertainty": 0.00005},
        ["11 of 12", "12 could be", "5e-05"],
        id="measure: could be",
    ),
    pytest.param(
        {**ALL_PAIRED, "gap_tolerance": T, "gap_uncertainty": T}, ["0.0006", "under 0.1 %"], id="measure: no hope"
    ),
    pytest.param(
        {**ALL_PAIRED, "gauge_fault": "the bore gauge is overdue"},
        ["The bore gauge is overdue", "24 sizes"],
        id="measure: fault",
    ),
]


@pytest.mark.parametrize(("facts", "figures"), FIGURES)
def test_reason_names_its_figures(facts, figures):
    answer = verdict(**facts)
    for figure in figures:
        assert figure in answer.reason


def test_a_chance_just_short_never_reads_like_the_one_asked():
    answer = verdict(**{**ALL_PAIRED, "chance_pairs": 0.9497}, gap_uncertainty=0.00001)
    assert "94.97 % chance, and 95 % was asked" in answer.reason


@pytest.mark.parametrize(
    ("facts", "says"),
    [
        ({}, "How many pairs are within limits in the best pairing is not known."),
        ({"chance_all": 0.5}, "50 % chance, and 95 % was asked; how many pairs"),
        ({"pairs_good": 12}, "All 12 pairs are within limits as measured, but the chance that they hold"),
    ],
)
def test_what_is_not_given_is_named_and_nothing_is_said_of_it(facts, says):
    answer = verdict(**TWELVE, **facts)
    assert says in answer.reason
    assert "No pair" not in str(answer)
    assert "new piece" not in str(answer)


def test_pieces_that_are_missing_are_missing_whatever_the_pairing():
    answer = verdict(**TWELVE, wanted=14)
    assert answer.action == "Make at least two new pieces."
    assert "pairs of them" not in answer.reason


@pytest.mark.parametrize("stated", [{}, {"gap_uncertainty": 0.0}], ids=["not given", "zero"])
@pytest.mark.parametrize("facts", [{**ALL_PAIRED, "chance_pairs": 0.9499}, {**ONE_SHORT, "pairs_good_most": 12}])
def test_an_uncertainty_that_nobody_stated_is_not_blamed(facts, stated):
    answer = verdict(**facts, **stated)
    assert answer.word == "measure better"
    assert "0 of standard" not in answer.reason
    assert "(0 standard" not in answer.reason
    assert "none is stated" in answer.action


def test_work_of_the_plan_is_the_action():
    work = ("Regrind plug 3, 7 and 11 to 0.6259.", "Press all twelve pairs as listed.")
    answer = verdict(**ONE_SHORT, reworked=3, remade=0, work=work)
    assert answer.action == "Regrind plug 3, 7 and 11 to 0.6259. Press all twelve pairs as listed."


def test_a_plan_that_takes_the_risk_is_no_action():
    """Cheap assemblies may make pressing at risk the cheapest plan; the verdict asks for assurance all the same."""
    answer = verdict(**ONE_SHORT, reworked=0, remade=0, work="Press all twelve pairs as listed.", target=0.6259)
    assert answer.word == "remake"
    assert answer.action == "Make one new piece to 0.6259."


def test_one_batch_gets_the_target_for_the_other_part():
    answer = verdict(internal=12, external=0, target=0.62595, names=("bore", "shank"), say=lambda x: f"{x:.4f} in")
    assert "0.6259 in" in answer.action or "0.6260 in" in answer.action
    assert "Cut the shanks to" in answer.action


def test_nothing_measured_says_what_the_drawing_says():
    answer = verdict(internal=0, external=0, drawing="With a spread of 0.0001 in, 99 % of pairs would be good.")
    assert "99 % of pairs" in answer.reason


def test_the_uncertainty_that_would_do():
    """It does: with the worst pair at that margin, and all others no worse, all hold with the assurance."""
    margin = 0.00004
    answer = verdict(**{**ALL_PAIRED, "chance_pairs": 0.5}, worst_margin=margin, gap_uncertainty=0.0001, say=repr)
    enough = float(answer.what_would_change_it.split(" of ")[2].split()[0])
    one_side = 0.5 * (1 + math.erf(margin / enough / math.sqrt(2)))
    assert one_side**12 >= 0.95


TOO_COARSE = {**ALL_PAIRED, "gap_tolerance": T, "gap_uncertainty": T / 2}
NEAR_A_LIMIT = {**ALL_PAIRED, "chance_pairs": 0.5, "near": 2, "gap_uncertainty": T / 50}
REPEATS, CALIBRATION = "repeat every reading", "calibrated more closely"


@pytest.mark.parametrize(
    ("facts", "common", "says", "says_not"),
    [
        pytest.param(TOO_COARSE, 0.0, REPEATS, CALIBRATION, id="own only"),
        pytest.param(TOO_COARSE, 0.3, REPEATS, CALIBRATION, id="common too small to matter"),
        pytest.param(TOO_COARSE, 0.7, REPEATS, "do not help", id="both, repeats"),
        pytest.param(TOO_COARSE, 0.7, CALIBRATION, "do not help", id="both, calibration"),
        pytest.param(TOO_COARSE, 1.0, CALIBRATION, REPEATS, id="common only"),
        pytest.param(NEAR_A_LIMIT, 0.0, "more repeats", CALIBRATION, id="near a limit, own only"),
        pytest.param(NEAR_A_LIMIT, 0.7, CALIBRATION, "do not help", id="near a limit, both"),
        pytest.param(NEAR_A_LIMIT, 1.0, CALIBRATION, "more repeats", id="near a limit, common only"),
    ],
)
def test_repeats_are_not_asked_for_where_they_cannot_help(facts, common, says, says_not):
    """Calibration moves all sizes alike: however often they are read, that part stays."""
    answer = verdict(**facts, gap_common=common * facts["gap_uncertainty"])
    assert answer.word == "measure better"
    assert says in answer.action
    assert says_not not in answer.action


@pytest.mark.parametrize("facts", [TOO_COARSE, NEAR_A_LIMIT], ids=["too coarse", "near a limit"])
@pytest.mark.parametrize(
    ("operators", "calibration", "one_feel"),
    [(0.0, True, False), (0.7, True, True), (1.0, False, True)],
    ids=["calibration", "both", "operators"],
)
def test_what_all_sizes_share_is_made_smaller_where_it_comes_from(facts, operators, calibration, one_feel):
    """Operators who read apart are brought together; a calibration says nothing of how they hold the gauge."""
    u = facts["gap_uncertainty"]
    answer = verdict(**facts, gap_common=u, gap_operators=operators * u)
    assert (CALIBRATION in answer.action) is calibration
    assert ("one operator" in answer.action) is one_feel


@pytest.mark.parametrize(
    ("facts", "says"),
    [
        ({"internal": -1, "external": 2, "wanted": 1}, "zero or more"),
        ({"internal": 2, "external": 2, "chance_all": 1.2}, "between 0 and 1"),
        ({"internal": 2, "external": 2, "assurance": 1.0}, "assurance"),
        ({"internal": 2, "external": 2, "wanted": 0}, "one or more"),
        ({"internal": 2, "external": 2, "gap_uncertainty": -1.0}, "zero or more"),
        ({"internal": 2, "external": 2, "gap_operators": -1.0}, "gap_operators is -1.0"),
        ({"internal": 8, "external": 8, "pairs_good": 9}, "from 0 to 8 pairs"),
        ({"internal": 9, "external": 8, "pairs_good_most": 9}, "from 0 to 8 pairs"),
        ({"internal": 9, "external": 8, "class_good": 8.5}, "from 0 to 8 pairs"),
        ({**ALL_PAIRED, "gap_tolerance": 1, "gap_uncertainty": math.nan}, "gap_uncertainty: found nan"),
        ({**ALL_PAIRED, "worst_margin": math.nan}, "worst_margin is not a number"),
        ({**ALL_PAIRED, "chance_planned": 1.5}, "between 0 and 1"),
    ],
)
def test_refuses_what_makes_no_sense(facts, says):
    with pytest.raises(TrackerError, match=says):
        verdict(**facts)


RANK = {"press as they come": 0, "sort": 1, "pair": 1}


@given(st.floats(0, 1), st.floats(0, 1), st.floats(0, 1), st.floats(0.5, 0.999), st.integers(0, 12))
def test_a_better_chance_never_makes_it_worse(low, high, pairs, assurance, good):
    low, high = sorted((low, high))
    terms = {**TWELVE, "pairs_good": good, "chance_pairs": pairs, "assurance": assurance}
    worse, better = verdict(chance_all=low, **terms), verdict(chance_all=high, **terms)
    assert RANK.get(better.word, 2) <= RANK.get(worse.word, 2)
