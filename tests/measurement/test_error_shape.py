"""The distribution of an error with a rectangular part, against published factors, quadrature and drawn errors."""

import math

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from scipy.integrate import quad
from scipy.stats import norm
from scipy.stats import t as student

from groovewright.measurement.conformity import DecisionRule, Tolerance, decide, probability_of_conformity
from groovewright.measurement.coverage import coverage_factor, coverage_interval
from groovewright.measurement.error_shape import ErrorShape, error_shape
from groovewright.measurement.quantity import Quantity, Source


def quantity(*rectangular, normal=0.0, degrees_of_freedom=math.inf):
    parts = {Source(f"rounding {k}", rectangular=True): part for k, part in enumerate(rectangular)}
    if normal:
        parts[Source("scatter", degrees_of_freedom)] = normal
    return Quantity(0.0, "mm", parts)


def test_a_figure_that_is_only_rounded_has_the_factor_of_a_rectangular_distribution():
    # EA-4/02 M:2022, example S9: k = 1.65 for 95 % of a rectangular distribution; from its definition 0.95 * 3 ** 0.5.
    assert coverage_factor(quantity(0.5)) == pytest.approx(0.95 * math.sqrt(3), rel=1e-12)
    assert coverage_factor(quantity(0.5)) == pytest.approx(1.65, abs=0.005)
    low, high = coverage_interval(quantity(0.5 / math.sqrt(3)))
    assert (low, high) == pytest.approx((-0.475, 0.475), rel=1e-12)


@pytest.mark.parametrize(("probability", "published"), [(0.95, 1.937), (0.99, 2.379)])
def test_three_equal_rectangular_parts_lie_between_their_own_factor_and_the_normal_one(probability, published):
    # JCGM 100:2008, G.2.2: three rectangular distributions of one width, beside 1.960 and 2.576 of a normal one.
    found = coverage_factor(quantity(1.0, 1.0, 1.0), probability)
    assert published <= found <= norm.ppf((1 + probability) / 2)


def test_two_unequal_rectangular_parts_lie_near_the_trapezoid():
    # EA-4/02, example S10, a vernier caliper: 50 and 25 um to either side, k = 1.83; from memory.
    found = coverage_factor(quantity(50 / math.sqrt(3), 25 / math.sqrt(3), normal=1.5))
    assert found == pytest.approx(1.83, abs=0.025)


@given(
    spread=st.floats(0.01, 100.0),
    dof=st.one_of(st.just(math.inf), st.floats(1.5, 200.0)),
    half_width=st.floats(0.1, 10.0),
    error=st.floats(-3.0, 3.0),
)
def test_the_sum_is_what_quadrature_over_the_rectangle_gives(spread, dof, half_width, error):
    at = error * math.hypot(spread, half_width)
    other = norm if math.isinf(dof) else student(dof)
    # The steep place of a narrow part is told to the quadrature, which could step over it.
    steep = [place for place in (at - 4 * spread, at, at + 4 * spread) if abs(place) < half_width]
    mean = quad(lambda x: other.cdf((at - x) / spread), -half_width, half_width, points=steep or None, limit=200)[0]
    assert ErrorShape(spread, dof, half_width).below(at) == pytest.approx(mean / (2 * half_width), abs=1e-7)


@given(
    rectangular=st.floats(1e-6, 1e3),
    normal=st.floats(1e-6, 1e3),
    dof=st.one_of(st.just(math.inf), st.floats(0.2, 100.0)),
    risk=st.floats(1e-6, 0.49),
)
def test_what_is_exceeded_with_a_risk_is_below_with_the_rest(rectangular, normal, dof, risk):
    shape = error_shape(quantity(rectangular, normal=normal, degrees_of_freedom=dof))
    assert shape.below(shape.exceeded_with(risk)) == pytest.approx(1 - risk, abs=1e-6)


@given(rectangular=st.floats(0.01, 100.0), normal=st.floats(0.01, 100.0))
def test_a_rectangular_part_never_widens_a_95_percent_interval(rectangular, normal):
    shaped = quantity(rectangular, normal=normal)
    assert 1.64 <= coverage_factor(shaped) <= norm.ppf(0.975) + 1e-9


@pytest.mark.parametrize("dof", [math.inf, 4.0])
@pytest.mark.parametrize("ratio", [0.2, 1.0, 5.0])
def test_drawn_errors_bear_the_interval_out(ratio, dof):
    rng = np.random.default_rng(round(10 * ratio))
    drawn = ratio * math.sqrt(3) * rng.uniform(-1, 1, 400_000)
    drawn += rng.standard_normal(drawn.size) if math.isinf(dof) else rng.standard_t(dof, drawn.size)
    reach = error_shape(quantity(ratio, normal=1.0, degrees_of_freedom=dof)).exceeded_with(0.025)
    # Three standard deviations of such a share of so many.
    assert np.mean(np.abs(drawn) < reach) == pytest.approx(0.95, abs=3 * math.sqrt(0.95 * 0.05 / drawn.size))


def test_without_a_rectangular_part_nothing_changes():
    plain = Quantity.measured(1.0, "mm", standard_uncertainty=0.1, source="gauge", degrees_of_freedom=4)
    assert coverage_factor(plain) == pytest.approx(student(4).ppf(0.975), rel=1e-12)
    assert error_shape(plain) == ErrorShape(0.1, 4, 0.0)


def test_so_small_a_part_that_it_has_no_precision_left_counts_as_normal():
    assert error_shape(quantity(1e-12, normal=1.0)).half_width == 0.0
    assert error_shape(quantity(1.0, normal=1e-12)).spread == 0.0


def test_few_degrees_of_freedom_belong_to_the_part_that_scatters():
    # One degree of freedom or fewer has no mean, so the closed form has none either.
    shape = error_shape(quantity(1.0, normal=1.0, degrees_of_freedom=5))
    assert (shape.spread, shape.degrees_of_freedom) == pytest.approx((1.0, 5.0))
    alone = error_shape(quantity(1.0, normal=1.0, degrees_of_freedom=1))
    assert (alone.half_width, alone.degrees_of_freedom) == pytest.approx((0.0, 4.0))


def test_an_unknown_uncertainty_has_no_shape():
    with pytest.raises(ValueError, match="nobody measured it"):
        error_shape(Quantity.unknown_uncertainty(1.0, "mm", why="nobody measured it"))


@given(value=st.floats(-2.0, 2.0), rectangular=st.floats(0.01, 2.0), normal=st.floats(0.0, 2.0))
def test_guard_band_and_probability_of_conformity_agree(value, rectangular, normal):
    parts = quantity(rectangular, normal=normal).components
    rule, tolerance = DecisionRule.of_maximum_risk(0.05), Tolerance(None, 0.0, "mm")
    measured = Quantity(value, "mm", parts)
    band, probability = rule.guard_band(measured), probability_of_conformity(measured, tolerance)
    assume(abs(abs(value) - band) > 1e-6)
    assert (value <= -band) == (probability >= 0.95)
    assert (value >= band) == (probability <= 0.05)


def test_a_rounded_figure_that_cannot_lie_beyond_the_limit_is_in_tolerance():
    # 0.4 mm read to the nearest millimetre keeps a limit at 0.9 mm for sure, and one at 0.85 mm to 95 %.
    measured = Quantity.measured(
        0.4, "mm", standard_uncertainty=0.5 / math.sqrt(3), source="rounding", rectangular=True
    )
    assert probability_of_conformity(measured, Tolerance(None, 0.9, "mm")) == 1.0
    assert probability_of_conformity(measured, Tolerance(None, 0.85, "mm")) == pytest.approx(0.95)
    assert decide(measured, Tolerance(None, 0.86, "mm"), DecisionRule()).outcome == "in tolerance"
    as_normal = Quantity.measured(0.4, "mm", standard_uncertainty=0.5 / math.sqrt(3), source="gauge")
    assert decide(as_normal, Tolerance(None, 0.86, "mm"), DecisionRule()).outcome == "undecided"


@pytest.mark.parametrize("factor", [0.0, 1.0, 6.0, 10.0])
def test_any_guard_factor_has_a_band(factor):
    band = DecisionRule(guard_factor=factor).guard_band(quantity(1.0, normal=0.5))
    assert 0 <= band <= math.sqrt(3) + 0.5 * factor + 1e-9
