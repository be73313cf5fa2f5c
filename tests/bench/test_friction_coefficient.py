"""Friction coefficient of stylus and groove from a reading of the rest, and from where a ladder breaks down."""

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from groovewright.bench.forces.side_force import (
    ReadAt,
    friction_coefficient_from_ladder,
    friction_coefficient_from_levels,
    friction_coefficient_from_rest,
    usual_friction_coefficient,
)
from groovewright.measurement.coverage import coverage_interval
from groovewright.measurement.quantity import Quantity
from groovewright.testtone.tracking.tracking_ability import Rung, breakdown_of
from groovewright.tonearm.geometry import Geometry
from groovewright.tonearm.side_force import side_force_mn, wall_loads_mn
from groovewright.tonearm.tracking import groove_angle

ARM = Geometry(222.0, 239.2961, 22.9855)


def measured(value, u, unit, source):
    return Quantity.measured(value, unit, standard_uncertainty=u, source=source)


def exact_at(radius_mm=100.0, force_mn=18.0, compensation_mn=1.5, **more):
    return ReadAt(
        radius_mm,
        pivot_to_spindle=Quantity.exact(222.0, "mm"),
        effective_length=Quantity.exact(239.2961, "mm"),
        tracking_force=Quantity.exact(force_mn, "mN"),
        compensation=Quantity.exact(compensation_mn, "mN"),
        **more,
    )


def rest_mn(coefficient, where):
    side = side_force_mn(
        where.radius_mm,
        geometry=ARM,
        tracking_force_mn=where.tracking_force.value,
        friction_coefficient=coefficient,
    )
    return float(side) - where.compensation.value


def loads_at(coefficient, where):
    angle_deg = groove_angle(where.radius_mm, effective_length_mm=239.2961, pivot_to_spindle_mm=222.0)
    return wall_loads_mn(rest_mn(coefficient, where), tracking_force_mn=18.0, groove_angle_deg=angle_deg)


@settings(max_examples=50, deadline=None)
@given(st.floats(0.1, 0.9), st.floats(60.325, 146.05), st.floats(10, 40), st.floats(0, 3))
def test_a_rest_gives_back_the_coefficient_that_made_it(coefficient, radius_mm, force_mn, compensation_mn):
    where = exact_at(radius_mm, force_mn, compensation_mn)
    found = friction_coefficient_from_rest(Quantity.exact(rest_mn(coefficient, where), "mN"), where)
    assert found.value == pytest.approx(coefficient)


def test_the_uncertainty_of_a_rest_becomes_that_of_the_coefficient():
    where = exact_at()
    found = friction_coefficient_from_rest(measured(rest_mn(0.3, where), 0.2, "mN", "gauge"), where)
    # Worked value: the sine of the groove angle is 0.3757 at 100 mm.
    assert found.standard_uncertainty == pytest.approx(0.2 / (18.0 * 0.3757), rel=2e-4)


def test_the_bearings_may_keep_up_to_their_friction_from_a_reading():
    where = exact_at(bearing_friction=Quantity.exact(0.3, "mN"))
    found = friction_coefficient_from_rest(Quantity.exact(rest_mn(0.3, where), "mN"), where)
    # Anything between either way is as likely: half the width over the root of three.
    assert found.standard_uncertainty == pytest.approx(0.3 / math.sqrt(3) / (18.0 * 0.3757), rel=2e-4)


def test_a_stray_force_is_not_taken_for_friction():
    where = exact_at(stray_force=Quantity.exact(0.4, "mN"))
    found = friction_coefficient_from_rest(Quantity.exact(rest_mn(0.3, where) + 0.4, "mN"), where)
    assert found.value == pytest.approx(0.3)


@settings(max_examples=50, deadline=None)
@given(st.floats(0.15, 0.6), st.floats(60.325, 146.05), st.floats(0.5, 3.0), st.floats(5, 40))
def test_levels_in_proportion_to_the_walls_give_back_the_coefficient(coefficient, radius_mm, compensation_mn, level):
    where = exact_at(radius_mm, 18.0, compensation_mn)
    loads = loads_at(coefficient, where)
    # The left channel is cut in the inner wall.
    left, right = (
        measured(level * float(load) / 18.0, 0.1, "cm/s", name)
        for load, name in ((loads.inner_mn, "left"), (loads.outer_mn, "right"))
    )
    assert friction_coefficient_from_levels(left=left, right=right, where=where).value == pytest.approx(coefficient)


def test_the_ladder_says_what_it_takes_for_granted():
    where = exact_at()
    found = friction_coefficient_from_levels(
        left=Quantity.exact(22.0, "cm/s"), right=Quantity.exact(20.0, "cm/s"), where=where
    )
    assert "our assumption, no source" in found.how
    # By hand: N tanh((p ln(22/20) + w) / 2), p of 1 +- 0.2 and w of 0 +- 0.05, near half its argument.
    # The walls' force turns the arm by the cosine of the groove angle, whose sine is 0.3757 here.
    slope = 18.0 / 2 * (1 - math.tanh(math.log(1.1) / 2) ** 2) * math.cos(math.asin(0.3757)) / (18.0 * 0.3757)
    u = slope * math.hypot(0.2 * math.log(1.1), 0.05)
    assert found.standard_uncertainty == pytest.approx(u, rel=2e-4)
    assert {source.label for source in found.components} >= {
        "how the load at which a wall is lost grows with the level",
        "difference between both walls in the load that a level needs",
    }


def test_intervals_from_ladders_hold_the_truth_as_often_as_they_say():
    rng = np.random.default_rng(20_261_126)
    ladders, held = 1000, 0
    for _ in range(ladders):
        coefficient, where = rng.uniform(0.25, 0.5), exact_at(radius_mm=rng.uniform(65, 140))
        loads = loads_at(coefficient, where)
        exponent, walls = rng.normal(1.0, 0.2), rng.normal(0.0, 0.05)
        # load = level^exponent, and the left wall needs less where `walls` is positive.
        logs = [math.log(float(loads.inner_mn)) - walls, math.log(float(loads.outer_mn))]
        levels = [2.0 * math.exp(log / exponent) for log in logs]
        left, right = (
            measured(level * (1 + 0.02 * rng.standard_normal()), 0.02 * level, "cm/s", name)
            for level, name in zip(levels, ("left", "right"), strict=True)
        )
        try:
            found = friction_coefficient_from_levels(left=left, right=right, where=where)
        except ValueError:
            # A ladder so far off that the coefficient would be negative is refused, and counts as a miss.
            continue
        low, high = coverage_interval(found)
        held += low <= coefficient <= high
    assert 0.93 <= held / ladders <= 0.97


def rungs(*, left_breaks_at, right_breaks_at, levels=(8.0, 12.0, 16.0, 20.0, 24.0)):
    return [
        Rung(
            f"{level:g} cm/s",
            level,
            {
                name: Quantity.exact(5.0 if level >= breaks_at else 0.1, "%")
                for name, breaks_at in (("left", left_breaks_at), ("right", right_breaks_at))
            },
        )
        for level in levels
    ]


def test_the_ladder_of_a_capture_gives_a_coefficient():
    ability = breakdown_of(rungs(left_breaks_at=20.0, right_breaks_at=16.0))
    found = friction_coefficient_from_ladder(ability, exact_at())
    by_levels = friction_coefficient_from_levels(
        left=ability.breakdown["left"], right=ability.breakdown["right"], where=exact_at()
    )
    assert (ability.breakdown["left"].value, ability.breakdown["right"].value) == (18.0, 14.0)
    assert found.value == by_levels.value
    # (N + W) / (N - W) = 18 / 14 makes W an eighth of N, and the rest that times the cosine of the groove angle.
    assert found.value == pytest.approx((18.0 / 8 * math.sqrt(1 - 0.3757**2) + 1.5) / (18.0 * 0.3757), rel=2e-4)


def test_a_ladder_that_one_channel_tracks_gives_none():
    ability = breakdown_of(rungs(left_breaks_at=99.0, right_breaks_at=16.0))
    with pytest.raises(
        ValueError, match="left channel tracks every level, up to 24 cm/s; a friction coefficient needs"
    ):
        friction_coefficient_from_ladder(ability, exact_at())


def test_what_is_usual_is_marked_as_common_practice():
    usual = usual_friction_coefficient()
    assert (usual.value, usual.how) == (pytest.approx(0.3), "common practice, no source")
    assert usual.standard_uncertainty == pytest.approx(0.2 / math.sqrt(12))


@pytest.mark.parametrize(
    ("change", "says"),
    [
        ({"pivot_to_spindle": Quantity.exact(222.0, "deg")}, "pivot-to-spindle distance must be given in mm"),
        ({"tracking_force": Quantity.exact(1.8, "g")}, "tracking force must be given in mN"),
        ({"tracking_force": Quantity.exact(0.0, "mN")}, "must be above 0 mN, not 0 mN"),
        ({"compensation": Quantity.exact(0.2, "g")}, "compensation must be given in mN"),
        ({"bearing_friction": Quantity.exact(0.2, "g")}, "bearings' friction must be given in mN"),
        ({"stray_force": Quantity.exact(0.2, "g")}, "stray force must be given in mN"),
        ({"radius_mm": 10.0}, "out of reach"),
        # An underhung arm whose arm line meets the groove's tangent near here.
        (
            {"radius_mm": 91.0, "effective_length": Quantity.exact(203.0, "mm")},
            "hardly draws the arm aside; read the side force at another radius",
        ),
    ],
)
def test_a_place_that_cannot_be_is_refused(change, says):
    with pytest.raises(ValueError, match=says):
        replace(exact_at(), **change)


def test_readings_that_cannot_be_are_refused():
    with pytest.raises(ValueError, match="rest that draws toward the spindle is positive"):
        friction_coefficient_from_rest(Quantity.exact(-2.0, "mN"), exact_at())
    with pytest.raises(ValueError, match="rest of side force must be given in mN"):
        friction_coefficient_from_rest(Quantity.exact(0.2, "g"), exact_at())
    with pytest.raises(ValueError, match="right channel breaks down must be given in cm/s"):
        friction_coefficient_from_levels(
            left=Quantity.exact(20, "cm/s"), right=Quantity.exact(20, "mm/s"), where=exact_at()
        )
    with pytest.raises(ValueError, match="left channel cannot break down at 0 cm/s"):
        friction_coefficient_from_levels(
            left=Quantity.exact(0, "cm/s"), right=Quantity.exact(20, "cm/s"), where=exact_at()
        )
