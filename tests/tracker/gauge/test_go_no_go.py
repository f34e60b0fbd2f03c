"""Go/no-go studies, kappa against statsmodels."""

import json

import numpy as np
import pytest
from scipy import stats
from statsmodels.stats import inter_rater

from tracker.errors import NotEnoughData, TrackerError
from tracker.gauge import go_no_go_study
from tracker.gauge.agreement import cohen_kappa, fleiss_kappa

RNG = np.random.default_rng(101)


@pytest.fixture(autouse=True)
def same_draws():
    """Begin each test with the same draws, whichever ran before it."""
    RNG.bit_generator.state = np.random.default_rng(101).bit_generator.state


PIECE, OPERATOR, TURN = (a.ravel() for a in np.meshgrid(range(30), ["A", "B", "C"], range(2), indexing="ij"))
GOOD = RNG.random(30) < 0.6
TRUTH = GOOD[PIECE]
PASSED = np.where(RNG.random(PIECE.size) < 0.12, ~TRUTH, TRUTH)


def not_contradicted(both, neither, disagree):
    """The kappas whose expected counts are within chi-square of the counts seen, by search (Donner & Eliasziw 1992)."""
    n = both + neither + disagree
    p = (2 * both + disagree) / (2 * n)
    kappa = np.linspace(-0.9999, 1 - 1e-9, 400_001)
    chance = np.array([p * p + p * (1 - p) * kappa, (1 - p) ** 2 + p * (1 - p) * kappa, 2 * p * (1 - p) * (1 - kappa)])
    with np.errstate(divide="ignore", invalid="ignore"):
        misfit = np.sum((np.array([[both], [neither], [disagree]]) - n * chance) ** 2 / (n * chance), axis=0)
    inside = kappa[(chance[:2] > 0).all(axis=0) & (misfit <= stats.chi2.ppf(0.95, 1))]
    return inside.min(), inside.max()


@pytest.mark.parametrize("counts", [(12, 11, 7), (15, 15, 0), (4, 5, 1), (28, 1, 1), (3, 3, 24), (0, 8, 2), (0, 1, 9)])
def test_interval_of_kappa_by_search(counts):
    both, neither, disagree = counts
    x = np.repeat([True, False, True, False], [both, neither, disagree - disagree // 2, disagree // 2])
    y = np.repeat([True, False, False, True], [both, neither, disagree - disagree // 2, disagree // 2])
    found = cohen_kappa(x, y)
    low, high = not_contradicted(*counts)
    assert found.low == pytest.approx(min(low, found.estimate), abs=2e-5)
    assert found.high == pytest.approx(max(high, found.estimate), abs=2e-5)
    assert found.low < found.high


def test_kappa_against_statsmodels():
    x, y = PASSED[OPERATOR == "A"], PASSED[OPERATOR == "B"]
    table = np.array([[np.sum((x == a) & (y == b)) for b in (0, 1)] for a in (0, 1)])
    known = inter_rater.cohens_kappa(table)
    kappa = cohen_kappa(x, y)
    assert kappa.estimate == pytest.approx(known.kappa, rel=1e-12)
    # The large-sample interval of statsmodels, near ours in a study of sixty judgements that is not near 1.
    assert (kappa.low, kappa.high) == pytest.approx((known.kappa_low, known.kappa_upp), abs=0.06)


def test_kappa_of_all_judgements():
    yes = np.bincount(PIECE, PASSED)
    count = np.bincount(PIECE)
    known = inter_rater.fleiss_kappa(np.column_stack([yes, count - yes]), method="fleiss")
    assert fleiss_kappa(yes, count) == pytest.approx(known, rel=1e-12)


def test_the_study_counts_right():
    study = go_no_go_study(PASSED, PIECE, OPERATOR, reference=TRUTH)
    bad, good = ~TRUTH, TRUTH
    accept, reject = np.sum(PASSED & bad), np.sum(~PASSED & good)
    assert study.false_accept.estimate == pytest.approx(accept / bad.sum())
    exact = stats.binomtest(int(accept), int(bad.sum())).proportion_ci(0.95, "exact")
    assert (study.false_accept.low, study.false_accept.high) == pytest.approx((exact.low, exact.high), rel=1e-6)
    assert study.false_reject.estimate == pytest.approx(reject / good.sum())
    alike = [len(set(PASSED[k == PIECE])) == 1 for k in range(30)]
    assert study.all_agree.estimate == pytest.approx(np.mean(alike))
    right = [np.all(PASSED[k == PIECE] == GOOD[k]) for k in range(30)]
    assert study.all_right.estimate == pytest.approx(np.mean(right))
    for appraiser in study.appraisers:
        mine = appraiser.operator == OPERATOR
        with_self = [len(set(PASSED[mine & (k == PIECE)])) == 1 for k in range(30)]
        assert appraiser.agrees_with_self.estimate == pytest.approx(np.mean(with_self))
        assert appraiser.n == 60
    assert len(study.pairs) == 3
    assert study.pairs[0].agreement.estimate == pytest.approx(
        np.mean(PASSED[OPERATOR == "A"] == PASSED[OPERATOR == "B"])
    )


def test_the_order_of_the_list_does_not_matter_between_pieces():
    order = np.argsort(RNG.random(30), kind="stable")[PIECE].argsort(kind="stable")
    one = go_no_go_study(PASSED, PIECE, OPERATOR, reference=TRUTH)
    two = go_no_go_study(PASSED[order], PIECE[order], OPERATOR[order], reference=TRUTH[order])
    assert one.to_dict() == two.to_dict()


def test_all_wrong_together_is_agreement_but_not_right():
    study = go_no_go_study([1, 1, 0, 0], [1, 2, 1, 2], ["A", "A", "A", "A"], reference=[0, 1, 0, 1])
    assert study.all_agree.estimate == 0
    study = go_no_go_study([1, 1, 1, 1], [1, 2, 1, 2], ["A", "A", "B", "B"], reference=[0, 1, 0, 1])
    assert (study.all_agree.estimate, study.all_right.estimate) == (1.0, 0.5)


def test_words_are_read_as_judgements():
    words = np.where(PASSED, "goes", "does not go")
    truth = np.where(TRUTH, 1, 0)
    assert go_no_go_study(words, PIECE, OPERATOR, truth) == go_no_go_study(PASSED, PIECE, OPERATOR, TRUTH)


def test_perfect_agreement_and_nothing_to_tell():
    perfect = go_no_go_study(TRUTH, PIECE, OPERATOR, TRUTH)
    assert perfect.kappa_all == pytest.approx(1)
    assert perfect.false_accept.estimate == 0
    assert perfect.false_accept.high > 0.03
    blind = go_no_go_study([1, 1, 1, 1], [1, 1, 2, 2])
    assert blind.kappa_all is None
    assert "No reference" in str(blind)
    all_good = go_no_go_study([1, 1], [1, 2], reference=[1, 1])
    assert all_good.false_accept is None
    assert "No bad piece" in all_good.reason
    assert json.dumps(all_good.to_dict())


REFUSED = {
    "unreadable": (lambda: go_no_go_study(["perhaps"], [1]), TrackerError, "perhaps"),
    "lengths": (lambda: go_no_go_study([1, 0], [1]), TrackerError, "2 decisions, 1 pieces"),
    "two truths": (lambda: go_no_go_study([1, 0], [7, 7], reference=[1, 0]), TrackerError, "piece 7"),
    "reference": (lambda: go_no_go_study([1, 0], [7, 7], reference=[1]), TrackerError, "1 references"),
    "empty": (lambda: go_no_go_study([], []), NotEnoughData, "empty"),
    "nothing shared": (lambda: go_no_go_study([1, 0], [1, 2], ["A", "B"]), NotEnoughData, "in common"),
}


@pytest.mark.parametrize("name", REFUSED)
def test_refusals(name):
    call, error, words = REFUSED[name]
    with pytest.raises(error, match=words):
        call()
