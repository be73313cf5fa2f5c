import math
import tomllib
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from groovewright.tonearm.geometry import Geometry, geometry_from_nulls
from groovewright.tonearm.tracking import groove_angle, null_radii, tracking_error

ARMS = tomllib.loads((Path(__file__).parents[1] / "published" / "geometry_arms.toml").read_text())

distances = st.floats(170, 400)
nulls = st.tuples(st.floats(40, 80), st.floats(85, 140))


def test_worked_arm_has_its_printed_length_angle_and_errors():
    row = ARMS["by_distance"]
    arm = geometry_from_nulls(
        pivot_to_spindle_mm=row["pivot_to_spindle_mm"],
        null_radii_mm=(65.99804637, 120.89147571),
    )
    half = row["printed_to"] / 2
    assert arm.effective_length_mm == pytest.approx(row["effective_length_mm"], abs=half)
    assert arm.overhang_mm == pytest.approx(row["overhang_mm"], abs=half)
    assert arm.offset_angle_deg == pytest.approx(row["offset_angle_deg"], abs=half)
    np.testing.assert_allclose(arm.tracking_error_deg(row["radius_mm"]), row["tracking_error_deg"], rtol=0, atol=half)
    lowest = arm.tracking_error_deg(math.sqrt(65.99804637 * 120.89147571))
    assert lowest == pytest.approx(row["least_tracking_error_deg"], abs=half)


@settings(max_examples=60, deadline=None)
@given(distances, nulls)
def test_nulls_are_nulls(distance_mm, null_mm):
    arm = geometry_from_nulls(pivot_to_spindle_mm=distance_mm, null_radii_mm=null_mm)
    np.testing.assert_allclose(arm.tracking_error_deg(null_mm), 0, atol=1e-11)
    np.testing.assert_allclose(arm.null_radii_mm, sorted(null_mm), rtol=1e-11)


@settings(max_examples=60, deadline=None)
@given(distances, st.floats(-25, 25), st.floats(-40, 40))
def test_every_null_radius_of_any_arm_has_no_error(distance_mm, overhang_mm, offset_deg):
    arm = Geometry(distance_mm, distance_mm + overhang_mm, offset_deg)
    found = arm.null_radii_mm
    assert list(found) == sorted(found)
    assert len(found) <= 2
    for radius in found:
        # Very small radii are reached with the groove angle near its end, where rounding counts more; the rounding of
        # length and distance itself turns the arm by that much over the radius.
        rounding_deg = math.degrees(8 * 2.0**-52 * arm.effective_length_mm / radius)
        assert arm.tracking_error_deg(radius) == pytest.approx(0, abs=max(rounding_deg, 1e-5 if radius < 1 else 1e-9))


@settings(max_examples=60, deadline=None)
@given(distances, st.floats(-30, 30), st.floats(50, 150))
def test_groove_angle_is_the_angle_between_arm_and_tangent_drawn_out(distance_mm, overhang_mm, radius_mm):
    # Coordinates: spindle at the origin, pivot on the x axis, stylus where both circles meet.
    length_mm = distance_mm + overhang_mm
    x = (distance_mm**2 + radius_mm**2 - length_mm**2) / (2 * distance_mm)
    y = math.sqrt(radius_mm**2 - x**2)
    arm_line = np.array([distance_mm - x, -y])
    tangent = np.array([y, -x])
    cosine = arm_line @ tangent / (length_mm * radius_mm)
    expected = math.degrees(math.acos(np.clip(cosine, -1, 1)))
    signed = groove_angle(radius_mm, effective_length_mm=length_mm, pivot_to_spindle_mm=distance_mm)
    assert abs(float(signed)) == pytest.approx(expected, abs=1e-6)


def test_arguments_broadcast_against_each_other():
    error = tracking_error(
        [[60.0], [90.0], [120.0]],
        effective_length_mm=[230.0, 239.3],
        pivot_to_spindle_mm=222,
        offset_angle_deg=[20.0, 23.0],
    )
    assert error.shape == (3, 2)
    one = tracking_error(90.0, effective_length_mm=239.3, pivot_to_spindle_mm=222, offset_angle_deg=23.0)
    assert error[1, 1] == pytest.approx(float(one), abs=1e-12)


def test_an_arm_stretched_straight_still_reaches():
    assert groove_angle(20.0, effective_length_mm=242.0, pivot_to_spindle_mm=222.0) == pytest.approx(90, abs=1e-5)


@pytest.mark.parametrize("radius_mm", [5.0, 0.0, -60.0, 470.0, math.nan])
def test_unreachable_radius_is_refused_with_the_values(radius_mm):
    with pytest.raises(ValueError, match=r"radius_mm .* is out of reach: a 239 mm arm mounted 222 mm .* 17 to 461 mm"):
        tracking_error([90.0, radius_mm], effective_length_mm=239, pivot_to_spindle_mm=222, offset_angle_deg=23)


@pytest.mark.parametrize(
    ("length_mm", "distance_mm", "named"),
    [
        (0, 222, "effective_length_mm"),
        (-239, 222, "effective_length_mm"),
        (math.inf, 222, "effective_length_mm"),
        (239, 0, "pivot_to_spindle_mm"),
        (239, math.nan, "pivot_to_spindle_mm"),
    ],
)
def test_impossible_lengths_are_named(length_mm, distance_mm, named):
    with pytest.raises(ValueError, match=f"{named} must be above 0 mm"):
        groove_angle(90, effective_length_mm=length_mm, pivot_to_spindle_mm=distance_mm)


def test_an_arm_that_never_comes_square_has_no_null():
    assert null_radii(effective_length_mm=239.3, pivot_to_spindle_mm=222, offset_angle_deg=5) == ()


def test_an_underhung_arm_has_one_null():
    assert null_radii(effective_length_mm=207, pivot_to_spindle_mm=222, offset_angle_deg=0) == pytest.approx(
        (math.sqrt(222**2 - 207**2),)
    )
