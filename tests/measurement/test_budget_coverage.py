import math

import numpy as np
import pytest
from scipy import stats

from groovewright.measurement.budget import BudgetRow, uncertainty_budget
from groovewright.measurement.coverage import coverage_factor, coverage_interval, numerical_tolerance, validate
from groovewright.measurement.distributions import Normal, Rectangular
from groovewright.measurement.line_fit import fit_line
from groovewright.measurement.model import Measurement
from groovewright.measurement.monte_carlo import Draws
from groovewright.measurement.quantity import Quantity, Source, correlated_quantities


def test_budget_lists_the_largest_first_and_its_shares_add_up():
    rows = uncertainty_budget(Quantity(1, "mm", {Source("eye"): -0.3, Source("rule", 8): 0.4, Source("none"): 0.0}))
    assert rows == (
        BudgetRow("rule", pytest.approx(0.4), pytest.approx(0.64), 8),
        BudgetRow("eye", pytest.approx(0.3), pytest.approx(0.36), math.inf),
    )


def test_parts_of_one_fit_are_one_row():
    fit = fit_line([0, 1, 2, 3], [0.1, 0.9, 2.2, 2.9], x_unit="g", y_unit="mN", source="scale check")
    (row,) = uncertainty_budget(fit.predict(2.5))
    assert row.source == "scale check"
    assert row.contribution == pytest.approx(fit.predict(2.5).standard_uncertainty)
    assert row.degrees_of_freedom == 2


def test_budget_of_nothing_is_empty_and_of_the_unknown_is_refused():
    assert uncertainty_budget(Quantity.exact(1, "mm")) == ()
    with pytest.raises(ValueError, match="lost"):
        uncertainty_budget(Quantity.unknown_uncertainty(1, "mm", why="lost"))


@pytest.mark.parametrize("probability", [0.6827, 0.95, 0.99])
@pytest.mark.parametrize(("dof", "truncated"), [(math.inf, math.inf), (16.75, 16), (3.0, 3), (0.6, 0.6)])
def test_coverage_factor_is_the_t_quantile_of_the_truncated_degrees_of_freedom(probability, dof, truncated):
    quantity = Quantity.measured(5, "mm", standard_uncertainty=0.2, source="x", degrees_of_freedom=dof)
    expected = stats.t.ppf((1 + probability) / 2, truncated)
    assert coverage_factor(quantity, probability) == pytest.approx(expected, rel=1e-9)
    assert coverage_interval(quantity, probability) == pytest.approx((5 - 0.2 * expected, 5 + 0.2 * expected))


@pytest.mark.parametrize("dof", [4, 9, 93, 99])
def test_whole_degrees_of_freedom_lose_none_to_rounding(dof):
    # The formula gives some of them 3.9999999999999996 and 98.99999999999999.
    scales = [0.1 + 0.013 * k for k in range(40)]
    for scale in scales:
        covariance = scale**2 * np.array([[1.0, 0.3, 0.1], [0.3, 2.0, -0.7], [0.1, -0.7, 3.1]])
        fitted = correlated_quantities([1, 2, 3], covariance, units=["mm"] * 3, source="fit", degrees_of_freedom=dof)
        expected = stats.t.ppf(0.975, dof)
        assert [coverage_factor(q) for q in fitted] == pytest.approx([expected] * 3, rel=1e-9)


@pytest.mark.parametrize(
    ("uncertainty", "digits", "tolerance"),
    # JCGM 101, 7.9.2: 32 nm to two digits gives 0.5, to one digit 5; carried over, 9.96 is 10.
    [(32, 2, 0.5), (32, 1, 5), (0.0754, 1, 0.005), (9.96, 2, 0.5), (0.00035, 2, 0.000005)],
)
def test_numerical_tolerance_is_half_the_last_digit(uncertainty, digits, tolerance):
    assert numerical_tolerance(uncertainty, digits) == pytest.approx(tolerance, rel=1e-12)


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (lambda: coverage_factor(Quantity.exact(1, "mm"), 1.0), "between 0 and 1"),
        (lambda: coverage_interval(Quantity.unknown_uncertainty(1, "mm", why="lost")), "lost"),
        (lambda: numerical_tolerance(0), "above 0"),
        (lambda: validate(Quantity.exact(1, "mm"), Draws([1.0, 2.0], "in")), "in mm and its draws are in in"),
        (lambda: product({("a", "c"): 0.5}), "only normal inputs can be correlated here, and 'c' is none"),
        (lambda: product({("a", "z"): 0.5}), "'z' is none"),
        (lambda: product({("a", "b"): 1.5}), "1.5 is no correlation of a with b"),
    ],
)
def test_what_has_no_meaning_is_refused(call, message):
    with pytest.raises(ValueError, match=message):
        call()


def product(correlation):
    return Measurement(
        lambda a, b, c: {"product": a * b * c},
        {"a": Normal(2, 0.1), "b": Normal(3, 0.1), "c": Rectangular(0.9, 1.1)},
        units={"product": "1"},
        correlation=correlation,
    )


def test_correlated_and_free_inputs_go_together():
    measurement = product({("a", "b"): -0.5})
    first_order = measurement.first_order()["product"]
    # (3 x 0.1)^2 + (2 x 0.1)^2 - 2 x 0.5 x 0.3 x 0.2 + (6 x 0.1)^2 / 3
    assert first_order.standard_uncertainty == pytest.approx(math.sqrt(0.09 + 0.04 - 0.06 + 0.12), rel=1e-6)
    drawn = measurement.monte_carlo(trials=200_000, seed=1)["product"]
    assert drawn.standard_uncertainty == pytest.approx(first_order.standard_uncertainty, rel=0.01)


def test_few_repeats_behind_correlated_inputs_widen_draws_and_first_order_alike():
    sum_of_both = Measurement(
        lambda a, b: {"sum": a + b},
        {"a": Normal(10.0, 0.3), "b": Normal(5.0, 0.4)},
        units={"sum": "mm"},
        correlation={("a", "b"): -0.5},
        degrees_of_freedom=4,
    )
    low, high = coverage_interval(sum_of_both.first_order()["sum"])
    drawn_low, drawn_high = sum_of_both.monte_carlo(trials=400_000, seed=3)["sum"].symmetric_interval()
    assert high - low == pytest.approx(2 * stats.t.ppf(0.975, 4) * math.sqrt(0.13), rel=1e-9)
    assert (drawn_low, drawn_high) == pytest.approx((low, high), abs=0.02)
