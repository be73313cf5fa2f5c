"""Side force: the part of the groove's drag that turns a pivoted arm inward, and how it loads both walls."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from groovewright.tonearm.geometry import Geometry
from groovewright.tonearm.tracking import groove_angle

USUAL_FRICTION = (0.2, 0.4)
"""Coefficient of stylus and groove on vinyl, rising with modulation: common practice, no source."""

USUAL_COMPENSATION_SHARE = 0.10
"""Compensation near this share of the tracking force is what is usually set: common practice, no source."""

SIN_FORM = "force at the stylus square to the line pivot-stylus, mu N sin(groove angle)"


@dataclass(frozen=True, eq=False)
class WallLoads:
    """How hard the stylus presses on either wall of the groove, square to the wall.

    Attributes
    ----------
    inner_mn, outer_mn : ndarray
        Of the wall nearer the spindle (left channel) and of the one farther away (right channel). [mN]
    """

    inner_mn: NDArray[np.float64]
    outer_mn: NDArray[np.float64]


def side_force_at_angle(
    groove_angle_deg: ArrayLike, *, tracking_force_mn: ArrayLike, friction_coefficient: ArrayLike
) -> NDArray[np.float64]:
    """Return the side force that the groove's drag has at a groove angle.

    The drag mu N acts along the groove's tangent. Reported is its part square to the line pivot-stylus, which alone
    turns the arm: the sin form. A rod that is held against moving sideways would feel mu N tan(groove angle) along the
    record's radius, which is more by 1/cos; that form is not used here.

    Parameters
    ----------
    groove_angle_deg : array_like
        Between the line pivot-stylus and the groove's tangent. [deg]
    tracking_force_mn, friction_coefficient : array_like
        Vertical force, and drag over vertical force; all three broadcast together. [mN], [1]

    Returns
    -------
    ndarray, the broadcast shape
        Positive: toward the spindle. [mN]

    Raises
    ------
    ValueError
        If the tracking force is not above 0, the coefficient is negative, or the angle is beyond 90 degrees.

    Examples
    --------
    >>> round(float(side_force_at_angle(23, tracking_force_mn=20, friction_coefficient=0.3)), 4)
    2.3444
    """
    angle = np.asarray(groove_angle_deg, dtype=float)
    force = np.asarray(tracking_force_mn, dtype=float)
    friction = np.asarray(friction_coefficient, dtype=float)
    if not (np.abs(angle) <= 90).all():
        raise ValueError(f"a groove angle lies between -90 and 90 deg, not at {_worst(angle):g} deg")
    if not (np.isfinite(force) & (force > 0)).all():
        raise ValueError(f"a tracking force must be above 0 mN and finite, not {float(force.min()):g} mN")
    if not (np.isfinite(friction) & (friction >= 0)).all():
        raise ValueError(f"a friction coefficient must be 0 or more and finite, not {float(friction.min()):g}")
    return np.asarray(friction * force * np.sin(np.radians(angle)))


def side_force_mn(
    radius_mm: ArrayLike, *, geometry: Geometry, tracking_force_mn: ArrayLike, friction_coefficient: ArrayLike
) -> NDArray[np.float64]:
    """Return the side force at groove radii, in the sin form of `side_force_at_angle`.

    Parameters
    ----------
    radius_mm : array_like
        Groove radius, spindle centre to stylus. [mm]
    geometry : Geometry
        Its effective length and pivot-to-spindle distance count; the offset angle does not.
    tracking_force_mn, friction_coefficient : array_like
        See `side_force_at_angle`. [mN], [1]

    Returns
    -------
    ndarray, the broadcast shape
        Positive: toward the spindle; negative where an underhung arm is drawn outward. [mN]

    Raises
    ------
    ValueError
        If the stylus cannot reach a radius, and as `side_force_at_angle`.
    """
    angle_deg = groove_angle(
        radius_mm, effective_length_mm=geometry.effective_length_mm, pivot_to_spindle_mm=geometry.pivot_to_spindle_mm
    )
    return side_force_at_angle(
        angle_deg, tracking_force_mn=tracking_force_mn, friction_coefficient=friction_coefficient
    )


def least_side_force_radius(geometry: Geometry) -> float | None:
    """Return the radius at which the side force of an overhung arm is least; None for an underhung one. [mm]"""
    product = geometry.overhang_mm * (geometry.effective_length_mm + geometry.pivot_to_spindle_mm)
    return math.sqrt(product) if product > 0 else None


def wall_force_mn(rest_mn: ArrayLike, *, groove_angle_deg: ArrayLike) -> NDArray[np.float64]:
    """Return the force with which the walls hold the stylus against a rest of the side force.

    The walls push square to the groove's tangent, which leans by the groove angle from square to the line
    pivot-stylus, so their force turns the arm by the cosine of that angle only.

    Parameters
    ----------
    rest_mn : array_like
        At the stylus, square to the line pivot-stylus; positive toward the spindle. [mN]
    groove_angle_deg : array_like
        Between the line pivot-stylus and the groove's tangent; both broadcast together. [deg]

    Returns
    -------
    ndarray, the broadcast shape
        Of the inner wall over that of the outer one, along the record's radius. [mN]

    Raises
    ------
    ValueError
        If an angle is 90 degrees or beyond, where no wall can hold the arm.
    """
    angle = np.asarray(groove_angle_deg, dtype=float)
    if not (np.abs(angle) < 90).all():
        raise ValueError(f"the walls hold an arm at groove angles under 90 deg, not at {_worst(angle):g} deg")
    return np.asarray(np.asarray(rest_mn, dtype=float) / np.cos(np.radians(angle)))


def wall_loads_mn(rest_mn: ArrayLike, *, tracking_force_mn: ArrayLike, groove_angle_deg: ArrayLike) -> WallLoads:
    """Return the load of both walls, at 45 degrees each, under a side force that nothing compensates.

    Parameters
    ----------
    rest_mn : array_like
        Side force less its compensation, at the stylus square to the line pivot-stylus; positive toward the spindle.
        [mN]
    tracking_force_mn : array_like
        Vertical force. [mN]
    groove_angle_deg : array_like
        Between the line pivot-stylus and the groove's tangent; all three broadcast together. [deg]

    Returns
    -------
    WallLoads
        Too little compensation unloads the outer wall, which carries the right channel; too much the inner one.

    Raises
    ------
    ValueError
        If the rest is so large that the stylus climbs out of the groove.

    Examples
    --------
    >>> loads = wall_loads_mn(2.0, tracking_force_mn=18.0, groove_angle_deg=23.0)
    >>> round(float(loads.inner_mn), 3), round(float(loads.outer_mn), 3)
    (14.264, 11.192)
    """
    wall, force = np.broadcast_arrays(
        wall_force_mn(rest_mn, groove_angle_deg=groove_angle_deg), np.asarray(tracking_force_mn, dtype=float)
    )
    if not (np.isfinite(force) & (force > 0)).all():
        raise ValueError(f"a tracking force must be above 0 mN and finite, not {float(force.min()):g} mN")
    climbing = ~(np.abs(wall) < force)
    if climbing.any():
        raise ValueError(
            f"a side force of {wall[climbing].flat[0]:.4g} mN would push the stylus up a wall of the groove, which "
            f"{force[climbing].flat[0]:.4g} mN of tracking force hold down; check sizes and units of the compensation"
        )
    return WallLoads(inner_mn=(force + wall) / math.sqrt(2), outer_mn=(force - wall) / math.sqrt(2))


def _worst(angle: NDArray[np.float64]) -> float:
    bad = ~(np.abs(angle) < 90)
    return float(angle[bad].flat[0])
