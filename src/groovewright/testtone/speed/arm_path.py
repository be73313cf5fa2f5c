"""What the path of a pivoted arm's stylus adds to the speed that a tone seems to have.

A stylus that the groove pushes outward by dr moves on the circle about the arm's pivot, so it also goes along the
groove by tan(groove angle) dr. A record off centre by e pushes it to and fro by e, a quarter turn out of step with the
swing e/r that the groove itself makes, so the speed swings by e / (r cos(groove angle)). The groove's pitch pulls it
inward all the time, which makes every tone play slow by some thousandths of a percent.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import ArrayLike, NDArray

from groovewright.measurement.quantity import Quantity, Source
from groovewright.testtone.tones.demodulation import Baseband
from groovewright.tonearm.geometry import Geometry
from groovewright.tonearm.tracking import groove_angle

BEARING_STEP_MM = 0.5
"""Over which the bearing's slope and bend with the radius are told; both change little over millimetres. [mm]"""

LARGEST_GROOVE_ANGLE_DEG = 26.0
"""Usual pivoted arms stay below this; how far an unknown arm may be from one that moves along a radius. [deg]"""

USUAL_LENGTH_ERROR_MM = 2.0
"""Standard uncertainty of an arm's effective length about its target, before anything is known of it. [mm]"""

NO_GEOMETRY = "geometry of the arm, not given"
LENGTH_UNKNOWN = "effective length of the arm against its target"


def swing_radius_mm(radius_mm: ArrayLike, geometry: Geometry | None) -> NDArray[np.float64]:
    """Return what an eccentricity is to be divided by for the peak of the speed's once-per-turn swing.

    Parameters
    ----------
    radius_mm : array_like
        Groove radius. [mm]
    geometry : Geometry or None
        Of the arm; None for one whose stylus moves along a radius, such as a tangential arm's.

    Returns
    -------
    ndarray, shape of `radius_mm`
        Radius times the cosine of the groove angle. [mm]

    Examples
    --------
    >>> swing_radius_mm(100.0, Geometry(222.0, 239.2961, 22.9855)).round(2).item()
    92.68
    """
    radius = np.asarray(radius_mm, dtype=float)
    if geometry is None:
        return radius
    return np.asarray(radius * np.cos(_groove_angle_rad(radius, geometry)))


def carried_along_rad(radius_mm: NDArray[np.float64], geometry: Geometry | None) -> NDArray[np.float64]:
    """Return how far the arm has carried the stylus about the spindle, with the groove, since the first radius.

    Parameters
    ----------
    radius_mm : ndarray, shape (n,)
        Groove radius as the tone plays. [mm]
    geometry : Geometry or None
        Of the arm; None for one whose stylus moves along a radius.

    Returns
    -------
    ndarray, shape (n,)
        Positive inward of the first radius for an overhung arm. [rad]
    """
    if geometry is None:
        return np.zeros(radius_mm.shape)
    bearing = _bearing_rad(radius_mm, geometry)
    return np.asarray(bearing - bearing[0])


def swing_lag_rad(radius_mm: NDArray[np.float64], geometry: Geometry | None) -> NDArray[np.float64]:
    """Return how far an off-centre record's swing has come to lag behind the platter's angle since the first radius.

    The arm carries the stylus about the spindle as it goes inward, and the swing that the groove makes and the one that
    the arc makes add up to another phase there: 0.2 degree over half a millimetre, 20 over a side.

    Parameters
    ----------
    radius_mm, geometry
        As for `carried_along_rad`.

    Returns
    -------
    ndarray, shape (n,)
        [rad]
    """
    if geometry is None:
        return np.zeros(radius_mm.shape)
    groove_angle_rad = _groove_angle_rad(radius_mm, geometry)
    return np.asarray(carried_along_rad(radius_mm, geometry) - (groove_angle_rad - groove_angle_rad[0]))


def twice_per_turn_rad(
    radius_mm: NDArray[np.float64],
    angle_rad: NDArray[np.float64],
    once_per_turn: NDArray[np.float64],
    geometry: Geometry,
) -> NDArray[np.float64]:
    """Return what an off-centre record adds twice a turn to how far the groove has run past a pivoted arm's stylus.

    The once-per-turn part is its first order in the eccentricity over the radius; this is its second, which only an
    arc has: 0.3 mm off centre at 130 mm makes a wow of 0.0003 %.

    Parameters
    ----------
    radius_mm, angle_rad : ndarray, shape (n,)
        Groove radius, and angle of the platter. [mm] [rad]
    once_per_turn : ndarray, shape (2,)
        Of cosine and sine of that angle in the relative speed, times the swing radius: an eccentricity. [mm]
    geometry : Geometry
        Of the arm.

    Returns
    -------
    ndarray, shape (n,)
        Constant part left out. [rad of the record]
    """
    nearer, here, farther = (_bearing_rad(radius_mm + side * BEARING_STEP_MM, geometry) for side in (-1, 0, 1))
    slope = (farther - nearer) / (2 * BEARING_STEP_MM)
    bend = (farther - 2 * here + nearer) / BEARING_STEP_MM**2
    eccentricity = float(np.hypot(*once_per_turn))
    # The speed is highest where the record's centre bears half a turn, and the arc's own lag, away from the stylus.
    lag = np.arctan(slope * radius_mm) + np.pi
    twice = 2 * (angle_rad - np.arctan2(once_per_turn[1], once_per_turn[0]) + lag)
    along = slope**2 / 2 * np.sin(twice) + (bend / 4 + 3 * slope / (4 * radius_mm)) * np.cos(twice)
    return np.asarray(-(eccentricity**2) * along)


def on_a_radius(
    baseband: Baseband, *, nominal_hz: float, speed_rpm: float, radius_mm: tuple[float, float], geometry: Geometry
) -> Baseband:
    """Return the tone as it would play if the stylus followed the groove's pitch along a radius.

    Parameters
    ----------
    baseband : Baseband
        Of a tone that was played with a pivoted arm.
    nominal_hz, speed_rpm : float
        Frequency and speed of the cutting. [Hz] [rpm]
    radius_mm : tuple of float
        Groove radius where the stretch starts and where it ends. [mm]
    geometry : Geometry
        Of the arm.

    Raises
    ------
    ValueError
        If the arm cannot reach a radius.
    """
    # Refuses what is out of reach, in the words of the arm.
    _groove_angle_rad(np.asarray(radius_mm), geometry)
    # The groove goes inward as it is played and not evenly in time; else a flutter would lose the share of its speed by
    # which the pitch makes the tone slow.
    played = 2 * np.pi * baseband.carrier_hz * baseband.times_s + np.unwrap(np.angle(baseband.samples))
    radius = radius_mm[0] + (radius_mm[1] - radius_mm[0]) * (played - played[0]) / (played[-1] - played[0])
    cycles_per_turn = nominal_hz * 60 / speed_rpm
    return replace(
        baseband, samples=baseband.samples * np.exp(1j * cycles_per_turn * carried_along_rad(radius, geometry))
    )


def with_doubt_of_the_arm(
    speed_error: Quantity,
    eccentricity: Quantity | None,
    *,
    radius_mm: tuple[float, float],
    turns: float,
    geometry: Geometry | None,
) -> tuple[Quantity, Quantity | None]:
    """Return speed error and eccentricity with what is not known of the arm in their uncertainty.

    Parameters
    ----------
    speed_error, eccentricity : Quantity
        From the tone alone, with the arm of `geometry`. [%] [mm]
    radius_mm : tuple of float
        Groove radius where the stretch starts and where it ends. [mm]
    turns : float
        Of the record within the stretch.
    geometry : Geometry or None
        What the arm should be set to; its effective length may be off by some millimetres. None for an arm of which
        nothing is known: both are then given as for a stylus that moves along a radius, and half of what a pivoted arm
        may change is taken as standard uncertainty.
    """
    middle = (radius_mm[0] + radius_mm[1]) / 2
    if geometry is None:
        largest = np.radians(LARGEST_GROOVE_ANGLE_DEG)
        source = Source(NO_GEOMETRY)
        slower = np.tan(largest) * np.log(radius_mm[0] / radius_mm[1]) / (2 * np.pi * turns) / 2
        wider = (1 - np.cos(largest)) / 2
    else:
        source = Source(LENGTH_UNKNOWN)
        longer, shorter = (
            replace(geometry, effective_length_mm=geometry.effective_length_mm + side * USUAL_LENGTH_ERROR_MM / 2)
            for side in (1, -1)
        )
        ends = np.asarray(radius_mm)
        carried = carried_along_rad(ends, longer)[1] - carried_along_rad(ends, shorter)[1]
        slower = carried / (2 * np.pi * turns)
        wider = 1 - swing_radius_mm(middle, longer) / swing_radius_mm(middle, shorter)
    # What makes the tone slower was taken for the platter's speed; what makes its swing wider for eccentricity.
    return (
        _with(speed_error, source, -100 * float(slower)),
        None if eccentricity is None else _with(eccentricity, source, eccentricity.value * float(wider)),
    )


def _with(quantity: Quantity, source: Source, contribution: float) -> Quantity:
    if quantity.components is None:
        return quantity
    return replace(quantity, components={**quantity.components, source: contribution})


def _bearing_rad(radius_mm: NDArray[np.float64], geometry: Geometry) -> NDArray[np.float64]:
    """Return the angle at the spindle between stylus and pivot, by the cosine rule."""
    length, mounting = geometry.effective_length_mm, geometry.pivot_to_spindle_mm
    return np.asarray(np.arccos((radius_mm**2 + mounting**2 - length**2) / (2 * radius_mm * mounting)))


def _groove_angle_rad(radius_mm: NDArray[np.float64], geometry: Geometry) -> NDArray[np.float64]:
    return np.radians(
        groove_angle(
            radius_mm,
            effective_length_mm=geometry.effective_length_mm,
            pivot_to_spindle_mm=geometry.pivot_to_spindle_mm,
        )
    )
