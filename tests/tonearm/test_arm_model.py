import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import brentq, minimize_scalar
from scipy.spatial.transform import Rotation

from groovewright.tonearm.arm_build import usual_build
from groovewright.tonearm.arm_model import arm_balance, arm_state, couplings
from groovewright.tonearm.arm_state import ADJUSTERS, STATE, Adjustments
from groovewright.tonearm.geometry import Geometry
from groovewright.tonearm.headshell import place
from groovewright.tonearm.tracking_force import force_height_slope, tracking_force

GRAVITY = 9.80665
NINE_INCH = Geometry(222, 239.296, 22.9855)


@st.composite
def builds(draw, bearing=None, **fixed):
    bearing = bearing or draw(st.sampled_from(["gimbal", "unipivot"]))
    ways = ["cartridge", "arm tube"] + (["lateral weight"] if bearing == "unipivot" else [])
    length = draw(st.floats(180, 320))
    known = {
        "bearing": bearing,
        "axis": draw(st.sampled_from(["arm line", "cantilever axis"])),
        "pivot_height_mm": draw(st.floats(-10, 40)),
        "cartridge_mass_g": draw(st.floats(3, 20)),
        "cartridge_centre_forward_mm": draw(st.floats(-10, 5)),
        "cartridge_centre_up_mm": draw(st.floats(0, 15)),
        "counterweight_mass_g": draw(st.floats(30, 200)),
        "arm_mass_g": draw(st.floats(20, 100)),
        "centre_height_mm": draw(st.floats(-12, -5) if bearing == "unipivot" else st.floats(-12, 5)),
        "tracking_force_mn": draw(st.floats(12, 35)),
        "azimuth_deg": draw(st.floats(-3, 3)),
        "stylus_rake_angle_deg": draw(st.floats(86, 98)),
        "vertical_tracking_angle_deg": draw(st.floats(10, 35)),
        "turn_about": draw(st.sampled_from(["stylus", "screw"])),
        "screw_forward_mm": draw(st.floats(-15, -5)),
        "screw_outward_mm": draw(st.floats(-10, 10)),
        "roll_by": draw(st.sampled_from(ways)),
        "roll_axis_height_mm": draw(st.floats(0, 20)),
    }
    offset = draw(st.one_of(st.just(0.0), st.floats(10, 30)))
    return usual_build(Geometry(length - draw(st.floats(-20, 20)), length, offset), **(known | fixed))


# No farther than leaves weight on the stylus of every arm above.
ADJUSTED = st.builds(
    Adjustments,
    slide_mm=st.floats(-3, 3),
    turn_deg=st.floats(-5, 5),
    base_position_mm=st.floats(-5, 5),
    arm_height_mm=st.floats(-4, 4),
    counterweight_mm=st.floats(-0.1, 3),
    compensation_mn=st.floats(-1, 1),
    roll_deg=st.floats(-3, 3),
)


def state_by_points(build, moved):
    """The same arm as a cloud of points, turned by scipy, put on the record by root finding, its force by work."""
    along = Rotation.from_euler("z", -build.geometry.offset_angle_deg, degrees=True).apply([1.0, 0, 0])
    outward, up = np.cross([0, 0, 1.0], along), np.array([0, 0, 1.0])
    tip = np.array([build.geometry.effective_length_mm, 0, -build.pivot_height_mm])
    dip, rake = math.radians(build.vertical_tracking_angle_deg), math.radians(build.stylus_rake_angle_deg)
    leant = Rotation.from_rotvec(-build.azimuth_deg * along, degrees=True)
    of_cartridge = tip + np.array(
        [
            np.zeros(3),
            6 * (math.sin(dip) * up - math.cos(dip) * along),
            math.sin(rake) * up - math.cos(rake) * along,
            along,
            leant.apply(outward),
            leant.apply(up),
            build.cartridge_centre_forward_mm * along + build.cartridge_centre_up_mm * up,
        ]
    )
    centre = of_cartridge[6]
    total_g = build.arm_mass_g + build.counterweight_mass_g + build.cartridge_mass_g
    moment = np.array([build.tracking_force_mn * tip[0] / GRAVITY, 0, total_g * build.centre_height_mm])

    pin = tip + (build.turn_about == "screw") * (build.screw_forward_mm * along + build.screw_outward_mm * outward)
    turn = Rotation.from_rotvec([0, 0, -moved.turn_deg], degrees=True)
    points = pin + turn.apply(of_cartridge + moved.slide_mm * along - pin)
    if build.roll_by == "lateral weight":
        hang_mm = np.linalg.norm(np.cross(moment / total_g, tip)) / np.linalg.norm(tip)
        moment[1] += total_g * hang_mm * math.tan(math.radians(moved.roll_deg))
    else:
        axis = along if build.roll_by == "cartridge" else np.array([1.0, 0, 0])
        top = tip + build.roll_axis_height_mm * up
        points = top + Rotation.from_rotvec(-moved.roll_deg * axis, degrees=True).apply(points - top)
    moment += build.cartridge_mass_g * (points[6] - centre)
    moment[0] += build.counterweight_mass_g * moved.counterweight_mm

    hinge = outward if build.bearing == "gimbal" and build.axis == "cantilever axis" else np.array([0, 1.0, 0])

    def lying(drop_mm, roll_rad=0.0):
        rolled = Rotation.from_rotvec([roll_rad, 0, 0])

        def turned(pitch_rad):
            return Rotation.from_rotvec(pitch_rad * hinge) * rolled

        pitch_rad = brentq(lambda pitch: turned(pitch).apply(points[0])[2] + drop_mm, -0.7, 0.7, xtol=1e-14)
        return turned(pitch_rad)

    def resting(drop_mm):
        if build.bearing == "gimbal":
            return lying(drop_mm)
        energy = lambda roll: lying(drop_mm, roll).apply(moment)[2]  # noqa: E731
        low = minimize_scalar(energy, bounds=(-0.6, 0.6), method="bounded", options={"xatol": 1e-3}).x
        # A minimum is known to the root of the digits only; where its slope passes zero is known to far more.
        slope = lambda roll: energy(roll + 1e-3) - energy(roll - 1e-3)  # noqa: E731
        return lying(drop_mm, brentq(slope, low - 0.02, low + 0.02, xtol=1e-12))

    drop_mm = build.pivot_height_mm + moved.arm_height_mm
    arm = resting(drop_mm)
    step_mm = 0.05
    work = [GRAVITY * resting(drop_mm + rise).apply(moment)[2] for rise in (step_mm, -step_mm)]
    stylus, root, shank, front, side, top = arm.apply(points[:6])
    cantilever, shank = stylus - root, shank - stylus
    level = cantilever * [1, 1, 0] / np.linalg.norm(cantilever[:2])
    in_side_view = shank @ level, shank[2]
    body = Rotation.from_matrix(np.array([front - stylus, side - stylus, top - stylus]).T)
    plan = [math.degrees(math.atan2(vector[1], vector[0])) for vector in (stylus, cantilever)]
    return np.array(
        [
            np.linalg.norm(stylus[:2]),
            build.geometry.pivot_to_spindle_mm + moved.base_position_mm,
            plan[0] - plan[1],
            (work[1] - work[0]) / (2 * step_mm),
            build.compensation_mn + moved.compensation_mn,
            build.friction_coefficient,
            -body.as_euler("ZYX", degrees=True)[2],
            math.degrees(math.acos(-in_side_view[0] / np.hypot(*in_side_view))),
            math.degrees(math.asin(-cantilever[2] / np.linalg.norm(cantilever))),
        ]
    )


def by_differences(build, moved, step=1e-4):
    def at(shift):
        return arm_state(build, Adjustments.from_array(moved.as_array() + shift)).as_array()

    return np.array([(at(shift) - at(-shift)) / (2 * step) for shift in step * np.eye(len(ADJUSTERS))]).T


def coupling(matrix, quantity, adjuster):
    return matrix[STATE.index(quantity), ADJUSTERS.index(adjuster)]


@settings(max_examples=100, deadline=None)
@given(builds())
def test_an_arm_that_nobody_moved_stands_as_it_was_built(build):
    state = arm_state(build)
    assert state.effective_length_mm == pytest.approx(build.geometry.effective_length_mm, rel=1e-12)
    assert state.offset_angle_deg == pytest.approx(build.geometry.offset_angle_deg, abs=1e-10)
    assert state.pivot_to_spindle_mm == build.geometry.pivot_to_spindle_mm
    for name in STATE[3:]:
        assert getattr(state, name) == pytest.approx(getattr(build, name), abs=1e-10)


@settings(max_examples=200, deadline=None)
@given(builds(), ADJUSTED)
def test_couplings_are_the_derivatives_of_the_model(build, moved):
    # Central differences over 1e-4: their own error is below 1e-7 of the largest entry.
    np.testing.assert_allclose(couplings(build, moved), by_differences(build, moved), rtol=1e-6, atol=1e-6)


@settings(max_examples=30, deadline=None)
@given(builds(), ADJUSTED)
def test_the_model_agrees_with_points_turned_and_set_down_one_by_one(build, moved):
    # The force by work has the error of a central difference over 0.05 mm.
    allowed = np.array([1e-6, 1e-9, 1e-5, 1e-4, 1e-9, 1e-9, 1e-5, 1e-5, 1e-5])
    error = arm_state(build, moved).as_array() - state_by_points(build, moved)
    assert (np.abs(error) < allowed).all(), dict(zip(STATE, error, strict=True))


def test_four_millimetres_of_arm_height_tilt_a_229_mm_arm_by_one_degree():
    # physics.md 7: 4 mm on 229 mm, 1.00 degree; pivot as low as the stylus, as asin(dH / L) has it.
    build = usual_build(Geometry(212, 229, 0), pivot_height_mm=0)
    raised = arm_state(build, Adjustments(arm_height_mm=4))
    assert raised.stylus_rake_angle_deg - 92 == pytest.approx(1.00, abs=0.005)
    assert raised.vertical_tracking_angle_deg - 22 == pytest.approx(math.degrees(math.asin(4 / 229)), abs=1e-9)
    assert raised.azimuth_deg == pytest.approx(0, abs=1e-12)
    assert raised.effective_length_mm == pytest.approx(math.sqrt(229**2 - 4**2), abs=1e-9)


@pytest.mark.parametrize("pivot_height_mm", [-5, 0, 18, 40])
def test_a_high_pivot_tilts_the_arm_from_the_slant_it_already_had(pivot_height_mm):
    build = usual_build(Geometry(212, 229, 0), pivot_height_mm=pivot_height_mm)
    slant_mm = math.hypot(229, pivot_height_mm)
    tilt = math.asin((pivot_height_mm + 4) / slant_mm) - math.asin(pivot_height_mm / slant_mm)
    raised = arm_state(build, Adjustments(arm_height_mm=4))
    assert raised.vertical_tracking_angle_deg - 22 == pytest.approx(math.degrees(tilt), abs=1e-9)
    by_height = coupling(couplings(build), "effective_length_mm", "arm_height_mm")
    assert by_height == pytest.approx(-pivot_height_mm / 229, abs=1e-12)


@settings(max_examples=50, deadline=None)
@given(builds(bearing="gimbal", axis="cantilever axis", azimuth_deg=0.0))
def test_about_an_axis_square_to_the_cantilever_height_moves_the_offset_by_the_length_alone(build):
    length, offset = build.geometry.effective_length_mm, math.radians(build.geometry.offset_angle_deg)
    expected = math.degrees(build.pivot_height_mm / length**2 * math.tan(offset))
    assert coupling(couplings(build), "offset_angle_deg", "arm_height_mm") == pytest.approx(expected, abs=1e-12)


@settings(max_examples=50, deadline=None)
@given(builds(bearing="gimbal", axis="arm line", azimuth_deg=0.0))
def test_about_an_axis_square_to_the_arm_line_height_pitches_and_rolls(build):
    tilt = math.degrees(1 / build.geometry.effective_length_mm)
    offset, dip = math.radians(build.geometry.offset_angle_deg), math.radians(build.vertical_tracking_angle_deg)
    rows = couplings(build)
    for angle in ("stylus_rake_angle_deg", "vertical_tracking_angle_deg"):
        assert coupling(rows, angle, "arm_height_mm") == pytest.approx(tilt * math.cos(offset), abs=1e-12)
    assert coupling(rows, "azimuth_deg", "arm_height_mm") == pytest.approx(tilt * math.sin(offset), abs=1e-12)
    # A cantilever that dips is turned inward as the cartridge rolls, as seen from above.
    assert coupling(rows, "offset_angle_deg", "arm_height_mm") == pytest.approx(
        tilt * math.sin(offset) * math.tan(dip), abs=1e-12
    )


@settings(max_examples=50, deadline=None)
@given(builds(bearing="gimbal", axis="cantilever axis"), st.floats(-6, 6))
def test_about_an_axis_square_to_the_cantilever_height_only_pitches_and_by_more_than_the_arm_line_tilts(build, dh):
    level = replace(build, pivot_height_mm=0.0)
    length, offset = build.geometry.effective_length_mm, math.radians(build.geometry.offset_angle_deg)
    raised = arm_state(level, Adjustments(arm_height_mm=dh))
    # The stylus is only L cos(offset) from such an axis, so asin(dH / L) is the arm line's tilt, not the cartridge's.
    pitch = math.degrees(math.asin(dh / (length * math.cos(offset))))
    assert raised.vertical_tracking_angle_deg - build.vertical_tracking_angle_deg == pytest.approx(pitch, abs=1e-9)
    assert raised.stylus_rake_angle_deg - build.stylus_rake_angle_deg == pytest.approx(pitch, abs=1e-9)
    rows = couplings(replace(build, azimuth_deg=0.0))
    assert coupling(rows, "azimuth_deg", "arm_height_mm") == pytest.approx(0, abs=1e-12)


def test_by_how_much_the_cartridge_pitches_more_than_the_arm_line_tilts():
    # 4 mm on 229 mm at 23 degrees of offset: 1.00 degree of tilt and 1.09 degrees of pitch.
    build = usual_build(Geometry(212, 229, 23), pivot_height_mm=0, axis="cantilever axis")
    raised = arm_state(build, Adjustments(arm_height_mm=4))
    assert raised.vertical_tracking_angle_deg - 22 == pytest.approx(1.087, abs=0.0005)
    assert raised.azimuth_deg == pytest.approx(0, abs=1e-12)


@settings(max_examples=50, deadline=None)
@given(builds(), st.floats(-6, 6))
def test_effective_length_shortens_as_pivot_and_stylus_leave_level(build, dh):
    slant = math.hypot(build.geometry.effective_length_mm, build.pivot_height_mm)
    raised = arm_state(build, Adjustments(arm_height_mm=dh))
    assert raised.effective_length_mm == pytest.approx(math.sqrt(slant**2 - (build.pivot_height_mm + dh) ** 2))


@settings(max_examples=50, deadline=None)
@given(builds(bearing="gimbal"), st.floats(-8, 8), st.floats(-5, 5))
def test_a_cartridge_slid_along_its_own_axis_keeps_its_linear_offset(build, dx, turned_deg):
    turned = arm_state(build, Adjustments(turn_deg=turned_deg))
    slid = arm_state(build, Adjustments(slide_mm=dx, turn_deg=turned_deg))
    length, offset = turned.effective_length_mm, math.radians(turned.offset_angle_deg)
    expected = math.sqrt(length**2 + 2 * length * dx * math.cos(offset) + dx**2)
    assert slid.effective_length_mm == pytest.approx(expected, abs=1e-9)
    linear_offset = length * math.sin(offset)
    assert slid.effective_length_mm * math.sin(math.radians(slid.offset_angle_deg)) == pytest.approx(
        linear_offset, abs=1e-9
    )
    assert coupling(couplings(build), "effective_length_mm", "slide_mm") == pytest.approx(
        math.cos(math.radians(build.geometry.offset_angle_deg)), abs=1e-12
    )


@settings(max_examples=50, deadline=None)
@given(builds(bearing="gimbal", turn_about="stylus"), st.floats(-8, 8))
def test_a_cartridge_turned_about_its_stylus_changes_the_offset_angle_alone(build, dz):
    turned = arm_state(build, Adjustments(turn_deg=dz))
    assert turned.offset_angle_deg == pytest.approx(build.geometry.offset_angle_deg + dz, abs=1e-9)
    assert turned.effective_length_mm == pytest.approx(build.geometry.effective_length_mm, abs=1e-9)


@settings(max_examples=50, deadline=None)
@given(builds(bearing="gimbal", turn_about="screw"), st.floats(-8, 8))
def test_a_cartridge_turned_about_a_screw_takes_its_stylus_along(build, dz):
    # In the plan with complex numbers: inward is the negative imaginary direction.
    length, offset = build.geometry.effective_length_mm, math.radians(build.geometry.offset_angle_deg)
    axis = complex(math.cos(offset), -math.sin(offset))
    screw = length + axis * complex(build.screw_forward_mm, build.screw_outward_mm)
    turn = complex(math.cos(math.radians(dz)), -math.sin(math.radians(dz)))
    stylus = screw + turn * (length - screw)
    turned = arm_state(build, Adjustments(turn_deg=dz))
    assert turned.effective_length_mm == pytest.approx(abs(stylus), abs=1e-9)
    angle = np.degrees(np.angle(stylus) - np.angle(axis * turn))
    assert turned.offset_angle_deg == pytest.approx(angle, abs=1e-9)


@settings(max_examples=50, deadline=None)
@given(builds(bearing="gimbal", axis="arm line"))
def test_a_moved_mass_changes_the_force_by_its_moment_less_what_the_longer_lever_takes(build):
    rows = couplings(build)
    length, offset = build.geometry.effective_length_mm, math.radians(build.geometry.offset_angle_deg)
    by_weight = build.counterweight_mass_g * GRAVITY / length
    assert coupling(rows, "tracking_force_mn", "counterweight_mm") == pytest.approx(by_weight, rel=1e-12)
    # Sliding the cartridge also takes the stylus farther out, where the same moment presses less.
    by_slide = (build.cartridge_mass_g * GRAVITY - build.tracking_force_mn) * math.cos(offset) / length
    assert coupling(rows, "tracking_force_mn", "slide_mm") == pytest.approx(by_slide, rel=1e-9, abs=1e-12)


def test_a_cartridge_slid_one_millimetre_forward():
    # 7 g at 18 mN: 7 x 9.80665 less 18, times cos(22.9855) / 239.296, mN.
    rows = couplings(usual_build(NINE_INCH, cartridge_mass_g=7, tracking_force_mn=18))
    assert coupling(rows, "tracking_force_mn", "slide_mm") == pytest.approx(0.1948, abs=0.00005)
    assert coupling(rows, "effective_length_mm", "slide_mm") == pytest.approx(0.9206, abs=0.00005)


@settings(max_examples=50, deadline=None)
@given(builds(bearing="gimbal"), st.floats(-4, 4))
def test_force_changes_with_height_as_the_rigid_arm_on_an_axis_does(build, dh):
    balance = arm_balance(build)
    slope = coupling(couplings(build), "tracking_force_mn", "arm_height_mm")
    assert slope == pytest.approx(-force_height_slope(balance), rel=1e-9, abs=1e-12)
    # Raising the arm lowers the stylus before it: N(theta) at the angle that reaches so far down.
    low = brentq(
        lambda t: (
            balance.stylus_forward_mm * math.sin(t) - balance.stylus_down_mm * math.cos(t) + balance.stylus_down_mm + dh
        ),
        -0.7,
        0.7,
        xtol=1e-13,
    )
    lowered = float(tracking_force(math.degrees(low), balance))
    assert arm_state(build, Adjustments(arm_height_mm=dh)).tracking_force_mn == pytest.approx(lowered, rel=1e-9)


@pytest.mark.parametrize("bearing", ["gimbal", "unipivot"])
def test_with_the_centre_of_mass_below_the_axis_the_force_rises_with_the_record(bearing):
    build = usual_build(NINE_INCH, bearing=bearing, centre_height_mm=-8)
    thicker = replace(build, record_thickness_mm=build.record_thickness_mm + 1)
    assert arm_state(thicker).tracking_force_mn > arm_state(build).tracking_force_mn


@settings(max_examples=50, deadline=None)
@given(builds(), st.floats(1.5, 2.5), ADJUSTED)
def test_a_thicker_record_is_an_arm_set_lower(build, thickness_mm, moved):
    played = replace(build, record_thickness_mm=thickness_mm)
    height = moved.arm_height_mm - (thickness_mm - build.known_at_thickness_mm)
    lower = arm_state(build, replace(moved, arm_height_mm=height))
    np.testing.assert_allclose(arm_state(played, moved).as_array(), lower.as_array(), rtol=1e-12, atol=1e-9)


def test_a_unipivot_rolls_until_its_weight_hangs_below_the_line_to_the_stylus():
    # Flat arm: weight and stylus level with the pivot but for 8 mm, so lateral moment over m x hang is the roll.
    build = usual_build(Geometry(222, 239.296, 0), bearing="unipivot", pivot_height_mm=0, centre_height_mm=-8)
    turned = arm_state(build, Adjustments(turn_deg=2))
    outward_mm = 6 * math.sin(math.radians(2)) * 7 / build.moving_mass_g
    assert turned.azimuth_deg == pytest.approx(math.degrees(math.atan(outward_mm / 8)), abs=2e-4)
    rolled = arm_state(build, Adjustments(roll_deg=1.5))
    assert rolled.azimuth_deg == pytest.approx(1.5, abs=1e-9)


def test_sliding_an_offset_cartridge_forward_rolls_a_unipivot():
    # Forward is also inward: the weight there lets the arm's top lean inward.
    rows = couplings(usual_build(NINE_INCH, bearing="unipivot", centre_height_mm=-8))
    assert -0.2 < coupling(rows, "azimuth_deg", "slide_mm") < -0.05
    gimbal = couplings(usual_build(NINE_INCH))
    assert coupling(gimbal, "azimuth_deg", "slide_mm") == 0


def test_positive_roll_lets_a_right_cut_into_the_left_output_in_phase():
    # Left moves outward and up, right outward and down, as IEC 60098 has them.
    build = usual_build(Geometry(239.296, 239.296, 0))
    left, right = np.array([0, 1, 1]) / math.sqrt(2), np.array([0, 1, -1]) / math.sqrt(2)
    generator = place(build, Adjustments(roll_deg=2)).turned
    assert (generator @ left) @ right == pytest.approx(math.sin(math.radians(2)), abs=1e-12)
    assert (generator @ right) @ left == pytest.approx(-math.sin(math.radians(2)), abs=1e-12)
    assert arm_state(build, Adjustments(roll_deg=2)).azimuth_deg == pytest.approx(2, abs=1e-12)


def test_a_rolled_cartridge_points_its_dipping_cantilever_inward():
    # About an axis through the stylus, nothing else moves: tan(turn) = tan(22) sin(1) in the plan.
    build = usual_build(NINE_INCH, roll_axis_height_mm=0, vertical_tracking_angle_deg=22)
    rolled = arm_state(build, Adjustments(roll_deg=1))
    expected = math.degrees(math.atan(math.tan(math.radians(22)) * math.sin(math.radians(1))))
    assert rolled.offset_angle_deg - build.geometry.offset_angle_deg == pytest.approx(expected, abs=1e-9)
    assert expected == pytest.approx(0.404, abs=0.0005)


@settings(max_examples=50, deadline=None)
@given(builds())
def test_what_an_adjuster_cannot_move_it_leaves_alone(build):
    rows = couplings(build)
    assert not rows[STATE.index("friction_coefficient")].any()
    for quantity, adjuster in (
        ("pivot_to_spindle_mm", "base_position_mm"),
        ("compensation_mn", "compensation_mn"),
    ):
        alone = np.zeros(len(ADJUSTERS))
        alone[ADJUSTERS.index(adjuster)] = 1
        np.testing.assert_array_equal(rows[STATE.index(quantity)], alone)
        column = np.zeros(len(STATE))
        column[STATE.index(quantity)] = 1
        np.testing.assert_array_equal(rows[:, ADJUSTERS.index(adjuster)], column)


@settings(max_examples=50, deadline=None)
@given(builds(bearing="gimbal"))
def test_a_straight_arm_couples_less(build):
    straight = replace(build, geometry=replace(build.geometry, offset_angle_deg=0.0), azimuth_deg=0.0)
    rows = couplings(straight)
    assert coupling(rows, "effective_length_mm", "slide_mm") == pytest.approx(1, abs=1e-12)
    assert coupling(rows, "offset_angle_deg", "slide_mm") == pytest.approx(0, abs=1e-12)
    assert coupling(rows, "azimuth_deg", "arm_height_mm") == pytest.approx(0, abs=1e-12)
    assert coupling(rows, "offset_angle_deg", "arm_height_mm") == pytest.approx(0, abs=1e-12)
    # Both directions of the axis are one.
    other = {"arm line": "cantilever axis", "cantilever axis": "arm line"}[build.axis]
    np.testing.assert_allclose(couplings(replace(straight, axis=other)), rows, atol=1e-12)


@settings(max_examples=50, deadline=None)
@given(builds(pivot_height_mm=0.0))
def test_with_the_pivot_as_low_as_the_stylus_height_does_not_shorten_the_arm(build):
    assert coupling(couplings(build), "effective_length_mm", "arm_height_mm") == pytest.approx(0, abs=1e-12)


@pytest.mark.parametrize(
    ("known", "moved", "said"),
    [
        ({}, Adjustments(arm_height_mm=230), "stylus does not come to lie on the record"),
        ({"bearing": "unipivot"}, Adjustments(arm_height_mm=-260), "stylus does not come to lie on the record"),
        ({}, Adjustments(counterweight_mm=45), "cannot be moved 45 mm toward it"),
        ({}, Adjustments(counterweight_mm=-10), "no weight is left on the stylus"),
        ({}, Adjustments(roll_deg=50), "keep it below 45 deg"),
        ({"bearing": "unipivot", "centre_height_mm": -0.5}, Adjustments(counterweight_mm=20), "falls on its side"),
    ],
)
def test_an_arm_that_cannot_stand_so_is_refused(known, moved, said):
    build = usual_build(NINE_INCH, **known)
    for compute in (arm_state, couplings):
        with pytest.raises(ValueError, match=said):
            compute(build, moved)
