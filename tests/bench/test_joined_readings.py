import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from groovewright.bench.joined_readings import join_readings
from groovewright.measurement.quantity import Quantity, Source


def mm(value, u, source):
    return Quantity.measured(value, "mm", standard_uncertainty=u, source=source)


def test_independent_readings_are_weighted_by_their_variances():
    joined = join_readings([mm(222.0, 0.3, "rule"), mm(222.4, 0.6, "caliper")], name="distance")
    # Weights 4 to 1.
    assert joined.quantity.value == pytest.approx(222.08)
    assert joined.quantity.standard_uncertainty == pytest.approx(math.sqrt(1 / (1 / 0.09 + 1 / 0.36)))
    assert joined.chi_square == pytest.approx(0.16 / 0.45)
    assert joined.agree
    assert joined.note == ""


def test_a_shared_source_does_not_shrink():
    shared = Source("zero of the rule")
    readings = [
        Quantity(value, "mm", {shared: 0.2, Source(f"reading {value}"): 0.1})
        for value in (222.0, 222.1, 222.05, 221.95)
    ]
    joined = join_readings(readings, name="distance").quantity
    assert joined.standard_uncertainty == pytest.approx(math.sqrt(0.2**2 + 0.1**2 / 4), rel=1e-6)


@settings(max_examples=40, deadline=None)
@given(st.lists(st.tuples(st.floats(-1, 1), st.floats(0.05, 2)), min_size=2, max_size=6), st.floats(0, 1))
def test_joining_agrees_with_plain_generalised_least_squares(rows, common):
    shared = Source("common")
    readings = [
        Quantity(200 + value, "mm", {shared: common, Source(f"reading {k}"): u}) for k, (value, u) in enumerate(rows)
    ]
    joined = join_readings(readings, name="distance")
    values = np.array([200 + value for value, _ in rows])
    total = np.diag([u**2 for _, u in rows]) + common**2
    inverse = np.linalg.inv(total)
    best = inverse.sum(axis=0) @ values / inverse.sum()
    assert joined.quantity.value == pytest.approx(best, abs=1e-6)
    if joined.agree:
        assert joined.quantity.standard_uncertainty == pytest.approx(math.sqrt(1 / inverse.sum()), rel=1e-4)


def test_disagreement_is_reported_and_widens():
    joined = join_readings([mm(222.0, 0.1, "rule"), mm(223.0, 0.1, "caliper")], name="pivot-to-spindle distance")
    assert not joined.agree
    assert "disagree" in joined.note
    assert "222.00 mm" in joined.note
    assert "223.00 mm" in joined.note
    # Birge: u of the mean, 0.0707, times the root of chi-square 50.
    assert joined.quantity.standard_uncertainty == pytest.approx(0.5, rel=1e-3)


def test_exact_readings_that_differ_disagree_and_equal_ones_agree():
    apart = join_readings([Quantity.exact(222.0, "mm"), Quantity.exact(222.2, "mm")], name="distance")
    assert not apart.agree
    assert apart.quantity.standard_uncertainty == pytest.approx(0.1)
    assert join_readings([Quantity.exact(222.0, "mm")] * 2, name="distance").agree


def test_one_source_with_two_values_is_a_disagreement_and_not_a_crash():
    joined = join_readings([mm(222.0, 0.3, "rule"), mm(222.4, 0.3, "rule")], name="distance")
    assert joined.quantity.value == pytest.approx(222.2)
    assert not joined.agree


def test_an_unknown_uncertainty_among_them_leaves_the_plain_mean():
    unknown = Quantity.unknown_uncertainty(222.4, "mm", why="none was stated")
    joined = join_readings([mm(222.0, 0.3, "rule"), unknown], name="distance")
    assert joined.quantity.value == pytest.approx(222.2)
    assert joined.quantity.standard_uncertainty is None
    assert joined.chi_square is None
    assert "plain mean" in joined.note


def test_one_reading_is_itself_and_none_or_mixed_units_are_refused():
    single = mm(222.0, 0.3, "rule")
    assert join_readings([single], name="distance").quantity == single
    with pytest.raises(ValueError, match="no reading of the distance"):
        join_readings([], name="distance")
    with pytest.raises(ValueError, match="deg and mm"):
        join_readings([single, Quantity.exact(1, "deg")], name="distance")
