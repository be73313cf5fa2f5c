import math

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from groovewright.tonearm.compensation import (
    NEAREST_GUIDE_MM,
    ConstantCompensation,
    TableCompensation,
    ThreadCompensation,
    arm_bearing,
)
from groovewright.tonearm.geometry import Geometry

ARM = Geometry(222.0, 239.2961, 22.9855)
THREAD = {
    "geometry": ARM,
    "weight_mass_g": 2.5,
    "lever_mm": 20.0,
    "lever_angle_deg": -90.0,
    "guide_distance_mm": 40.0,
    "guide_angle_deg": 5.0,
    "guide_height_mm": 3.0,
}
THREADS = st.builds(
    ThreadCompensation,
    geometry=st.builds(lambda d, o: Geometry(d, d + o, 0.0), st.floats(180, 320), st.floats(-20, 25)),
    weight_mass_g=st.floats(0.2, 10),
    lever_mm=st.floats(3, 40),
    lever_angle_deg=st.floats(-360, 360),
    guide_distance_mm=st.floats(3, 80),
    guide_angle_deg=st.floats(-360, 360),
    guide_height_mm=st.floats(-30, 30),
)


def thread_length_mm(thread, bearing_deg):
    """Independent: both ends as points in space, with the arm at a bearing from the line pivot-spindle."""
    tied = math.radians(bearing_deg + thread.lever_angle_deg)
    guide = math.radians(thread.guide_angle_deg)
    end = np.array([thread.lever_mm * math.cos(tied), thread.lever_mm * math.sin(tied), 0.0])
    over = thread.guide_distance_mm * np.array([math.cos(guide), math.sin(guide), 0.0])
    over[2] = thread.guide_height_mm
    return float(np.linalg.norm(over - end))


@settings(max_examples=150, deadline=None)
@given(THREADS, st.floats(57.5, 146.3))
def test_thread_pulls_by_the_work_that_its_weight_does(thread, radius_mm):
    bearing_deg = float(arm_bearing(radius_mm, geometry=thread.geometry))
    step_deg = 1e-3
    assume(thread_length_mm(thread, bearing_deg) > 5)
    # The weight sinks by as much as the thread between lever and guide grows shorter.
    shorter_mm = thread_length_mm(thread, bearing_deg - step_deg) - thread_length_mm(thread, bearing_deg + step_deg)
    work_mn_mm = thread.weight_mass_g * 9.80665 * shorter_mm
    way_mm = thread.geometry.effective_length_mm * math.radians(2 * step_deg)
    found = float(thread.force_mn(radius_mm))
    largest = thread.weight_mass_g * 9.80665 * thread.lever_mm / thread.geometry.effective_length_mm
    assert found == pytest.approx(work_mn_mm / way_mm, abs=1e-6 * largest)


def test_thread_does_over_the_record_the_work_that_the_weight_gives():
    thread = ThreadCompensation(**THREAD)
    radii_mm = np.linspace(60.325, 146.05, 2001)
    bearings = arm_bearing(radii_mm, geometry=ARM)
    way_mm = ARM.effective_length_mm * np.radians(bearings)
    work = np.trapezoid(thread.force_mn(radii_mm), way_mm)
    sunk_mm = thread_length_mm(thread, bearings[0]) - thread_length_mm(thread, bearings[-1])
    assert sunk_mm > 1
    assert work == pytest.approx(2.5 * 9.80665 * sunk_mm, rel=1e-6)


def test_thread_square_to_its_lever_pulls_with_the_ratio_of_the_levers():
    # The guide is far off, in the direction in which the lever's end moves at this radius.
    bearing = float(arm_bearing(100.0, geometry=ARM))
    far = {"guide_distance_mm": 1e6, "guide_angle_deg": bearing, "guide_height_mm": 0.0}
    thread = ThreadCompensation(**THREAD | far)
    assert float(thread.force_mn(100.0)) == pytest.approx(2.5 * 9.80665 * 20.0 / 239.2961, rel=1e-4)


def test_a_guide_on_the_other_side_pulls_inward():
    assert float(ThreadCompensation(**THREAD | {"lever_angle_deg": 90.0}).force_mn(100.0)) < 0


def test_bearing_closes_the_triangle():
    bearing = np.radians(arm_bearing([60.325, 100.0, 146.05], geometry=ARM))
    stylus = ARM.effective_length_mm * np.stack([np.cos(bearing), np.sin(bearing)])
    spindle = np.array([[ARM.pivot_to_spindle_mm], [0.0]])
    np.testing.assert_allclose(np.hypot(*(stylus - spindle)), [60.325, 100.0, 146.05], rtol=1e-12)


@pytest.mark.parametrize(
    ("change", "says"),
    [
        ({"weight_mass_g": 0.0}, "mass of the weight must be above 0 g"),
        ({"weight_mass_g": math.nan}, "mass of the weight"),
        ({"lever_mm": -20.0}, "lever of the thread must be above 0 mm and finite, not -20 mm"),
        ({"guide_distance_mm": 0.0}, "distance of the guide must be above 0 mm"),
        ({"lever_angle_deg": 361.0}, "angle of the lever lies between -360 and 360 deg, not at 361 deg"),
        ({"guide_angle_deg": math.nan}, "angle of the guide"),
        ({"guide_height_mm": math.inf}, "height of the guide must be finite"),
    ],
)
def test_impossible_threads_are_refused(change, says):
    with pytest.raises(ValueError, match=says):
        ThreadCompensation(**THREAD | change)


def test_a_lever_that_meets_its_guide_is_refused():
    bearing = float(arm_bearing(100.0, geometry=ARM))
    meeting = {"guide_distance_mm": 20.0 + NEAREST_GUIDE_MM / 2, "guide_angle_deg": bearing - 90.0}
    thread = ThreadCompensation(**THREAD | meeting | {"guide_height_mm": 0.0})
    with pytest.raises(ValueError, match=r"within 0\.25 mm of the guide"):
        thread.force_mn([60.0, 100.0])


def test_a_thread_at_a_radius_out_of_reach_is_refused():
    with pytest.raises(ValueError, match="out of reach"):
        ThreadCompensation(**THREAD).force_mn(10.0)


def test_constant_is_the_same_everywhere():
    assert ConstantCompensation(1.9).force_mn([60.0, 100.0]).tolist() == [1.9, 1.9]
    with pytest.raises(ValueError, match="must be finite"):
        ConstantCompensation(math.nan)


def test_table_gives_its_own_values_and_straight_lines_between():
    table = TableCompensation((60.0, 100.0, 147.0), (1.8, 2.0, 1.5))
    assert table.force_mn([60.0, 80.0, 100.0, 147.0]).tolist() == [1.8, 1.9, 2.0, 1.5]
    assert table.force_mn(123.5).item() == pytest.approx(1.75)


@pytest.mark.parametrize("radius_mm", [59.9, 147.1, math.nan])
def test_table_says_nothing_beyond_its_ends(radius_mm):
    with pytest.raises(ValueError, match="runs from 60 to 147 mm and says nothing of"):
        TableCompensation((60.0, 147.0), (1.8, 2.0)).force_mn([100.0, radius_mm])


@pytest.mark.parametrize(
    ("radii", "forces", "says"),
    [
        ((60.0,), (1.8,), "two radii or more"),
        ((), (), "two radii or more"),
        ((60.0, 100.0), (1.8,), "not 2 radii and 1 forces"),
        ((100.0, 60.0), (1.8, 1.9), "60 mm comes after 100 mm"),
        ((60.0, 60.0), (1.8, 1.9), "give each radius once"),
        ((0.0, 60.0), (1.8, 1.9), "above 0 mm, not 0 mm"),
        ((60.0, math.nan), (1.8, 1.9), "must be finite"),
        ((60.0, 100.0), (1.8, math.inf), "must be finite"),
    ],
)
def test_a_table_that_is_none_is_refused(radii, forces, says):
    with pytest.raises(ValueError, match=says):
        TableCompensation(radii, forces)
