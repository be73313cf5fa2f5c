"""An off-centre record against the plane geometry of spindle, pivot and groove, solved by root finding."""

import math

import numpy as np
import pytest
from scipy.optimize import brentq

from groovewright.simulate.deck import TrueDeck
from groovewright.simulate.groove import cut_groove
from groovewright.simulate.platter import groove_motion
from groovewright.testtone.sheet.band_sheet import Band, BandSheet
from groovewright.tonearm.geometry import Geometry
from groovewright.tonearm.tracking import groove_angle

RADIUS_MM, OFF_MM, START = 80.0, 1.5, math.radians(40.0)
ARM = Geometry(222.0, 239.3, 23.0)
TURN = 2 * math.pi * (100 / 3) / 60
GROOVE = cut_groove(
    BandSheet(False, 100 / 3, (Band("one", "tone", "lateral", (1000.0,), 5.0, (RADIUS_MM, RADIUS_MM), 0.0, 10.0),))
)


def bearing(point):
    return math.atan2(point[1], point[0])


def nearest_turn(angle, to):
    return angle + 2 * math.pi * round((to - angle) / (2 * math.pi))


def stylus(platter_angle, *, on_arc):
    """Place the stylus in the workshop's plane; the platter has turned clockwise by this angle.

    Returns the stylus, the grooves' centre and the pivot. With the platter at rest the line from the grooves' centre
    to the spindle has the bearing 0, and the stylus that of the start.
    """
    centre = OFF_MM * np.array([math.cos(math.pi - platter_angle), math.sin(math.pi - platter_angle)])
    opening = math.acos(
        (RADIUS_MM**2 + ARM.pivot_to_spindle_mm**2 - ARM.effective_length_mm**2)
        / (2 * RADIUS_MM * ARM.pivot_to_spindle_mm)
    )
    pivot = ARM.pivot_to_spindle_mm * np.array([math.cos(START + opening), math.sin(START + opening)])

    def on_the_path(along):
        if not on_arc:
            return along * np.array([math.cos(START), math.sin(START)])
        from_pivot = START + opening + math.pi + along / 1000
        return pivot + ARM.effective_length_mm * np.array([math.cos(from_pivot), math.sin(from_pivot)])

    def too_far_out(along):
        return float(np.hypot(*(on_the_path(along) - centre))) - RADIUS_MM

    span = (RADIUS_MM - 5, RADIUS_MM + 5)
    if on_arc:
        middle = brentq(lambda along: float(np.hypot(*on_the_path(along))) - RADIUS_MM, 0, 1000)
        span = (middle - 20, middle + 20)
    return on_the_path(brentq(too_far_out, *span, xtol=1e-12)), centre, pivot


@pytest.mark.parametrize("on_arc", [False, True])
def test_motion_in_the_groove_is_that_of_the_plane_geometry(on_arc):
    deck = TrueDeck(
        geometry=ARM, eccentricity_mm=OFF_MM, eccentricity_phase_deg=math.degrees(START), stylus_follows_arc=on_arc
    )
    time_s = np.array([0.0, 0.2, 0.55, 0.9, 1.3, 1.75])
    motion = groove_motion(time_s, GROOVE, deck)
    for i, platter_angle in enumerate(time_s * TURN):
        at, centre, pivot = stylus(platter_angle, on_arc=on_arc)
        along_groove = bearing(at - centre) + platter_angle - START
        assert motion.cut_time_s[i] * TURN == pytest.approx(
            nearest_turn(along_groove, motion.cut_time_s[i] * TURN), abs=1e-7
        )
        assert motion.stylus_radius_mm[i] == pytest.approx(np.hypot(*at), abs=1e-5)
        if on_arc:
            psi = nearest_turn(bearing(pivot - at) - bearing(at - centre) - math.pi / 2, 0.4)
            found = math.radians(
                float(
                    groove_angle(
                        motion.stylus_radius_mm[i],
                        effective_length_mm=ARM.effective_length_mm,
                        pivot_to_spindle_mm=ARM.pivot_to_spindle_mm,
                    )
                )
            )
            assert found + motion.tangent_turn_rad[i] == pytest.approx(psi, abs=1e-7)


@pytest.mark.parametrize("on_arc", [False, True])
def test_rate_is_the_slope_of_the_motion(on_arc):
    deck = TrueDeck(geometry=ARM, eccentricity_mm=OFF_MM, stylus_follows_arc=on_arc)
    time_s = np.linspace(0, 3, 50)
    step = 1e-4
    ahead, behind = (groove_motion(time_s + shift, GROOVE, deck).cut_time_s for shift in (step, -step))
    rate = groove_motion(time_s, GROOVE, deck).rate
    np.testing.assert_allclose(rate, (ahead - behind) / (2 * step), rtol=0, atol=1e-5)


def two_bands():
    """Return a groove that runs from 142 to 141 mm, and in half a second from there to 65 mm."""
    ends_mm = ((142.0, 141.0), (65.0, 64.0))
    bands = (Band(f"{k}", "tone", "lateral", (1e3,), 5.0, ends, 3.0 * k, 2.5) for k, ends in enumerate(ends_mm))
    return cut_groove(BandSheet(False, 100 / 3, tuple(bands)))


@pytest.mark.parametrize("on_arc", [False, True])
@pytest.mark.parametrize("off_mm", [0.0, 0.3])
def test_a_groove_is_met_at_the_radius_it_was_cut_at(on_arc, off_mm):
    spiral = two_bands()
    deck = TrueDeck(
        geometry=ARM, eccentricity_mm=off_mm, eccentricity_phase_deg=math.degrees(START), stylus_follows_arc=on_arc
    )
    time_s = np.linspace(0.01, 5.4, 41)
    motion = groove_motion(time_s, spiral, deck)

    def opening(radius_mm):
        length, mounting = ARM.effective_length_mm, ARM.pivot_to_spindle_mm
        return np.arccos((radius_mm**2 + mounting**2 - length**2) / (2 * radius_mm * mounting))

    # About the spindle: the platter's angle, and how far the arm has carried the stylus along since the first groove.
    carried = opening(motion.stylus_radius_mm) - opening(142.0) if on_arc else 0.0
    about_spindle = START + time_s * TURN - carried
    at = motion.stylus_radius_mm * np.exp(1j * about_spindle)
    # Turned back by the platter's angle, the grooves' centre lies where it did at rest.
    from_centre = at + off_mm
    radius_mm = spiral.radius_mm(motion.cut_time_s)
    along = np.angle(from_centre * np.exp(-1j * (START + motion.cut_time_s * TURN)))
    # In the steep groove between the bands, where nothing is heard, the place settles more slowly.
    heard = (radius_mm >= 141.0) | (radius_mm <= 65.0)
    assert heard.sum() > 30
    for where, atol in ((heard, 1e-9), (~heard, 1e-5)):
        np.testing.assert_allclose(np.abs(from_centre)[where], radius_mm[where], rtol=0, atol=atol)
        np.testing.assert_allclose(along[where], 0, rtol=0, atol=atol)
