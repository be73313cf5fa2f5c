import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from groovewright.gauges.rounding_error import split_rounding


@pytest.mark.parametrize("noise_in_steps", [0.05, 0.2, 0.3, 0.4, 0.7])
def test_split_agrees_with_simulated_displays(noise_in_steps):
    # Many true values within a step, each displayed many times: the mean of the repeats keeps an error of its own.
    rng = np.random.default_rng(7)
    true = rng.uniform(0, 1, (4000, 1))
    shown = np.round(true + noise_in_steps * rng.standard_normal((4000, 400)))
    scatter = math.sqrt(shown.var(axis=1, ddof=1).mean())
    # The mean of 400 still scatters by its own noise, which is taken off.
    common = math.sqrt(max(((shown.mean(axis=1) - true[:, 0]) ** 2).mean() - scatter**2 / 400, 0.0))
    assert split_rounding(step=1.0, scatter=scatter).common == pytest.approx(common, abs=0.01)


def test_a_still_display_hides_the_whole_rectangle_and_a_noisy_one_nothing():
    assert split_rounding(step=0.01, scatter=0.0).common == pytest.approx(0.01 / math.sqrt(12), rel=1e-9)
    assert split_rounding(step=0.01, scatter=0.02).common == 0.0


@settings(max_examples=40, deadline=None)
@given(st.floats(1e-4, 1.0), st.floats(0, 2), st.floats(0, 0.5))
def test_more_scatter_never_hides_more(step, scatter_in_steps, more):
    less = split_rounding(step=step, scatter=scatter_in_steps * step).common
    greater = split_rounding(step=step, scatter=(scatter_in_steps + more) * step).common
    assert 0 <= greater <= less + 1e-9 * step
    assert less <= step / math.sqrt(12) * (1 + 1e-9)


def test_a_display_without_steps_is_refused():
    with pytest.raises(ValueError, match="above 0"):
        split_rounding(step=0.0, scatter=0.1)
