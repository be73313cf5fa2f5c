import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from groovewright.tonearm.box_step import least_peak_step, least_square_step


def problem(seed):
    generator = np.random.default_rng(seed)
    size = int(generator.integers(2, 40))
    lower = -generator.uniform(0, 2, 2)
    upper = generator.uniform(0, 2, 2)
    # Some boxes without width, some columns alike.
    if seed % 3 == 0:
        lower[0] = upper[0] = 0.0
    slopes = generator.normal(size=(size, 2)) * [1.0, 50.0]
    if seed % 5 == 0:
        slopes[:, 1] = 50 * slopes[:, 0]
    return generator.normal(size=size), slopes, lower, upper


@settings(max_examples=60, deadline=None)
@given(st.integers(0, 10_000))
def test_least_peak_step_is_as_good_as_a_linear_program(seed):
    from scipy.optimize import linprog

    residual, slopes, lower, upper = problem(seed)
    step, peak = least_peak_step(residual, slopes, lower=lower, upper=upper)
    one = np.ones((residual.size, 1))
    program = linprog(
        [0, 0, 1],
        A_ub=np.block([[slopes, -one], [-slopes, -one]]),
        b_ub=np.concatenate([-residual, residual]),
        bounds=[(lower[0], upper[0]), (lower[1], upper[1]), (0, None)],
    )
    assert (lower <= step).all()
    assert (step <= upper).all()
    assert np.abs(residual + slopes @ step).max() == pytest.approx(peak, rel=1e-9, abs=1e-12)
    assert peak == pytest.approx(program.fun, rel=1e-7, abs=1e-9)


@settings(max_examples=60, deadline=None)
@given(st.integers(0, 10_000))
def test_least_square_step_is_as_good_as_bounded_least_squares(seed):
    from scipy.optimize import lsq_linear

    residual, slopes, lower, upper = problem(seed)
    shares = np.random.default_rng(seed + 1).uniform(0.1, 1, residual.size)
    step = least_square_step(residual, slopes, shares=shares, lower=lower, upper=upper)
    root = np.sqrt(shares)
    # The library wants boxes with width.
    solved = lsq_linear(root[:, None] * slopes, -root * residual, bounds=(lower - 1e-12, upper + 1e-12), method="bvls")
    assert (lower <= step).all()
    assert (step <= upper).all()
    ours = np.sum(shares * (residual + slopes @ step) ** 2)
    assert ours <= 2 * solved.cost * (1 + 1e-9) + 1e-12
