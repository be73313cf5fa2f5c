import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import multivariate_normal, norm

from groovewright.measurement.box_probability import box_probability


def random_covariance(generator, count):
    root = generator.normal(size=(count, count + 1))
    return root @ root.T


@settings(max_examples=25, deadline=None)
@given(seed=st.integers(0, 10**6), count=st.integers(1, 7))
def test_agrees_with_scipy_within_the_stated_error(seed, count):
    generator = np.random.default_rng(seed)
    matrix = random_covariance(generator, count)
    middle = generator.normal(size=count)
    lower = -generator.uniform(0.5, 4, size=count)
    upper = generator.uniform(0.5, 4, size=count)
    ours = box_probability(middle, matrix, lower=lower, upper=upper)
    # Genz's own program, to 1e-5.
    theirs = multivariate_normal(middle, matrix, maxpts=400_000, abseps=1e-5, seed=1).cdf(upper, lower_limit=lower)
    assert ours.value == pytest.approx(theirs, abs=2 * ours.error + 5e-5)
    assert ours.error < 0.01


def test_independent_quantities_multiply():
    spread, low, high = np.array([0.1, 2.0, 30.0]), np.array([-0.1, -3.0, 10.0]), np.array([0.3, 1.0, 90.0])
    ours = box_probability([0.0, 0.5, 20.0], np.diag(spread**2), lower=low, upper=high)
    each = norm.cdf((high - [0.0, 0.5, 20.0]) / spread) - norm.cdf((low - [0.0, 0.5, 20.0]) / spread)
    assert ours.value == pytest.approx(each.prod(), rel=1e-12)


def test_equal_quantities_count_once():
    matrix = np.array([[1.0, 2.0], [2.0, 4.0]])
    ours = box_probability([0.0, 0.0], matrix, lower=[-1, -2], upper=[1, 2])
    assert ours.value == pytest.approx(math.erf(1 / math.sqrt(2)), abs=1e-9)


def test_an_exact_quantity_keeps_its_limits_or_not():
    matrix = np.diag([0.0, 1.0])
    inside = box_probability([0.5, 0.0], matrix, lower=[0, -np.inf], upper=[0.5, 0])
    outside = box_probability([0.51, 0.0], matrix, lower=[0, -np.inf], upper=[0.5, 0])
    assert inside.value == pytest.approx(0.5)
    assert (outside.value, outside.log) == (0.0, -math.inf)


def test_the_logarithm_keeps_its_slope_far_out():
    far, farther = (box_probability([at, 0], np.eye(2), lower=[-1, -1], upper=[1, 1]).log for at in (60.0, 61.0))
    # The tail of the normal distribution by its asymptotic form.
    expected = norm.logsf(59) + math.log(norm.cdf(1) - norm.cdf(-1))
    assert far == pytest.approx(expected, abs=1e-6)
    assert farther < far - 50


def test_the_same_question_has_the_same_answer():
    matrix = random_covariance(np.random.default_rng(4), 5)
    first, second = (box_probability(np.zeros(5), matrix, lower=-np.ones(5), upper=np.ones(5)) for _ in range(2))
    assert first == second


def test_mistaken_limits_are_refused():
    with pytest.raises(ValueError, match="above its upper"):
        box_probability([0.0], [[1.0]], lower=[1.0], upper=[0.0])
    with pytest.raises(ValueError, match="square covariance"):
        box_probability([0.0, 1.0], [[1.0]], lower=[1.0], upper=[0.0])
