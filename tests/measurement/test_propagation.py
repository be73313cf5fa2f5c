import math

import numpy as np
import pytest
import uncertainties
from hypothesis import given, settings
from hypothesis import strategies as st
from uncertainties import umath

from groovewright.measurement.propagation import propagate, propagate_all
from groovewright.measurement.quantity import Quantity, correlated_quantities, covariance


def measured(value, u, source):
    return Quantity.measured(value, "mm", standard_uncertainty=u, source=source)


@settings(max_examples=40, deadline=None)
@given(
    st.tuples(st.floats(20, 40), st.floats(3, 9), st.floats(0.2, 1.2)),
    st.tuples(st.floats(0.01, 0.5), st.floats(0.01, 0.3), st.floats(0.001, 0.05)),
    st.tuples(st.floats(-0.5, 0.5), st.floats(-0.5, 0.5), st.floats(-0.5, 0.5)),
)
def test_correlated_propagation_agrees_with_an_independent_library(values, spread, correlations):
    ab, ac, bc = correlations
    matrix = np.array([[1, ab, ac], [ab, 1, bc], [ac, bc, 1]]) * np.outer(spread, spread)
    inputs = correlated_quantities(values, matrix, units=["mm"] * 3, source="fit")
    ours = propagate_all(
        lambda a, b, c: {"side": math.sqrt(a * a + b * b - 2 * a * b * math.cos(c)), "area": a * b * math.sin(c)},
        dict(zip("abc", inputs, strict=True)),
        units={"side": "mm", "area": "mm2"},
    )
    a, b, c = uncertainties.correlated_values(values, matrix)
    theirs = {"side": umath.sqrt(a * a + b * b - 2 * a * b * umath.cos(c)), "area": a * b * umath.sin(c)}
    for name, expected in theirs.items():
        assert ours[name].value == pytest.approx(expected.nominal_value, rel=1e-12)
        assert ours[name].standard_uncertainty == pytest.approx(expected.std_dev, rel=1e-6)
    their_covariance = uncertainties.covariance_matrix([theirs["side"], theirs["area"]])[0][1]
    scale = ours["side"].standard_uncertainty * ours["area"].standard_uncertainty
    assert covariance(ours["side"], ours["area"]) == pytest.approx(their_covariance, abs=1e-6 * scale)


def test_shared_source_cancels_in_a_difference():
    first, second = measured(222, 0.3, "one rule"), measured(239, 0.3, "one rule")
    overhang = propagate(lambda a, b: b - a, {"a": first, "b": second}, unit="mm")
    assert overhang.standard_uncertainty == pytest.approx(0, abs=1e-9)
    apart = propagate(lambda a, b: b - a, {"a": first, "b": measured(239, 0.3, "another rule")}, unit="mm")
    assert apart.standard_uncertainty == pytest.approx(math.hypot(0.3, 0.3))


def test_unknown_uncertainty_is_carried_with_its_reason_but_only_where_it_matters():
    inputs = {"a": measured(2, 0.1, "rule"), "b": Quantity.unknown_uncertainty(3, "mm", why="no certificate")}
    results = propagate_all(
        lambda a, b: {"sum": a + b, "first": a}, inputs, units={"sum": "mm", "first": "mm"}, how="added"
    )
    assert results["sum"].standard_uncertainty is None
    assert results["sum"].why_unknown == "the uncertainty of the b is not known: no certificate"
    assert results["first"].standard_uncertainty == pytest.approx(0.1)
    assert results["sum"].how == "added"


def test_an_unknown_uncertainty_is_named_once_however_far_it_is_carried():
    compliance = Quantity.unknown_uncertainty(12, "um/mN", why="none was stated with the entry")
    raised = propagate(lambda **at: 1.5 * at["quoted_compliance"], {"quoted_compliance": compliance}, unit="um/mN")
    frequency = propagate(lambda raised: 1 / raised, {"raised": raised}, unit="Hz")
    assert frequency.why_unknown == (
        "the uncertainty of the quoted compliance is not known: none was stated with the entry"
    )


def test_an_output_at_its_minimum_still_rests_on_an_input_of_unknown_uncertainty():
    lean = Quantity.unknown_uncertainty(0.0, "deg", why="nobody measured it")
    level = propagate(lambda lean: math.cos(math.radians(lean)), {"lean": lean}, unit="1")
    assert level.value == 1.0
    assert level.standard_uncertainty is None
    assert "nobody measured it" in level.why_unknown


def test_an_output_that_only_rounding_moves_is_exact():
    held = propagate(lambda a: (a + 60.325) - a, {"a": measured(222, 0.3, "rule")}, unit="mm")
    assert held.standard_uncertainty == 0


def test_exact_input_is_not_moved():
    def only_at_2(a, b):
        if b != 2:
            raise ValueError("b was moved")
        return a * b

    inputs = {"a": measured(3, 0.1, "rule"), "b": Quantity.exact(2, "1")}
    assert propagate(only_at_2, inputs, unit="mm").standard_uncertainty == pytest.approx(0.2)


def test_refusal_of_the_model_reaches_the_caller():
    def out_of_reach(radius):
        raise ValueError(f"radius {radius:g} mm is out of reach")

    with pytest.raises(ValueError, match="out of reach"):
        propagate(out_of_reach, {"radius": measured(300, 1, "rule")}, unit="deg")
