import math
import tomllib
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from groovewright.tonearm.criteria import minimax_null_radii
from groovewright.tonearm.distortion import second_harmonic_percent
from groovewright.tonearm.geometry import Geometry, geometry_from_nulls
from groovewright.tonearm.sensitivity import (
    linear_offset_slopes,
    null_radius_slopes,
    second_harmonic_slopes,
    tracking_error_slopes,
)

ROW = tomllib.loads((Path(__file__).parents[1] / "published" / "geometry_arms.toml").read_text())["length_229"]
LOUD = {"peak_velocity_cm_s": 10.0, "speed_rpm": 100 / 3}

arms = st.builds(
    lambda distance, inner, outer: geometry_from_nulls(pivot_to_spindle_mm=distance, null_radii_mm=(inner, outer)),
    st.floats(190, 320),
    st.floats(50, 75),
    st.floats(90, 130),
)


def finite_difference(quantity, arm, axis, step=1e-4):
    """Central difference of a function of the arm, with one dimension shifted."""
    shift = np.zeros(3)
    shift[axis] = step
    at = np.array([arm.pivot_to_spindle_mm, arm.effective_length_mm, arm.offset_angle_deg])
    return (np.asarray(quantity(Geometry(*(at + shift)))) - np.asarray(quantity(Geometry(*(at - shift))))) / (2 * step)


def assert_slopes(slopes, quantity, arm):
    for axis, slope in enumerate((slopes.per_pivot_to_spindle, slopes.per_effective_length, slopes.per_offset_angle)):
        np.testing.assert_allclose(slope, finite_difference(quantity, arm, axis), rtol=2e-6, atol=2e-7)


def arm_of_229_mm():
    nulls = minimax_null_radii(innermost_mm=60.325, outermost_mm=146.05)
    distance = math.sqrt(ROW["effective_length_mm"] ** 2 - nulls[0] * nulls[1])
    return geometry_from_nulls(pivot_to_spindle_mm=distance, null_radii_mm=nulls)


def test_errors_of_the_229_mm_arm_match_the_printed_ones():
    error = arm_of_229_mm().tracking_error_deg(ROW["radius_mm"])
    np.testing.assert_allclose(error, ROW["tracking_error_deg"], rtol=0, atol=ROW["printed_to"] / 2)


def test_change_with_overhang_at_the_same_length_matches_the_printed_one():
    slopes = tracking_error_slopes(arm_of_229_mm(), ROW["slope_radius_mm"])
    np.testing.assert_allclose(
        -slopes.per_pivot_to_spindle, ROW["slope_deg_per_mm"], rtol=0, atol=ROW["printed_to"] / 2
    )


def test_a_slid_cartridge_changes_the_error_less_than_a_moved_pivot():
    slopes = tracking_error_slopes(arm_of_229_mm(), ROW["slope_radius_mm"])
    assert (slopes.per_effective_length < -slopes.per_pivot_to_spindle - 0.03).all()


@settings(max_examples=30, deadline=None)
@given(arms)
def test_slopes_of_the_tracking_error_are_its_finite_differences(arm):
    radius = np.array([60.325, 75.0, 100.0, 146.05])
    assert_slopes(tracking_error_slopes(arm, radius), lambda a: a.tracking_error_deg(radius), arm)


@settings(max_examples=30, deadline=None)
@given(arms)
def test_slopes_of_the_null_radii_are_their_finite_differences(arm):
    assert_slopes(null_radius_slopes(arm), lambda a: a.null_radii_mm, arm)


@settings(max_examples=30, deadline=None)
@given(arms)
def test_slopes_of_the_second_harmonic_are_its_finite_differences(arm):
    radius = np.array([60.325, 75.0, 100.0, 146.05])
    assert_slopes(
        second_harmonic_slopes(arm, radius, **LOUD),
        lambda a: second_harmonic_percent(a, radius, **LOUD),
        arm,
    )


def test_slopes_of_a_large_second_harmonic_are_its_finite_differences():
    bent = Geometry(222.0, 239.0, 5.0)
    violent = {"peak_velocity_cm_s": 50.0, "speed_rpm": 100 / 3}
    assert_slopes(
        second_harmonic_slopes(bent, 60.325, **violent),
        lambda a: second_harmonic_percent(a, 60.325, **violent),
        bent,
    )


@settings(max_examples=30, deadline=None)
@given(arms)
def test_slopes_of_the_linear_offset_are_its_finite_differences(arm):
    assert_slopes(linear_offset_slopes(arm), lambda a: a.linear_offset_mm, arm)


def test_the_null_of_an_underhung_arm_has_slopes_too():
    arm = Geometry(222.0, 207.0, 0.0)
    assert_slopes(null_radius_slopes(arm), lambda a: a.null_radii_mm, arm)


@pytest.mark.parametrize(
    ("arm", "message"),
    [
        (Geometry(222.0, 239.0, 5.0), "an arm of 239 mm at 222 mm with an offset angle of 5 deg has no null radius"),
        (Geometry(math.sqrt(200.0**2 - 100.0**2), 200.0, 30.0), "both null radii lie at 100 mm"),
    ],
)
def test_nulls_without_a_slope_are_refused(arm, message):
    with pytest.raises(ValueError, match=message):
        null_radius_slopes(arm)


def test_an_arm_stretched_straight_has_no_slope():
    with pytest.raises(ValueError, match="at radius_mm 17 mm the arm lies along the line from pivot to spindle"):
        tracking_error_slopes(Geometry(222.0, 239.0, 23.0), [60.0, 17.0])
