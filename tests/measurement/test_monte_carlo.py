import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from groovewright.measurement.coverage import coverage_interval
from groovewright.measurement.line_fit import fit_line
from groovewright.measurement.monte_carlo import (
    draw_quantities,
    monte_carlo,
    shortest_interval,
    symmetric_interval,
)
from groovewright.measurement.propagation import propagate_all
from groovewright.measurement.quantity import Quantity, Source

TRIALS = 200_000
FOUR_STANDARD_ERRORS = 4 / math.sqrt(2 * TRIALS)


def measured(value, u, source, dof=math.inf):
    return Quantity.measured(value, "mm", standard_uncertainty=u, source=source, degrees_of_freedom=dof)


def test_same_seed_gives_the_same_draws_and_another_seed_others():
    inputs = {"a": measured(1, 0.1, "rule")}
    first, again, other = (draw_quantities(inputs, trials=1000, seed=seed)["a"] for seed in (1, 1, 2))
    np.testing.assert_array_equal(first, again)
    assert not np.array_equal(first, other)


def test_shared_source_moves_both_quantities_alike():
    drawn = draw_quantities(
        {"a": measured(1, 0.1, "rule"), "b": measured(2, 0.3, "rule"), "c": measured(3, 0.1, "another")},
        trials=TRIALS,
        seed=3,
    )
    assert np.corrcoef(drawn["a"], drawn["b"])[0, 1] == pytest.approx(1.0, abs=1e-12)
    assert np.corrcoef(drawn["a"], drawn["c"])[0, 1] == pytest.approx(0.0, abs=4 / math.sqrt(TRIALS))


def test_linear_model_agrees_with_first_order():
    def model(a, b):
        return {"sum": a + 2 * b, "difference": a - b}

    shared = Source("rule")
    inputs = {"a": Quantity(5, "mm", {shared: 0.2, Source("eye"): 0.1}), "b": Quantity(3, "mm", {shared: 0.2})}
    units = {"sum": "mm", "difference": "mm"}
    drawn = monte_carlo(model, inputs, units=units, trials=TRIALS, seed=4)
    for name, expected in propagate_all(model, inputs, units=units).items():
        u = expected.standard_uncertainty
        assert drawn[name].unit == "mm"
        assert drawn[name].mean == pytest.approx(expected.value, abs=4 * u / math.sqrt(TRIALS))
        assert drawn[name].standard_uncertainty == pytest.approx(u, rel=FOUR_STANDARD_ERRORS)


def test_estimated_source_is_drawn_from_its_t_distribution():
    drawn = draw_quantities({"a": measured(10, 0.5, "repeats", dof=4)}, trials=20_000, seed=5)["a"]
    assert stats.kstest((drawn - 10) / 0.5, stats.t(4).cdf).pvalue > 0.001


def test_prediction_of_a_fitted_line_has_the_interval_of_its_own_degrees_of_freedom():
    fit = fit_line([0, 1, 2, 3, 4], [0.1, 0.9, 2.2, 2.9, 4.1], x_unit="g", y_unit="mm", source="fit")
    drawn = monte_carlo(
        lambda a, b: {"y": a + 6 * b},
        {"a": fit.intercept, "b": fit.slope},
        units={"y": "mm"},
        trials=TRIALS,
        seed=6,
    )["y"]
    low, high = coverage_interval(fit.predict(6))
    # Five standard errors of a 2.5 % quantile of t with 3 degrees of freedom at this many draws.
    allowed = 5 * fit.predict(6).standard_uncertainty * math.sqrt(0.025 * 0.975 / TRIALS) / stats.t(3).pdf(3.182)
    np.testing.assert_allclose(drawn.symmetric_interval(), [low, high], rtol=0, atol=allowed)


@settings(max_examples=30, deadline=None)
@given(probability=st.floats(0.5, 0.99), seed=st.integers(0, 100))
def test_shortest_interval_is_never_longer_and_holds_its_share(probability, seed):
    values = np.random.default_rng(seed).exponential(size=5000)
    low, high = shortest_interval(values, probability)
    symmetric_low, symmetric_high = symmetric_interval(values, probability)
    assert high - low <= symmetric_high - symmetric_low
    for ends in ((low, high), (symmetric_low, symmetric_high)):
        held = np.count_nonzero((values >= ends[0]) & (values <= ends[1]))
        assert held == pytest.approx(probability * values.size, abs=1.5)


def test_shortest_interval_of_known_draws_is_exact():
    assert shortest_interval([0, 10, 11, 12, 13, 30], 0.5) == (10, 13)
    assert symmetric_interval(np.arange(101), 0.9) == (5, 96)


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (lambda: draw_quantities({"a": measured(1, 1, "x")}, trials=10, seed=0), "at least 1000"),
        (
            lambda: draw_quantities({"a": Quantity.unknown_uncertainty(1, "mm", why="lost")}, trials=1000, seed=0),
            r"a cannot be drawn: its uncertainty is unknown \(lost\)",
        ),
        (lambda: shortest_interval([1.0, 2.0], 1.0), "between 0 and 1"),
        (lambda: shortest_interval([1.0], 0.5), "too few"),
    ],
)
def test_what_cannot_be_drawn_is_refused(call, message):
    with pytest.raises(ValueError, match=message):
        call()


def test_model_without_a_result_for_some_draws_is_refused_with_their_number():
    def model(a):
        return {"angle": np.where(a > 2, np.nan, a)}

    with pytest.raises(ValueError, match=r"angle has no finite value for \d+ of 1000 draws"):
        monte_carlo(model, {"a": measured(1.9, 0.5, "rule")}, units={"angle": "deg"}, trials=1000)


@settings(max_examples=50, deadline=None)
@given(
    values=st.lists(st.integers(-50, 50), min_size=10, max_size=40),
    probability=st.floats(0.1, 0.95),
)
def test_shortest_interval_is_the_shortest_of_all_that_hold_as_many_draws(values, probability):
    low, high = shortest_interval(values, probability)
    inside = min(int(probability * len(values) + 0.5), len(values) - 1)
    ordered = sorted(values)
    widths = [last - first for first, last in zip(ordered, ordered[inside:], strict=False)]
    assert high - low == min(widths)
    assert (low, high) in set(zip(ordered, ordered[inside:], strict=False))
