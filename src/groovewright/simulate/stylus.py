"""The stylus equation: where a stylus that moves along a tilted line touches the groove."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from groovewright.simulate.groove import CutBand

LARGEST_SKEW = 0.9
"""Largest e of u = sin(theta + e u) that is taken: at 1 the stylus would have to be in two places at once."""

MOST_STEPS = 60
"""Of Newton's method, which takes few away from the limit above and more only close to it."""

MAX_TIP_STEPS = 200
"""Rounds in which tip and groove settle; each is nearer by the tip's radius over that of the wall's sharpest curve."""

TIP_TOLERANCE = 1e-8
"""Of a period: a step of the last round that moves no harmonic by a millionth of the tone."""


def skew_s_per_cm(
    band: CutBand,
    *,
    tracking_error_deg: NDArray[np.float64],
    vertical_angle_deg: float,
    cutting_angle_deg: float,
    groove_speed_cm_s: NDArray[np.float64],
) -> NDArray[np.float64]:
    """Return the time along the groove by which the contact shifts for each cm of the stylus's swing.

    Multiplied by the peak velocity of a tone it is the e of Kepler's equation u = sin(theta + e u). A stylus that
    swings outward under a positive tracking error goes against the record, so it reads what was cut later; one that
    rises about the cantilever's pivot is carried along with the record, so it reads what was cut earlier.

    Parameters
    ----------
    band : CutBand
        Whose cut has a lateral and a vertical part, outward and upward positive.
    tracking_error_deg : ndarray
        Positive where the arm would need more offset. [deg]
    vertical_angle_deg, cutting_angle_deg : float
        From the normal of the record, of the plane in which the stylus rises, and the cutter did; positive where
        rising goes with the record. [deg]
    groove_speed_cm_s : ndarray
        At the cutting. [cm/s]
    """
    lateral, vertical = band.lateral_and_vertical
    rising = math.tan(math.radians(vertical_angle_deg)) - math.tan(math.radians(cutting_angle_deg))
    return np.asarray((lateral * np.tan(np.radians(tracking_error_deg)) - vertical * rising) / groove_speed_cm_s)


def tip_shift_s(
    wall_velocity_cm_s: NDArray[np.float64], *, side: int, tip_radius_um: float, groove_speed_cm_s: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Return by how much later in the groove a round tip touches a wall than its centre stands. [s]

    A circle of radius R on a wall of slope tan(theta) touches it R sin(theta) ahead of its centre, so the centre
    draws a trochoid of the wall; its own slope is that of the wall where it touches.

    Parameters
    ----------
    wall_velocity_cm_s : ndarray
        Of the wall's channel where the tip touches; the slope is this over the groove speed. [cm/s]
    side : int
        1 for the left wall, -1 for the right one, which pushes the stylus against the sign of its channel.
    tip_radius_um, groove_speed_cm_s : float, ndarray
        [um] [cm/s]
    """
    slope = wall_velocity_cm_s / groove_speed_cm_s
    return np.asarray(side * tip_radius_um * 1e-4 / groove_speed_cm_s * slope / np.sqrt(1 + slope**2))


def rounded_velocity(
    band: CutBand,
    cut_time_s: NDArray[np.float64],
    rate: NDArray[np.float64],
    skew: NDArray[np.float64],
    *,
    side: int,
    tip_radius_um: float,
    groove_speed_cm_s: NDArray[np.float64],
) -> NDArray[np.float64]:
    """Return the velocity of one wall's channel as a round tip reads it, over the stylus's lean. [cm/s]

    As `traced_velocity`, for one wall: the place where the tip touches depends on that wall's slope.

    Parameters
    ----------
    band, cut_time_s, rate, skew
        As of `traced_velocity`.
    side, tip_radius_um, groove_speed_cm_s
        As of `tip_shift_s`.

    Raises
    ------
    ValueError
        If the tip is larger than the wall's curves, so that it would touch at two places at once.
    """
    lateral, vertical = band.lateral_and_vertical
    share = (lateral + side * vertical) / math.sqrt(2)
    contact = cut_time_s.copy()
    for _ in range(MAX_TIP_STEPS):
        displacement, velocity = band.motion(contact)
        tip_s = tip_shift_s(
            share * velocity, side=side, tip_radius_um=tip_radius_um, groove_speed_cm_s=groove_speed_cm_s
        )
        moved = cut_time_s + tip_s + skew * displacement
        step = float(np.max(np.abs(moved - contact)))
        contact = moved
        if step < TIP_TOLERANCE * band.shortest_period_s:
            velocity = band.motion(contact)[1]
            return np.asarray(share * velocity * rate / (1 - skew * velocity))
    raise ValueError(
        f"band {band.band.name!r}: a tip of {tip_radius_um:g} um is larger than the curves of its groove; choose a "
        "smaller tip, a lower velocity or a lower frequency"
    )


def traced_velocity(
    band: CutBand, cut_time_s: NDArray[np.float64], rate: NDArray[np.float64], skew: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Return the velocity of the stylus along the band's cut. [cm/s]

    The contact lies at the cut time x = t + skew displacement(x), which is solved by Newton's method; the velocity
    follows by differentiating both sides, so that nothing is differenced numerically.

    Parameters
    ----------
    band : CutBand
        Of which the stylus is in the middle.
    cut_time_s : ndarray
        Where the contact would lie without any skew. [s]
    rate : ndarray
        Seconds of cutting per second of playing.
    skew : ndarray
        As `skew_s_per_cm` gives it. [s/cm]

    Raises
    ------
    ValueError
        If the tilt is so large for the tone that no contact can be found.
    """
    velocity = band.motion(cut_time_s)[1]
    if not skew.any():
        return velocity * rate
    contact = cut_time_s.copy()
    for _ in range(MOST_STEPS):
        displacement, velocity = band.motion(contact)
        step = (contact - cut_time_s - skew * displacement) / (1 - skew * velocity)
        contact -= step
        # One more after this step, of quadratic convergence, would be below what the time itself resolves.
        if np.max(np.abs(step)) < 1e-9 * band.shortest_period_s:
            velocity = band.motion(contact)[1]
            return velocity * rate / (1 - skew * velocity)
    raise ValueError(f"band {band.band.name!r}: no contact of stylus and groove was found; its tilt is too large")
