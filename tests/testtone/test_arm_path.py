"""What a pivoted arm's path adds to speed and eccentricity, against plane geometry solved by root finding."""

import math
from dataclasses import replace

import numpy as np
import pytest
from scipy.optimize import brentq

from groovewright.measurement.quantity import Quantity
from groovewright.simulate.deck import TrueDeck
from groovewright.simulate.groove import cut_groove
from groovewright.simulate.platter import groove_motion
from groovewright.testtone.sheet.band_sheet import Band, BandSheet
from groovewright.testtone.speed.arm_path import (
    carried_along_rad,
    on_a_radius,
    swing_lag_rad,
    swing_radius_mm,
    twice_per_turn_rad,
    with_doubt_of_the_arm,
)
from groovewright.testtone.speed.speed import speed_of
from groovewright.testtone.tones.demodulation import Baseband
from groovewright.tonearm.geometry import Geometry

ARM = Geometry(222.0, 239.2961, 22.9855)
LONGER = replace(ARM, effective_length_mm=ARM.effective_length_mm + 2.0)
RPM = 100 / 3
TURN_HZ = RPM / 60
SPEED_ERROR = 0.001
OFF_MM, PITCH_MM = 0.2, 0.18
RATE_HZ, SECONDS = 100, 20.0


def played_rad(arm, *, start_mm, off_mm, pitch_mm, seconds=SECONDS, rate_hz=RATE_HZ):
    """Return how far along its spiral a groove has passed the stylus, and the platter's angle.

    Seen from above, the platter turns clockwise; the stylus stands at (start_mm, 0) at first and the pivot behind it.
    With the platter at rest the grooves' centre lies toward the stylus.
    """
    length, mounting = arm.effective_length_mm, arm.pivot_to_spindle_mm
    opening = math.acos((start_mm**2 + mounting**2 - length**2) / (2 * start_mm * mounting))
    pivot = mounting * np.array([math.cos(opening), math.sin(opening)])
    first = math.atan2(-pivot[1], start_mm - pivot[0])
    platter = 2 * math.pi * TURN_HZ * (1 + SPEED_ERROR) * np.arange(round(seconds * rate_hz)) / rate_hz
    swing, found = 0.0, []
    for turned in platter:
        centre = off_mm * np.array([math.cos(turned), -math.sin(turned)])

        def at(swing, centre=centre):
            stylus = pivot + length * np.array([math.cos(first + swing), math.sin(first + swing)]) - centre
            return math.hypot(*stylus), math.atan2(stylus[1], stylus[0])

        def too_far_out(swing, at=at, turned=turned):
            distance, bearing = at(swing)
            return distance - (start_mm - pitch_mm * (bearing + turned) / (2 * math.pi))

        swing = brentq(too_far_out, swing - 0.02, swing + 0.02, xtol=1e-14)
        found.append(at(swing)[1] + turned)
    return np.array(found), platter


def heard(along_rad, hz=3150.0):
    """Return the tone that was cut at an even angle along the groove."""
    t = np.arange(along_rad.size) / RATE_HZ
    phase = hz / TURN_HZ * along_rad - 2 * np.pi * hz * t
    return Baseband(RATE_HZ, np.exp(1j * phase), 0.0, hz, 45.0, (0.0, 0.0))


@pytest.mark.parametrize("radius_mm", [60.325, 92.0, 146.05])
@pytest.mark.parametrize("arm", [ARM, Geometry(293.0, 307.0, 17.6), Geometry(222.0, 204.0, 0.0)])
def test_the_swing_of_an_off_centre_record_is_e_over_r_and_the_cosine_of_the_groove_angle(radius_mm, arm):
    turn_s = 1 / TURN_HZ / (1 + SPEED_ERROR)
    along, platter = played_rad(arm, start_mm=radius_mm, off_mm=0.01, pitch_mm=0.0, seconds=turn_s, rate_hz=40 / turn_s)
    assert along.size == 40
    # The swing of the angle along the groove is that of the relative speed, since it turns with the platter.
    swing = 2 * abs(np.mean((along - platter) * np.exp(-1j * platter)))
    assert swing == pytest.approx(0.01 / float(swing_radius_mm(radius_mm, arm)), rel=1e-4)


def test_the_swing_is_eight_percent_wider_at_23_degrees():
    assert 100.0 / float(swing_radius_mm(100.0, ARM)) == pytest.approx(1.079, abs=0.0005)
    assert float(swing_radius_mm(100.0, None)) == 100.0


@pytest.mark.parametrize("radius_mm", [60.325, 92.0, 146.05])
@pytest.mark.parametrize("arm", [ARM, Geometry(293.0, 307.0, 17.6), Geometry(222.0, 204.0, 0.0)])
def test_twice_a_turn_the_swing_is_what_plane_geometry_gives(radius_mm, arm):
    # 0.5 mm off centre, so that what is left of higher orders is a few thousandths of the second.
    turn_s = 1 / TURN_HZ / (1 + SPEED_ERROR)
    along, platter = played_rad(arm, start_mm=radius_mm, off_mm=0.5, pitch_mm=0.0, seconds=turn_s, rate_hz=40 / turn_s)
    first, second = (2 * np.mean((along - platter) * np.exp(-1j * n * platter)) for n in (1, 2))
    # A swing of the angle along the groove is a swing of the speed a quarter turn ahead.
    pair = float(swing_radius_mm(radius_mm, arm)) * np.array([(1j * first).real, -(1j * first).imag])
    found = twice_per_turn_rad(np.full(platter.size, radius_mm), platter, pair, arm)
    assert 2 * np.mean(found * np.exp(-2j * platter)) == pytest.approx(second, abs=0.01 * abs(second))


def test_the_pitch_of_the_groove_makes_a_tone_slow():
    along, platter = played_rad(ARM, start_mm=145.0, off_mm=0.0, pitch_mm=PITCH_MM, seconds=18.0)
    radius_mm = 145.0 - PITCH_MM * along / (2 * math.pi)
    np.testing.assert_allclose(platter - along, carried_along_rad(radius_mm, ARM), rtol=0, atol=1e-11)
    assert (along[-1] / platter[-1] - 1) * 100 == pytest.approx(-0.0090, abs=0.0002)


def test_a_platter_that_flutters_turns_as_it_does_once_the_pitch_is_taken_out():
    # 1 % of 2 Hz, so that a groove that went inward evenly in time would be beside the truth by 0.001 rad.
    t = np.arange(round(SECONDS * RATE_HZ)) / RATE_HZ
    along = 2 * np.pi * TURN_HZ * (t + 0.01 * np.sin(4 * np.pi * t) / (4 * np.pi))
    radius_mm = 145.0 - PITCH_MM * along / (2 * math.pi)
    platter = along + carried_along_rad(radius_mm, ARM)
    found = on_a_radius(
        heard(along), nominal_hz=3150.0, speed_rpm=RPM, radius_mm=(radius_mm[0], radius_mm[-1]), geometry=ARM
    )
    straight = heard(platter)
    assert np.abs(np.angle(found.samples / straight.samples)).max() < 1e-9


@pytest.mark.parametrize("start_mm", [145.0, 65.0])
def test_speed_and_eccentricity_of_a_spiral_played_by_a_pivoted_arm(start_mm):
    along, _ = played_rad(ARM, start_mm=start_mm, off_mm=OFF_MM, pitch_mm=PITCH_MM)
    radius_mm = (start_mm, start_mm - PITCH_MM * along[-1] / (2 * math.pi))
    found = speed_of(heard(along), 3150, RPM, radius_mm=radius_mm, geometry=ARM)
    assert found.speed_error.value == pytest.approx(100 * SPEED_ERROR, abs=0.0001)
    assert found.eccentricity.value == pytest.approx(OFF_MM, abs=0.0005)
    # As for an arm that moves along a radius, both are wrong by what their uncertainty then allows for.
    plain = speed_of(heard(along), 3150, RPM, radius_mm=radius_mm)
    assert plain.speed_error.value < 100 * SPEED_ERROR - 0.005
    assert plain.eccentricity.value > 1.07 * OFF_MM
    doubted = with_doubt_of_the_arm(
        plain.speed_error, plain.eccentricity, radius_mm=radius_mm, turns=plain.fit.turns, geometry=None
    )
    for quantity, truth in zip(doubted, (100 * SPEED_ERROR, OFF_MM), strict=True):
        assert 1 < abs(quantity.value - truth) / quantity.standard_uncertainty < 1.96


@pytest.mark.parametrize("start_mm", [145.0, 65.0])
def test_an_arm_two_millimetres_longer_than_its_target_is_one_standard_uncertainty_off(start_mm):
    along, _ = played_rad(LONGER, start_mm=start_mm, off_mm=OFF_MM, pitch_mm=PITCH_MM)
    radius_mm = (start_mm, start_mm - PITCH_MM * along[-1] / (2 * math.pi))
    of_target, of_arm = (
        speed_of(heard(along), 3150, RPM, radius_mm=radius_mm, geometry=geometry) for geometry in (ARM, LONGER)
    )
    doubted = with_doubt_of_the_arm(
        Quantity.exact(of_target.speed_error.value, "%"),
        Quantity.exact(of_target.eccentricity.value, "mm"),
        radius_mm=radius_mm,
        turns=of_target.fit.turns,
        geometry=ARM,
    )
    for quantity, truth in zip(doubted, (of_arm.speed_error, of_arm.eccentricity), strict=True):
        (contribution,) = quantity.components.values()
        assert quantity.value - truth.value == pytest.approx(contribution, rel=0.1)


def test_a_simulated_arm_moves_on_its_arc_unless_told_otherwise():
    assert TrueDeck(geometry=ARM).moves_on_arc
    assert not TrueDeck().moves_on_arc
    assert not TrueDeck(geometry=ARM, stylus_follows_arc=False).moves_on_arc


def test_the_simulated_groove_is_read_as_plane_geometry_has_it():
    band = Band("one", "tone", "lateral", (3150.0,), 5.0, (145.0, 143.0), 0.0, SECONDS)
    groove = cut_groove(BandSheet(False, RPM, (band,)))
    deck = TrueDeck(geometry=ARM, speed_error_percent=100 * SPEED_ERROR, eccentricity_mm=OFF_MM)
    along, _ = played_rad(ARM, start_mm=145.0, off_mm=OFF_MM, pitch_mm=2.0 / (SECONDS * TURN_HZ))
    motion = groove_motion(np.arange(along.size) / RATE_HZ, groove, deck)
    theirs, ours = (
        speed_of(heard(angle), 3150, RPM, radius_mm=(145.0, 143.0), geometry=ARM)
        for angle in (2 * np.pi * TURN_HZ * motion.cut_time_s, along)
    )
    assert theirs.speed_error.value == pytest.approx(ours.speed_error.value, abs=1e-5)
    assert theirs.eccentricity.value == pytest.approx(ours.eccentricity.value, abs=1e-4)


def test_an_arm_out_of_reach_is_refused():
    along = 2 * np.pi * TURN_HZ * np.arange(1000) / RATE_HZ
    with pytest.raises(ValueError, match="out of reach"):
        speed_of(heard(along), 3150, RPM, radius_mm=(16.0, 15.0), geometry=ARM)


def test_a_speed_without_uncertainty_stays_so():
    unknown = Quantity.unknown_uncertainty(0.1, "%", why="too short")
    error, eccentricity = with_doubt_of_the_arm(unknown, None, radius_mm=(145.0, 144.0), turns=1.0, geometry=ARM)
    assert error == unknown
    assert eccentricity is None


@pytest.mark.parametrize("arm", [ARM, Geometry(293.0, 307.0, 17.6), Geometry(222.0, 204.0, 0.0)])
def test_the_swing_of_an_off_centre_record_lags_as_the_arm_goes_inward(arm):
    # A groove as wide as no record's brings the arm across the side in twenty turns, of which each tells a phase.
    turn_s, turns, steps, start_mm, pitch_mm = 1 / TURN_HZ / (1 + SPEED_ERROR), 20, 40, 145.0, 4.0
    spiral = {"start_mm": start_mm, "pitch_mm": pitch_mm, "seconds": turns * turn_s, "rate_hz": steps / turn_s}
    along, platter = played_rad(arm, off_mm=0.01, **spiral)
    centred, _ = played_rad(arm, off_mm=0.0, **spiral)
    each_turn = ((along - centred) * np.exp(-1j * platter)).reshape(turns, steps).mean(axis=1)
    radius_mm = start_mm - pitch_mm * centred.reshape(turns, steps).mean(axis=1) / (2 * math.pi)
    lag = -np.unwrap(np.angle(each_turn / each_turn[0]))
    # The pitch itself turns the swing by up to its own slope against the groove.
    slope = pitch_mm / (2 * math.pi * radius_mm[-1])
    np.testing.assert_allclose(swing_lag_rad(radius_mm, arm), lag, rtol=0, atol=slope)
    assert np.abs(lag).max() > 10 * slope
