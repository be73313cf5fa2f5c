"""The plan is to scale: what is drawn keeps the triangle of spindle, pivot and stylus."""

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from groovewright.bench.targets.targets import TargetRequest, choose_targets
from groovewright.measurement.quantity import Quantity
from groovewright.web.choose.plan import draw_plan, stylus_position


def targets(distance_mm, criterion="minimax"):
    distance = Quantity.measured(distance_mm, "mm", standard_uncertainty=0.3, source="rule")
    return choose_targets(TargetRequest(distance, criterion, 60.325, 146.05))


@settings(max_examples=40, deadline=None)
@given(distance_mm=st.floats(180, 320), radius_mm=st.floats(60.325, 146.05))
def test_the_stylus_stands_on_the_groove_and_at_arms_length(distance_mm, radius_mm):
    plan = draw_plan(targets(distance_mm), radius_mm)
    assert math.hypot(*plan.stylus) == pytest.approx(radius_mm, abs=1e-9)
    assert math.dist(plan.pivot, plan.stylus) == pytest.approx(plan.geometry.effective_length_mm, abs=1e-9)
    assert math.hypot(*plan.pivot) == pytest.approx(distance_mm, abs=1e-9)


@settings(max_examples=40, deadline=None)
@given(radius_mm=st.floats(60.325, 146.05))
def test_the_drawn_cartridge_leaves_the_groove_by_the_tracking_error(radius_mm):
    plan = draw_plan(targets(222.0), radius_mm)
    axis_deg = plan.bearing_deg + plan.geometry.offset_angle_deg
    # A clockwise platter carries the groove square to the radius, downward at the right of the screen.
    groove_deg = math.degrees(math.atan2(plan.stylus[1], plan.stylus[0])) + 90
    drawn_error_deg = (groove_deg - axis_deg + 180) % 360 - 180
    assert drawn_error_deg == pytest.approx(float(plan.geometry.tracking_error_deg(radius_mm)), abs=1e-9)


def test_the_nulls_stand_on_the_arc():
    plan = draw_plan(targets(222.0), 100.0)
    assert [radius for radius, _ in plan.nulls] == pytest.approx([65.998, 120.891], abs=0.0005)
    assert all(at == stylus_position(plan.geometry, radius) for radius, at in plan.nulls)


def test_all_of_the_arm_is_in_the_picture():
    plan = draw_plan(targets(300.0), 146.05)
    assert plan.left < plan.pivot[0] < plan.left + plan.width
    assert plan.top < plan.pivot[1] < plan.top + plan.height
