import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from groovewright.tonearm.special_arms import (
    tangential_tracking_error,
    underhung_geometry,
    underhung_null_radius,
    underhung_optimum,
)

LP = {"innermost_mm": 60.325, "outermost_mm": 146.05}


@settings(max_examples=40, deadline=None)
@given(st.floats(160, 350), st.floats(20, 150))
def test_a_straight_arm_has_its_one_null_where_it_was_asked_for(distance_mm, null_mm):
    arm = underhung_geometry(pivot_to_spindle_mm=distance_mm, null_radius_mm=null_mm)
    assert arm.overhang_mm < 0
    assert arm.offset_angle_deg == 0
    assert arm.null_radii_mm == pytest.approx((null_mm,), rel=1e-9)
    assert arm.tracking_error_deg(null_mm) == pytest.approx(0, abs=1e-9)


@settings(max_examples=40, deadline=None)
@given(st.tuples(st.floats(45, 75), st.floats(80, 150)))
def test_the_closed_null_errs_alike_at_both_ends_for_small_angles(groove_mm):
    inner, outer = groove_mm
    null = underhung_null_radius(innermost_mm=inner, outermost_mm=outer)
    # A straight arm's small-angle error over radius is 1 - (null / r)^2, but for a factor.
    assert 1 - (null / outer) ** 2 == pytest.approx((null / inner) ** 2 - 1, rel=1e-9)


@pytest.mark.parametrize("objective", ["peak", "rms"])
def test_the_exact_underhang_is_better_than_any_other(objective):
    best = underhung_optimum(objective, pivot_to_spindle_mm=222, **LP)
    radius = np.linspace(60.325, 146.05, 2001)
    assert best.geometry.offset_angle_deg == 0

    def value(null_mm):
        arm = underhung_geometry(pivot_to_spindle_mm=222, null_radius_mm=null_mm)
        error = np.tan(np.radians(arm.tracking_error_deg(radius))) / radius
        return np.abs(error).max() if objective == "peak" else math.sqrt(np.mean(error**2))

    (null,) = best.geometry.null_radii_mm
    scanned = min(value(null_mm) for null_mm in np.linspace(61, 140, 400))
    assert best.value <= scanned * (1 + 1e-6)
    assert best.value == pytest.approx(value(null), rel=2e-3 if objective == "rms" else 1e-6)


def test_the_closed_null_is_near_the_exact_one():
    best = underhung_optimum("peak", pivot_to_spindle_mm=222, **LP)
    assert best.geometry.null_radii_mm[0] == pytest.approx(underhung_null_radius(**LP), abs=0.5)


def test_a_tangential_arm_has_its_set_error_everywhere():
    np.testing.assert_array_equal(tangential_tracking_error([60.0, 100.0, 146.0], set_error_deg=0.4), [0.4] * 3)


def test_a_path_beside_the_spindle_errs_more_at_the_inner_grooves():
    # At 60 mm a path 30 mm beside the spindle leaves the radius by 30 degrees.
    error = tangential_tracking_error([60.0, 120.0], set_error_deg=1.0, path_offset_mm=30.0)
    assert error[0] == pytest.approx(31.0, abs=1e-9)
    assert error[1] < error[0]
    assert tangential_tracking_error(60.0, path_offset_mm=-30.0) == pytest.approx(-30.0, abs=1e-9)


@pytest.mark.parametrize("null_mm", [0, -3, 222, 300, math.nan])
def test_a_null_that_no_straight_arm_can_have_is_refused(null_mm):
    with pytest.raises(ValueError, match="has its null radius between 0 and that distance, not at"):
        underhung_geometry(pivot_to_spindle_mm=222, null_radius_mm=null_mm)


def test_a_groove_that_the_straight_path_never_meets_is_refused():
    with pytest.raises(ValueError, match="radius_mm 3 mm is out of reach: the stylus passes the spindle at 5 mm"):
        tangential_tracking_error([60.0, 3.0], path_offset_mm=-5.0)


@pytest.mark.parametrize("set_error_deg", [float("nan"), 90.0])
def test_a_set_error_that_is_no_alignment_is_refused(set_error_deg):
    with pytest.raises(ValueError, match="set_error_deg must lie between -90 and 90 deg"):
        tangential_tracking_error([60.0], set_error_deg=set_error_deg)
