"""Values of R 4.2 (Debian's r-base-core), each beside the command that made it; ``options(digits=12)``.

``x <- c(0.62521,0.62535,0.62528,0.62540,0.62519,0.62533,0.62527,0.62560)`` throughout.
"""

import numpy as np
import pytest

from tracker.drift import chart_constants, wear_line
from tracker.gauge import bias_study, go_no_go_study
from tracker.spread import components, normality, tolerance_factor

X = [0.62521, 0.62535, 0.62528, 0.62540, 0.62519, 0.62533, 0.62527, 0.62560]


def test_shapiro_wilk():
    # shapiro.test(x)
    found = normality(X)
    assert found.shapiro_wilk == pytest.approx(0.892981627163, abs=2e-7)
    assert found.shapiro_wilk_p == pytest.approx(0.249393594824, abs=2e-6)


@pytest.mark.parametrize(
    ("n", "d2", "digits"),
    [(2, 1.1283791671, 1e-9), (5, 2.3259289473, 1e-9), (10, 3.07750546037, 1e-8), (100, 5.01518758771, 1e-7)],
)
def test_mean_range(n, d2, digits):
    # integrate(function(w) 1-ptukey(w, n, Inf), 0, Inf, rel.tol=1e-10)$value
    # R's ptukey loses digits as the number of means grows: for 100 it is off by 3e-7, as the integration of
    # test_independent_numbers.py shows, which agrees with ours to 1e-9.
    assert chart_constants(n).d2 == pytest.approx(d2, rel=digits)


def test_one_sided_tolerance_factor():
    # qt(0.95, 9, ncp=qnorm(0.99)*sqrt(10))/sqrt(10)
    assert tolerance_factor(10, 0.99, 0.95, sides=1) == pytest.approx(3.98111784528, rel=1e-6)


def test_bias():
    # t.test(x, mu=0.6253)
    found = bias_study(X, 0.6253)
    assert found.p_value == pytest.approx(0.551450902346, rel=1e-8)
    ends = (found.bias.low + 0.6253, found.bias.high + 0.6253)
    assert ends == pytest.approx((0.625220073022, 0.625437426978), abs=1e-11)


def test_line_of_wear():
    # f <- lm(x ~ n, data.frame(x=x, n=1:8)); confint(f); summary(f)$sigma
    # predict(f, data.frame(n=11), interval="prediction")
    line = wear_line(X)
    assert (line.slope.low, line.slope.high) == pytest.approx((-1.86017776737e-05, 7.26493967213e-05), rel=1e-6)
    assert (line.intercept.low, line.intercept.high) == pytest.approx((0.624976744936, 0.625437540779), abs=1e-11)
    assert line.sd.estimate == pytest.approx(0.000120841132753, rel=1e-8)
    band = line.predict(11)
    ends = (band.line[0], band.low[0], band.high[0])
    assert ends == pytest.approx((0.625504404762, 0.625072766451, 0.625936043073), abs=1e-11)


def test_mean_squares_within_and_between():
    # y <- c(3.1,2.9,3.0,3.4,3.6,3.3,2.7,2.8,2.6,3.2,3.1,3.5); anova(aov(y ~ gl(4,3)))
    y = [3.1, 2.9, 3.0, 3.4, 3.6, 3.3, 2.7, 2.8, 2.6, 3.2, 3.1, 3.5]
    found = components(y, np.repeat(np.arange(4), 3))
    assert found.within_sd.estimate**2 == pytest.approx(0.02166666667, abs=5e-12)
    assert 3 * found.between_sd.estimate**2 + found.within_sd.estimate**2 == pytest.approx(0.30888888889, abs=5e-11)


def test_exact_binomial_interval():
    # binom.test(3,40)$conf.int
    passed = np.r_[np.ones(3), np.zeros(37), np.ones(40)].astype(bool)
    good = np.repeat([False, True], 40)
    found = go_no_go_study(passed, np.arange(80), reference=good).false_accept
    assert (found.low, found.high) == pytest.approx((0.015742179851, 0.203864748733), rel=1e-9)
