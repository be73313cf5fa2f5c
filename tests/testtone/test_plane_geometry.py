"""The skew of a lateral and of a vertical tone from the plane geometry of stylus and groove, solved by root finding."""

import math

import numpy as np
import pytest
from scipy.optimize import brentq
from scipy.special import jv

from groovewright.simulate.deck import TrueDeck
from groovewright.simulate.recording import simulate_recording
from groovewright.testtone.sheet.band_sheet import Band, BandSheet
from groovewright.tonearm.geometry import Geometry

RADIUS_MM = 80.0
TURN_PER_S = 2 * math.pi / 1.8
SPEED_MM_S = TURN_PER_S * RADIUS_MM
HZ = 1000.0
OMEGA = 2 * math.pi * HZ
VELOCITY_MM_S = 60.0
SWING_MM = VELOCITY_MM_S / OMEGA
INSTANTS_S = np.arange(48) / 48 / HZ
CANTILEVER_MM = 7.0


def along_with_record(rise_mm, angle_deg):
    """How far a tip on a cantilever that slopes down along the record's motion is carried on as it rises."""
    slope = math.radians(angle_deg)
    risen = math.asin(math.sin(slope) - rise_mm / CANTILEVER_MM)
    return CANTILEVER_MM * (math.cos(risen) - math.cos(slope))


def height_where_cut(place_mm, cutting_angle_deg):
    """Height of the groove where the record, which runs past V t, carries this place; the cutter is a tip as well."""

    def ahead_mm(time_s):
        rise_mm = SWING_MM * math.sin(OMEGA * time_s)
        return SPEED_MM_S * time_s - along_with_record(rise_mm, cutting_angle_deg) - place_mm

    time_s = brentq(ahead_mm, place_mm / SPEED_MM_S - 1e-3, place_mm / SPEED_MM_S + 1e-3, xtol=1e-15)
    return SWING_MM * math.sin(OMEGA * time_s)


def rise_of_stylus(time_s, playing_angle_deg, cutting_angle_deg):
    """How high the tip stands, over the amplitude of the cutting."""

    def above_groove_mm(rise_mm):
        place_mm = SPEED_MM_S * time_s - along_with_record(rise_mm, playing_angle_deg)
        return rise_mm - height_where_cut(place_mm, cutting_angle_deg)

    return brentq(above_groove_mm, -1.01 * SWING_MM, 1.01 * SWING_MM, xtol=1e-13) / SWING_MM


def swing_of_stylus(time_s, arm):
    """How far the tip is moved along the generator's lateral axis, over the amplitude of the cutting.

    Seen from above, the spindle in the origin, the stylus at rest on the x axis and the platter turning clockwise, so
    that the record runs past toward -y and the arm's pivot, behind the stylus, has y above 0.
    """
    length_mm, mounting_mm = arm.effective_length_mm, arm.pivot_to_spindle_mm
    pivot_x = (RADIUS_MM**2 + mounting_mm**2 - length_mm**2) / (2 * RADIUS_MM)
    pivot = complex(pivot_x, math.sqrt(mounting_mm**2 - pivot_x**2))
    arm_line = (RADIUS_MM - pivot) / length_mm
    # An offset turns the cantilever, seen from above, from the arm's line toward the spindle.
    cantilever = arm_line * np.exp(-1j * math.radians(arm.offset_angle_deg))
    outward = cantilever * 1j

    def beside_groove_mm(swing_mm):
        tip = RADIUS_MM + swing_mm * outward
        # The cutter, on the x axis, wrote what now lies there; what lies at a larger angle it wrote later.
        written_s = time_s + np.angle(tip) / TURN_PER_S
        return abs(tip) - RADIUS_MM - SWING_MM * math.sin(OMEGA * written_s)

    return brentq(beside_groove_mm, -1.1 * SWING_MM, 1.1 * SWING_MM, xtol=1e-13) / SWING_MM


def kepler(time_s, e):
    return brentq(lambda u: u - math.sin(OMEGA * time_s + e * u), -1.1, 1.1, xtol=1e-13)


def signed_second_harmonic(velocity_lines):
    """Second harmonic over the first, from the spectrum of a period of the velocity."""
    first, second = velocity_lines[1:3]
    return float((second / first**2 * abs(first)).real)


def of_displacement(waveform):
    lines = np.fft.rfft(waveform)
    return signed_second_harmonic(1j * np.arange(lines.size) * lines)


def simulated(cut, deck):
    """Signed second harmonic of the left channel in a recording of that deck."""
    band = Band("tone", "tone", cut, (HZ,), VELOCITY_MM_S / 10, (RADIUS_MM, RADIUS_MM), 0.0, 0.3)
    recording = simulate_recording(BandSheet(False, 100 / 3, (band,)), deck, sample_rate_hz=48_000)
    return signed_second_harmonic(np.fft.rfft(recording.read(4800, 48)[:, 0]))


@pytest.mark.parametrize("cutting_deg", [20.0, 25.0])
@pytest.mark.parametrize("error_deg", [6.0, -5.0])
def test_a_steep_cantilever_reads_a_vertical_tone_as_stated(cutting_deg, error_deg):
    e = (
        VELOCITY_MM_S
        / SPEED_MM_S
        * (math.tan(math.radians(cutting_deg + error_deg)) - math.tan(math.radians(cutting_deg)))
    )
    rises = [rise_of_stylus(time_s, cutting_deg + error_deg, cutting_deg) for time_s in INSTANTS_S]
    # What the tip's arc differs from a straight line is less than a thousandth of the swing.
    np.testing.assert_allclose(rises, [kepler(time_s, -e) for time_s in INSTANTS_S], atol=5e-4)
    found = of_displacement(rises)
    assert found == pytest.approx(-float(jv(2, 2 * e) / jv(1, e)), rel=0.01)
    deck = TrueDeck(vertical_tracking_angle_error_deg=error_deg, vertical_cutting_angle_deg=cutting_deg)
    assert simulated("vertical", deck) == pytest.approx(found, rel=0.01)


@pytest.mark.parametrize("zenith_error_deg", [4.0, -4.0])
def test_an_arm_that_needs_more_offset_reads_a_lateral_tone_as_stated(zenith_error_deg):
    target = Geometry(222.0, 239.2961, 22.9855)
    deck = TrueDeck(geometry=target, zenith_error_deg=zenith_error_deg)
    alpha = math.radians(float(deck.tracking_error_deg(RADIUS_MM)))
    assert alpha * zenith_error_deg < 0
    e = VELOCITY_MM_S / SPEED_MM_S * math.tan(alpha)
    swings = [swing_of_stylus(time_s, deck.true_geometry) for time_s in INSTANTS_S]
    # What lies outward on the record is what the generator's axis gives, times the cosine of the tracking error.
    expected = [kepler(time_s, e) / math.cos(alpha) for time_s in INSTANTS_S]
    np.testing.assert_allclose(swings, expected, atol=5e-4)
    found = of_displacement(swings)
    assert found == pytest.approx(float(jv(2, 2 * e) / jv(1, e)), rel=0.01)
    assert simulated("lateral", deck) == pytest.approx(found, rel=0.01)
