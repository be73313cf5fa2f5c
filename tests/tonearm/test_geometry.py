import math

import pytest

from groovewright.tonearm.geometry import Geometry, geometry_from_nulls


def test_overhang_and_linear_offset_follow_from_the_three_dimensions():
    arm = Geometry(222.0, 240.0, 30.0)
    assert arm.overhang_mm == 18.0
    assert arm.linear_offset_mm == pytest.approx(120.0, abs=1e-12)


def test_the_linear_offset_is_the_mean_of_the_nulls():
    arm = geometry_from_nulls(pivot_to_spindle_mm=222, null_radii_mm=(66.0, 120.9))
    assert arm.linear_offset_mm == pytest.approx(93.45, abs=1e-12)
    assert arm.effective_length_mm**2 - 222**2 == pytest.approx(66.0 * 120.9, abs=1e-9)


def test_the_order_of_the_nulls_does_not_matter():
    assert geometry_from_nulls(pivot_to_spindle_mm=222, null_radii_mm=(120.9, 66.0)) == geometry_from_nulls(
        pivot_to_spindle_mm=222, null_radii_mm=(66.0, 120.9)
    )


def test_a_double_null_is_one_radius():
    arm = geometry_from_nulls(pivot_to_spindle_mm=222, null_radii_mm=(90.0, 90.0))
    assert arm.tracking_error_deg(90.0) == pytest.approx(0, abs=1e-12)
    assert arm.null_radii_mm == pytest.approx((90.0,), abs=1e-9)


@pytest.mark.parametrize(
    ("values", "message"),
    [
        ((0, 239, 23), "pivot_to_spindle_mm must be above 0 mm and finite, not 0 mm"),
        ((222, -1, 23), "effective_length_mm must be above 0 mm and finite, not -1 mm"),
        ((222, math.nan, 23), "effective_length_mm must be above 0 mm"),
        ((222, 239, 90), "offset_angle_deg must lie between -90 and 90 deg, not 90 deg"),
        ((222, 239, math.nan), "offset_angle_deg must lie between"),
    ],
)
def test_impossible_geometry_is_refused(values, message):
    with pytest.raises(ValueError, match=message):
        Geometry(*values)


@pytest.mark.parametrize(
    ("distance_mm", "null_mm", "message"),
    [
        (222, (0, 120), "null radius must be above 0 mm and finite, not 0 mm"),
        (222, (66, -3), "null radius must be above 0 mm and finite, not -3 mm"),
        (0, (66, 120), "pivot_to_spindle_mm must be above 0 mm"),
        (20, (10, 300), "need a linear offset of 155 mm, which an arm of 58.3095 mm, mounted 20 mm"),
    ],
)
def test_nulls_that_no_arm_can_have_are_refused(distance_mm, null_mm, message):
    with pytest.raises(ValueError, match=message):
        geometry_from_nulls(pivot_to_spindle_mm=distance_mm, null_radii_mm=null_mm)
