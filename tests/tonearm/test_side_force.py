import math
import tomllib
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from groovewright.tonearm.geometry import Geometry
from groovewright.tonearm.side_force import (
    least_side_force_radius,
    side_force_at_angle,
    side_force_mn,
    wall_force_mn,
    wall_loads_mn,
)
from groovewright.tonearm.tracking import groove_angle

PUBLISHED = tomllib.loads((Path(__file__).parents[1] / "published" / "side_force.toml").read_text("utf-8"))
FORM, COURSE = PUBLISHED["form"], PUBLISHED["course"]
ARM = Geometry(COURSE["pivot_to_spindle_mm"], COURSE["effective_length_mm"], COURSE["offset_angle_deg"])

ARMS = st.builds(
    lambda distance, overhang: Geometry(distance, distance + overhang, 0.0), st.floats(180, 320), st.floats(-20, 25)
)
RADII = st.floats(57.5, 146.3)
FORCES = st.floats(5, 60)
COEFFICIENTS = st.floats(0.01, 0.9)


def test_the_sin_form_is_reported():
    found = side_force_at_angle(
        FORM["groove_angle_deg"],
        tracking_force_mn=FORM["tracking_force_mn"],
        friction_coefficient=FORM["friction_coefficient"],
    )
    assert float(found) == pytest.approx(FORM["side_force_mn"], abs=FORM["printed_to_mn"] / 2)
    assert float(found) < FORM["tan_form_mn"] - 0.2


@pytest.mark.parametrize("row", COURSE["rows"], ids=lambda row: f"{row[0]} mm")
def test_course_over_the_groove_matches_the_worked_values(row):
    radius_mm, sine, printed_to = row
    # With a drag of 1 mN the force is the sine itself.
    found = side_force_mn(radius_mm, geometry=ARM, tracking_force_mn=1.0, friction_coefficient=1.0)
    assert float(found) == pytest.approx(sine, abs=printed_to / 2)


@settings(max_examples=60, deadline=None)
@given(ARMS, RADII, FORCES, COEFFICIENTS)
def test_it_turns_the_arm_as_the_drag_along_the_groove_does(arm, radius_mm, force_mn, coefficient):
    # Independent: pivot and stylus as points beside the spindle, and the moment of the drag about the pivot.
    distance, length = arm.pivot_to_spindle_mm, arm.effective_length_mm
    pivot = np.array([distance, 0.0])
    x = (distance**2 + radius_mm**2 - length**2) / (2 * distance)
    stylus = np.array([x, -math.sqrt(radius_mm**2 - x**2)])
    # Clockwise from above: the groove runs with (y, -x) at (x, y). The pivot lies to the right, the arm in front.
    drag = coefficient * force_mn * np.array([stylus[1], -stylus[0]]) / radius_mm
    lever = stylus - pivot
    moment = lever[0] * drag[1] - lever[1] * drag[0]
    # Toward the spindle is the sense in which the stylus comes nearer to it.
    inward = math.copysign(1.0, lever[0] * -stylus[1] - lever[1] * -stylus[0])
    found = float(side_force_mn(radius_mm, geometry=arm, tracking_force_mn=force_mn, friction_coefficient=coefficient))
    assert found * length == pytest.approx(inward * moment, abs=1e-9 * force_mn * length)


def test_an_underhung_arm_is_drawn_outward_near_the_spindle():
    found = side_force_mn([60, 140], geometry=Geometry(240, 222, 0), tracking_force_mn=20, friction_coefficient=0.3)
    assert found[0] < 0 < found[1]
    assert least_side_force_radius(Geometry(240, 222, 0)) is None


@settings(max_examples=40, deadline=None)
@given(st.floats(180, 320), st.floats(5, 25))
def test_least_side_force_lies_where_it_is_said_to(distance_mm, overhang_mm):
    arm = Geometry(distance_mm, distance_mm + overhang_mm, 0.0)
    least_mm = least_side_force_radius(arm)
    assert least_mm is not None
    sides = side_force_mn(
        least_mm + np.array([-1.0, 0.0, 1.0]), geometry=arm, tracking_force_mn=1, friction_coefficient=1
    )
    assert sides[1] < min(sides[0], sides[2])


@settings(max_examples=60, deadline=None)
@given(ARMS, RADII, FORCES, st.floats(-0.8, 0.8))
def test_wall_loads_hold_the_stylus_in_balance(arm, radius_mm, force_mn, share):
    # Independent: pivot and stylus as points beside the spindle; the walls push along the record's radius, and their
    # moment about the pivot balances that of the rest, which acts square to the line pivot-stylus.
    rest_mn = share * force_mn
    distance, length = arm.pivot_to_spindle_mm, arm.effective_length_mm
    x = (distance**2 + radius_mm**2 - length**2) / (2 * distance)
    stylus = np.array([x, -math.sqrt(radius_mm**2 - x**2)])
    lever = stylus - np.array([distance, 0.0])
    outward = stylus / radius_mm
    per_mn = abs(lever[0] * outward[1] - lever[1] * outward[0])
    pushed_mn = rest_mn * length / per_mn
    angle_deg = float(groove_angle(radius_mm, effective_length_mm=length, pivot_to_spindle_mm=distance))
    loads = wall_loads_mn(rest_mn, tracking_force_mn=force_mn, groove_angle_deg=angle_deg)
    inner, outer = float(loads.inner_mn), float(loads.outer_mn)
    # Walls at 45 degrees: both push up, the inner one outward and the outer one inward.
    assert (inner + outer) / math.sqrt(2) == pytest.approx(force_mn)
    assert (inner - outer) / math.sqrt(2) == pytest.approx(pushed_mn, abs=1e-9)


def test_uncompensated_walls_feel_the_drag_times_the_tangent_of_the_groove_angle():
    drag_mn, angle_deg = 0.3 * 18.0, 23.0
    rest_mn = drag_mn * math.sin(math.radians(angle_deg))
    found = wall_force_mn(rest_mn, groove_angle_deg=angle_deg)
    assert float(found) == pytest.approx(drag_mn * math.tan(math.radians(angle_deg)))
    assert float(found) / rest_mn == pytest.approx(1.0864, abs=1e-4)


@pytest.mark.parametrize("angle_deg", [90.0, -90.0, 120.0, math.nan])
def test_no_wall_holds_an_arm_that_points_along_the_radius(angle_deg):
    with pytest.raises(ValueError, match="groove angles under 90 deg"):
        wall_force_mn(1.0, groove_angle_deg=angle_deg)


def test_too_little_compensation_unloads_the_outer_wall():
    loads = wall_loads_mn([-1.0, 0.0, 1.0], tracking_force_mn=18.0, groove_angle_deg=23.0)
    assert loads.outer_mn[2] < loads.outer_mn[1] < loads.outer_mn[0]
    assert loads.inner_mn[0] < loads.inner_mn[1] < loads.inner_mn[2]


@pytest.mark.parametrize(
    ("angle", "force", "coefficient", "says"),
    [
        (23, 0, 0.3, "tracking force must be above 0 mN"),
        (23, -18, 0.3, "not -18 mN"),
        (23, math.nan, 0.3, "tracking force must be above 0 mN"),
        (23, 18, -0.1, "friction coefficient must be 0 or more"),
        (23, 18, math.inf, "friction coefficient must be 0 or more"),
        (91, 18, 0.3, "between -90 and 90 deg, not at 91 deg"),
        (math.nan, 18, 0.3, "not at nan deg"),
    ],
)
def test_impossible_forces_are_refused(angle, force, coefficient, says):
    with pytest.raises(ValueError, match=says):
        side_force_at_angle(angle, tracking_force_mn=force, friction_coefficient=coefficient)


def test_a_radius_out_of_reach_is_refused():
    with pytest.raises(ValueError, match="out of reach"):
        side_force_mn(10, geometry=ARM, tracking_force_mn=18, friction_coefficient=0.3)


@pytest.mark.parametrize(
    ("rest", "force", "says"),
    [
        (18.0, 18.0, "push the stylus up a wall"),
        (-40.0, 18.0, "-40 mN would push the stylus up a wall"),
        (math.nan, 18.0, "push the stylus up a wall"),
        (1.0, 0.0, "tracking force must be above 0 mN"),
    ],
)
def test_a_rest_that_lifts_the_stylus_off_a_wall_is_refused(rest, force, says):
    with pytest.raises(ValueError, match=says):
        wall_loads_mn(rest, tracking_force_mn=force, groove_angle_deg=0.0)
