"""How many to make: against the binomial of scipy, and against simulation where the spread is only estimated."""

import numpy as np
import pytest
from scipy import stats

from tracker.decide import pieces_to_make
from tracker.errors import NotEnoughData, TrackerError


@pytest.mark.parametrize("wanted", [1, 2, 5, 10, 40])
@pytest.mark.parametrize("chance", [0.3, 0.8, 0.95, 0.999])
@pytest.mark.parametrize("assurance", [0.9, 0.95, 0.99])
def test_least_number_by_the_binomial(wanted, chance, assurance):
    answer = pieces_to_make(wanted, chance, assurance)
    assert stats.binom.sf(wanted - 1, answer.number, chance) >= assurance
    assert stats.binom.sf(wanted - 1, answer.number - 1, chance) < assurance
    assert answer.chance_enough == pytest.approx(stats.binom.sf(wanted - 1, answer.number, chance), rel=1e-9)


def test_sure_pieces_need_no_spare():
    assert pieces_to_make(7, 1.0).number == 7


def test_from_sizes_against_simulation():
    """Posterior of mean and spread drawn (flat priors), pieces drawn from it: the share with enough good ones."""
    sizes = np.array([10.001, 10.004, 9.998, 10.002, 10.000, 9.997, 10.003, 10.001])
    answer = pieces_to_make(6, sizes=sizes, lower=9.995, upper=10.006)
    rng = np.random.default_rng(2)
    draws = 200_000
    sd = np.sqrt(7 * np.var(sizes, ddof=1) / rng.chisquare(7, draws))
    mean = np.mean(sizes) + sd / np.sqrt(8) * rng.normal(size=draws)
    good = stats.norm.cdf(10.006, mean, sd) - stats.norm.cdf(9.995, mean, sd)
    for number, error in ((answer.number, 0.002), (answer.number - 1, 0.002)):
        enough = np.mean(rng.binomial(number, good) >= 6)
        assert bool(enough >= 0.95 - error) is (number == answer.number)
    assert answer.chance_enough == pytest.approx(np.mean(rng.binomial(answer.number, good) >= 6), abs=0.003)
    assert answer.chance_good == pytest.approx(np.mean(good), abs=0.002)
    # what is not known of mean and spread is shared by all: more spares than the binomial at the average asks
    assert answer.number >= pieces_to_make(6, answer.chance_good).number


def test_a_shift_moves_the_new_pieces():
    sizes = np.array([10.011, 10.014, 10.008, 10.012])
    off, on = (pieces_to_make(4, sizes=sizes, lower=9.99, upper=10.01, shift=shift) for shift in (0.0, -0.011))
    assert on.number < off.number


@pytest.mark.parametrize(
    ("terms", "error", "says"),
    [
        ({"wanted": 0, "chance": 0.9}, TrackerError, "at least 1"),
        ({"wanted": 1, "chance": 1.9}, TrackerError, "between 0 and 1"),
        ({"wanted": 1, "chance": 0.0}, TrackerError, "Shift the cut first"),
        ({"wanted": 1, "chance": 0.9, "assurance": 1.0}, TrackerError, "assurance"),
        ({"wanted": 1}, TrackerError, "either"),
        ({"wanted": 1, "chance": 0.9, "sizes": [1.0, 2.0]}, TrackerError, "either"),
        ({"wanted": 1, "sizes": [1.0]}, NotEnoughData, "at least two"),
    ],
)
def test_refuses_what_makes_no_sense(terms, error, says):
    with pytest.raises(error, match=says):
        pieces_to_make(**terms)


def test_reads_well():
    assert str(pieces_to_make(10, 0.9)) == (
        "Make 13 pieces to have 10 good with 97 % chance (each is good with 90 %; binomial)."
    )
