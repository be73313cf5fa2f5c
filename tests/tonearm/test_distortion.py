import math
import tomllib
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from groovewright.tonearm.criteria import minimax_null_radii
from groovewright.tonearm.distortion import (
    groove_speed,
    modulation_index,
    peak_tracking_error,
    second_harmonic_over_range,
    second_harmonic_percent,
    second_harmonic_ratio,
    velocity_harmonic_ratio,
)
from groovewright.tonearm.geometry import geometry_from_nulls

ARMS = tomllib.loads((Path(__file__).parents[1] / "published" / "geometry_arms.toml").read_text())
LP = {"innermost_mm": 60.325, "outermost_mm": 146.05}
LOUD = {"peak_velocity_cm_s": 10.0, "speed_rpm": 100 / 3}


def minimax_arm(distance_mm=222.0, **grooves):
    nulls = minimax_null_radii(**(grooves or LP))
    return geometry_from_nulls(pivot_to_spindle_mm=distance_mm, null_radii_mm=nulls)


def harmonics_of_the_solved_waveform(index, points=4096):
    """Solve u = sin(phase + index u) by Newton's method and return the complex velocity amplitudes."""
    phase = 2 * np.pi * np.arange(points) / points
    u = np.sin(phase)
    for _ in range(200):
        step = (u - np.sin(phase + index * u)) / (1 - index * np.cos(phase + index * u))
        u = u - np.clip(step, -0.2, 0.2)
    np.testing.assert_allclose(u, np.sin(phase + index * u), atol=1e-12)
    orders = np.arange(points // 2 + 1)
    return np.fft.rfft(u) * orders * 1j


@pytest.mark.parametrize("index", [0.5, -0.3, 0.0123, -0.0005])
def test_the_series_is_the_spectrum_of_the_solved_waveform(index):
    spectrum = harmonics_of_the_solved_waveform(index)
    for order in range(1, 7):
        ratio = float(velocity_harmonic_ratio(index, order=order))
        assert abs(spectrum[order] / spectrum[1]) == pytest.approx(abs(ratio), abs=1e-10)
    second = float(second_harmonic_ratio(index))
    assert abs(spectrum[2] / spectrum[1]) == pytest.approx(abs(second), abs=1e-10)


@pytest.mark.parametrize("index", [0.2, -0.2])
def test_the_sign_of_the_second_harmonic_is_in_its_phase(index):
    spectrum = harmonics_of_the_solved_waveform(index)
    # Phases of velocities as cosines: the first at angle 0 when u rises through 0.
    phase = np.angle(spectrum[2] * np.exp(-2j * np.angle(spectrum[1])))
    assert math.cos(phase) == pytest.approx(math.copysign(1, index), abs=1e-9)
    assert math.copysign(1, float(second_harmonic_ratio(index))) == math.copysign(1, index)


@settings(max_examples=50, deadline=None)
@given(st.floats(-0.999, 0.999))
def test_both_ways_to_the_second_harmonic_agree(index):
    bessel = float(velocity_harmonic_ratio(index, order=2))
    assert float(second_harmonic_ratio(index)) == pytest.approx(bessel, rel=1e-12, abs=1e-15)


def test_the_second_harmonic_is_the_index_to_first_order_and_rises_with_it():
    index = np.linspace(-0.99, 0.99, 397)
    ratio = second_harmonic_ratio(index)
    assert (np.diff(ratio) > 0).all()
    small = np.array([1e-6, -1e-4, 1e-3])
    np.testing.assert_allclose(second_harmonic_ratio(small), small, rtol=1e-6)
    assert second_harmonic_ratio(0.0) == 0
    np.testing.assert_array_equal(velocity_harmonic_ratio([0.0], order=3), [0.0])
    np.testing.assert_array_equal(velocity_harmonic_ratio([0.0, 0.4], order=1), [1.0, 1.0])


def test_the_worked_arm_has_its_printed_distortion():
    row = ARMS["by_distance"]
    percent = second_harmonic_percent(
        minimax_arm(),
        row["radius_mm"],
        peak_velocity_cm_s=row["peak_velocity_cm_s"],
        speed_rpm=100 / 3,
    )
    np.testing.assert_allclose(percent, row["second_harmonic_percent"], rtol=0, atol=row["distortion_printed_to"] / 2)


def test_the_largest_second_harmonic_of_a_minimax_arm_matches_the_printed_one():
    row = ARMS["largest_second_harmonic"]
    grooves = {"innermost_mm": row["groove_mm"][0], "outermost_mm": row["groove_mm"][1]}
    nulls = minimax_null_radii(**grooves)
    distance = math.sqrt(row["effective_length_mm"] ** 2 - nulls[0] * nulls[1])
    harmonic = second_harmonic_over_range(
        minimax_arm(distance, **grooves),
        peak_velocity_cm_s=row["rms_velocity_cm_s"] * math.sqrt(2),
        speed_rpm=100 / 3,
        **grooves,
    )
    half = row["printed_to"] / 2
    assert harmonic.peak_percent == pytest.approx(row["percent"], abs=half)
    # The second harmonic lies an octave above the first, so the equalisation takes one octave's slope from it.
    weighted = harmonic.peak_percent * 10 ** (-row["equalisation_db_per_octave"] / 20)
    assert weighted == pytest.approx(row["weighted_percent"], abs=half)


def test_groove_speeds_match_the_printed_ones():
    row = ARMS["groove_speed"]
    np.testing.assert_allclose(
        groove_speed(row["radius_mm"], speed_rpm=100 / 3), row["speed_mm_s"], rtol=0, atol=row["printed_to"] / 2
    )
    outer, inner = groove_speed(row["ratio_radius_mm"], speed_rpm=100 / 3)
    assert outer / inner == pytest.approx(row["ratio"], abs=row["ratio_printed_to"] / 2)


@settings(max_examples=30, deadline=None)
@given(st.floats(190, 320), st.tuples(st.floats(50, 75), st.floats(90, 130)))
def test_peak_and_rms_over_the_range_are_those_of_a_dense_curve(distance_mm, null_mm):
    arm = geometry_from_nulls(pivot_to_spindle_mm=distance_mm, null_radii_mm=null_mm)
    harmonic = second_harmonic_over_range(arm, **LP, **LOUD)
    radius = np.linspace(60.325, 146.05, 20001)
    dense = second_harmonic_percent(arm, radius, **LOUD)
    # The peak is placed within 2 um, which costs less than 1e-9 of it.
    assert harmonic.peak_percent >= np.abs(dense).max() * (1 - 1e-9)
    assert harmonic.peak_percent == pytest.approx(np.abs(dense).max(), rel=1e-7)
    mean_square = np.trapezoid(dense**2, radius) / (146.05 - 60.325)
    assert harmonic.rms_percent == pytest.approx(math.sqrt(mean_square), rel=1e-6)
    at_peak = second_harmonic_percent(arm, harmonic.peak_radius_mm, **LOUD)
    assert abs(float(at_peak)) == pytest.approx(harmonic.peak_percent, rel=1e-12)


def test_the_largest_tracking_error_is_found_between_grid_points():
    arm = minimax_arm()
    where, height = peak_tracking_error(arm, innermost_mm=75.0, outermost_mm=110.0)
    # Between the nulls the error is lowest at the square root of L^2 - D^2.
    lowest = math.sqrt(arm.effective_length_mm**2 - arm.pivot_to_spindle_mm**2)
    assert where == pytest.approx(lowest, abs=0.01)
    assert height == pytest.approx(-float(arm.tracking_error_deg(lowest)), rel=1e-9)


def test_distortion_grows_with_velocity_and_shrinks_with_speed():
    arm = minimax_arm()
    slow = second_harmonic_over_range(arm, **LP, peak_velocity_cm_s=10, speed_rpm=100 / 3)
    fast = second_harmonic_over_range(arm, **LP, peak_velocity_cm_s=10, speed_rpm=45)
    loud = second_harmonic_over_range(arm, **LP, peak_velocity_cm_s=20, speed_rpm=100 / 3)
    assert fast.peak_percent == pytest.approx(slow.peak_percent * (100 / 3) / 45, rel=1e-4)
    assert loud.rms_percent == pytest.approx(2 * slow.rms_percent, rel=1e-4)
    silent = second_harmonic_over_range(arm, **LP, peak_velocity_cm_s=0, speed_rpm=100 / 3)
    assert silent.peak_percent == silent.rms_percent == 0


@pytest.mark.parametrize("index", [1.0, -1.0, 3.0, math.nan])
def test_an_index_that_kepler_cannot_solve_is_refused(index):
    for ratio in (second_harmonic_ratio, lambda e: velocity_harmonic_ratio(e, order=2)):
        with pytest.raises(ValueError, match="needs an index between -1 and 1, not"):
            ratio([0.1, index])


@pytest.mark.parametrize(
    ("error_deg", "velocity_cm_s", "speed_rpm", "message"),
    [
        (
            80,
            30,
            100 / 3,
            "a tracking error of 80 deg at radius_mm 60 mm and 30 cm/s is steeper than a groove can be read",
        ),
        (1, -1, 100 / 3, "peak_velocity_cm_s must be 0 cm/s or more and finite, not -1 cm/s"),
        (1, 10, 0, "speed_rpm must be above 0 rpm and finite, not 0 rpm"),
        (1, 10, math.inf, "speed_rpm must be above 0 rpm"),
    ],
)
def test_what_no_groove_can_hold_is_refused(error_deg, velocity_cm_s, speed_rpm, message):
    with pytest.raises(ValueError, match=message):
        modulation_index(error_deg, radius_mm=60.0, peak_velocity_cm_s=velocity_cm_s, speed_rpm=speed_rpm)


@pytest.mark.parametrize("order", [0, -1, 1.5])
def test_the_order_of_a_harmonic_is_a_whole_number_from_one_on(order):
    with pytest.raises(ValueError, match=f"a whole number from 1 on, not {order}"):
        velocity_harmonic_ratio(0.1, order=order)


def test_a_range_out_of_reach_is_refused():
    with pytest.raises(ValueError, match="out of reach"):
        second_harmonic_over_range(minimax_arm(), innermost_mm=5.0, outermost_mm=146.05, **LOUD)
