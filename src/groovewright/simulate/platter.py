"""How far the groove has run past the stylus at any moment: speed, drift, wow, flutter and an off-centre record."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from groovewright.simulate.deck import TrueDeck
from groovewright.simulate.groove import CutGroove
from groovewright.simulate.rough import Wander
from groovewright.tonearm.tracking import groove_angle

SETTLING_ROUNDS = 7
"""In which groove, stylus and arm settle on one place; each is a hundred times nearer than the one before, and in the
steep groove between two bands ten times."""


@dataclass(frozen=True)
class GrooveMotion:
    """Where the stylus stands in the groove, at moments of the playing.

    Attributes
    ----------
    cut_time_s : ndarray
        Moment of the cutting that now passes the stylus. [s]
    rate : ndarray
        Seconds of cutting per second of playing; 1 at nominal speed.
    stylus_radius_mm : ndarray
        Spindle to stylus. [mm]
    tangent_turn_rad : ndarray
        How far an off-centre record turns the groove's tangent, counted with the tracking error. [rad]
    """

    cut_time_s: NDArray[np.float64]
    rate: NDArray[np.float64]
    stylus_radius_mm: NDArray[np.float64]
    tangent_turn_rad: NDArray[np.float64]


def groove_motion(
    time_s: NDArray[np.float64], groove: CutGroove, deck: TrueDeck, wander: Wander | None = None
) -> GrooveMotion:
    """Return where the stylus stands in the groove at moments of the playing.

    Every part is integrated in closed form, so that no error gathers over a long side and any moment can be asked
    for alone.

    Parameters
    ----------
    time_s : ndarray
        Since the start of the recording. [s]
    groove : CutGroove
        Cut at its nominal speed about its own centre.
    deck : TrueDeck
        Whose platter turns and on whose spindle the record may lie off centre.
    wander : Wander, optional
        How its speed wanders besides.
    """
    turn_rate = 2 * math.pi * groove.speed_rpm / 60
    angle, rate = _platter(time_s, turn_rate, deck)
    if wander is not None:
        ahead_s, faster = wander.passed(time_s)
        angle, rate = angle + turn_rate * ahead_s, rate + faster
    if not (deck.eccentricity_mm or deck.moves_on_arc):
        cut_time_s = angle / turn_rate
        return GrooveMotion(cut_time_s, rate, groove.radius_mm(cut_time_s), np.zeros_like(rate))
    return _off_centre(angle, rate, turn_rate, groove, deck)


def _platter(
    time_s: NDArray[np.float64], turn_rate: float, deck: TrueDeck
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return the platter's angle since the start in radians, and its speed over the nominal one."""
    error, drift = deck.speed_error_percent / 100, deck.drift_percent_per_minute / 100 / 60
    mean_time = time_s * (1 + error) + drift / 2 * time_s**2
    mean_rate = 1 + error + drift * time_s
    turned, rate = mean_time.copy(), mean_rate.copy()
    for part in deck.flutter:
        omega, phase = 2 * math.pi * part.frequency_hz, math.radians(part.phase_deg)
        turned += part.peak_percent / 100 / omega * (np.sin(omega * time_s + phase) - math.sin(phase))
        rate += part.peak_percent / 100 * np.cos(omega * time_s + phase)
    for locked in deck.platter_flutter:
        omega, phase = locked.cycles_per_turn * turn_rate, math.radians(locked.phase_deg)
        turned += locked.peak_percent / 100 / omega * (np.sin(omega * mean_time + phase) - math.sin(phase))
        rate += locked.peak_percent / 100 * np.cos(omega * mean_time + phase) * mean_rate
    return turn_rate * turned, rate


def _off_centre(
    angle: NDArray[np.float64], rate: NDArray[np.float64], turn_rate: float, groove: CutGroove, deck: TrueDeck
) -> GrooveMotion:
    # Triangle of grooves' centre, spindle and stylus: the bearing about the centre lags that about the spindle by
    # asin(e/r sin(bearing)), and the stylus stands e cos(bearing) nearer the spindle.
    eccentricity, start = deck.eccentricity_mm, math.radians(deck.eccentricity_phase_deg)
    cut_time_s, bearing = angle / turn_rate, angle + start
    nominal = _arm_bearing(np.array([groove.radii_mm[0]]), deck) if deck.moves_on_arc else 0.0
    # The groove has the radius that it was cut with there, and what passes the stylus hangs on the radius in turn.
    for _ in range(SETTLING_ROUNDS):
        groove_radius = groove.radius_mm(cut_time_s)
        if deck.moves_on_arc:
            distance = _spindle_distance(groove_radius, eccentricity, bearing)
            bearing = angle + start - (_arm_bearing(distance, deck) - nominal)
        lag = np.arcsin(eccentricity / groove_radius * np.sin(bearing))
        cut_time_s = (bearing - start - lag) / turn_rate
    groove_radius = groove.radius_mm(cut_time_s)
    sine, cosine = np.sin(bearing), np.cos(bearing)
    bearing_rate = rate
    distance = _spindle_distance(groove_radius, eccentricity, bearing)
    if deck.moves_on_arc:
        true = deck.true_geometry
        assert true is not None
        psi = np.radians(
            groove_angle(
                distance,
                effective_length_mm=true.effective_length_mm,
                pivot_to_spindle_mm=true.pivot_to_spindle_mm,
            )
        )
        # As the stylus moves outward, the arc carries it along the groove by tan(psi) of that.
        outward_per_rad = eccentricity * sine * (1 - eccentricity * cosine / (groove_radius * np.cos(lag)))
        bearing_rate = rate / (1 - np.tan(psi) / distance * outward_per_rad)
    lag_rate = eccentricity / groove_radius * cosine / np.cos(lag) * bearing_rate
    return GrooveMotion(cut_time_s, bearing_rate - lag_rate, distance, lag)


def _spindle_distance(
    groove_radius: NDArray[np.float64], eccentricity: float, bearing: NDArray[np.float64]
) -> NDArray[np.float64]:
    across = eccentricity * np.sin(bearing)
    return np.asarray(np.sqrt(groove_radius**2 - across**2) - eccentricity * np.cos(bearing))


def _arm_bearing(distance: NDArray[np.float64], deck: TrueDeck) -> NDArray[np.float64]:
    """Return the angle at the spindle between stylus and pivot, by the cosine rule. [rad]"""
    true = deck.true_geometry
    assert true is not None
    length, mounting = true.effective_length_mm, true.pivot_to_spindle_mm
    return np.asarray(np.arccos((distance**2 + mounting**2 - length**2) / (2 * distance * mounting)))
