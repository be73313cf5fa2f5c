"""How far tracking error, null radii and distortion move with small errors of the set-up."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from groovewright.tonearm.distortion import SERIES_TERMS, modulation_index
from groovewright.tonearm.geometry import Geometry
from groovewright.tonearm.tracking import groove_angle


@dataclass(frozen=True)
class Slopes:
    """Change of one quantity for each unit of error in each dimension, the other two staying as they are.

    Parameters
    ----------
    per_effective_length : ndarray
        For each mm of effective length, the pivot standing still: a cartridge slid in its slots.
    per_pivot_to_spindle : ndarray
        For each mm of pivot-to-spindle distance, the arm keeping its length: an arm base moved. Overhang then falls
        by as much, so the change per mm of overhang at constant length is the negative of this.
    per_offset_angle : ndarray
        For each degree of offset angle, the stylus staying where it is: a cartridge turned about its stylus.
    """

    per_effective_length: NDArray[np.float64]
    per_pivot_to_spindle: NDArray[np.float64]
    per_offset_angle: NDArray[np.float64]


def tracking_error_slopes(geometry: Geometry, radius_mm: ArrayLike) -> Slopes:
    """Return the slopes of the tracking error at each radius.

    Parameters
    ----------
    geometry : Geometry
        The arm.
    radius_mm : array_like
        Groove radii. [mm]

    Returns
    -------
    Slopes, each of the shape of `radius_mm`
        [deg/mm], [deg/mm], [deg/deg]

    Raises
    ------
    ValueError
        If the stylus cannot reach a radius, or reaches it only with the arm stretched straight.
    """
    r = np.asarray(radius_mm, dtype=float)
    length, mounting = geometry.effective_length_mm, geometry.pivot_to_spindle_mm
    psi = np.radians(groove_angle(r, effective_length_mm=length, pivot_to_spindle_mm=mounting))
    sine, cosine = np.sin(psi), np.cos(psi)
    stretched = cosine < 1e-7
    if stretched.any():
        raise ValueError(
            f"at radius_mm {r[stretched].flat[0]:g} mm the arm lies along the line from pivot to spindle, where the "
            "tracking error has no slope"
        )
    return Slopes(
        per_effective_length=np.degrees((1 / r - sine / length) / cosine),
        per_pivot_to_spindle=np.degrees(-mounting / (r * length * cosine)),
        per_offset_angle=np.full(r.shape, -1.0),
    )


def null_radius_slopes(geometry: Geometry) -> Slopes:
    """Return the slopes of each null radius, the smaller null first.

    Parameters
    ----------
    geometry : Geometry
        An arm with one or two null radii that do not coincide.

    Returns
    -------
    Slopes, each of shape (number of nulls,)
        [mm/mm], [mm/mm], [mm/deg]

    Raises
    ------
    ValueError
        If the arm has no null radius, or two that coincide: they then part without a slope.
    """
    nulls = np.array(geometry.null_radii_mm)
    if nulls.size == 0:
        raise ValueError(
            f"an arm of {geometry.effective_length_mm:g} mm at {geometry.pivot_to_spindle_mm:g} mm with an offset "
            f"angle of {geometry.offset_angle_deg:g} deg has no null radius, so none has a slope"
        )
    # r^2 - 2 L sin(beta) r + L^2 - D^2 = 0, differentiated.
    steepness = 2 * (nulls - geometry.linear_offset_mm)
    if np.any(np.abs(steepness) < 1e-6):
        raise ValueError(f"both null radii lie at {nulls[0]:g} mm, from where they part without a slope")
    beta = math.radians(geometry.offset_angle_deg)
    length = geometry.effective_length_mm
    return Slopes(
        per_effective_length=(2 * math.sin(beta) * nulls - 2 * length) / steepness,
        per_pivot_to_spindle=2 * geometry.pivot_to_spindle_mm / steepness,
        per_offset_angle=2 * length * math.cos(beta) * nulls / steepness * math.radians(1),
    )


def second_harmonic_slopes(
    geometry: Geometry, radius_mm: ArrayLike, *, peak_velocity_cm_s: float, speed_rpm: float
) -> Slopes:
    """Return the slopes of the signed second harmonic at each radius.

    Parameters
    ----------
    geometry : Geometry
        The arm.
    radius_mm : array_like
        Groove radii. [mm]
    peak_velocity_cm_s : float
        Recorded peak lateral velocity. [cm/s]
    speed_rpm : float
        Platter speed. [rpm]

    Returns
    -------
    Slopes, each of the shape of `radius_mm`
        [%/mm], [%/mm], [%/deg]
    """
    r = np.asarray(radius_mm, dtype=float)
    error_deg = geometry.tracking_error_deg(r)
    index = modulation_index(error_deg, radius_mm=r, peak_velocity_cm_s=peak_velocity_cm_s, speed_rpm=speed_rpm)
    # e = k tan(alpha), where k is the index at an error of 45 degrees, so de/dalpha = k (1 + tan(alpha)^2).
    tangent = np.tan(np.radians(error_deg))
    steepest = modulation_index(1.0, radius_mm=r, peak_velocity_cm_s=peak_velocity_cm_s, speed_rpm=speed_rpm)
    scale = steepest / math.tan(math.radians(1.0))
    percent_per_deg = 100 * _ratio_slope(index) * scale * (1 + tangent**2) * math.radians(1)
    error_slopes = tracking_error_slopes(geometry, r)
    return Slopes(
        per_effective_length=percent_per_deg * error_slopes.per_effective_length,
        per_pivot_to_spindle=percent_per_deg * error_slopes.per_pivot_to_spindle,
        per_offset_angle=percent_per_deg * error_slopes.per_offset_angle,
    )


def linear_offset_slopes(geometry: Geometry) -> Slopes:
    """Return the slopes of the linear offset, each of shape (). [mm/mm], [mm/mm], [mm/deg]"""
    beta = math.radians(geometry.offset_angle_deg)
    return Slopes(
        per_effective_length=np.asarray(math.sin(beta)),
        per_pivot_to_spindle=np.asarray(0.0),
        per_offset_angle=np.asarray(geometry.effective_length_mm * math.cos(beta) * math.radians(1)),
    )


def _ratio_slope(index: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the derivative of J_2(2 e) / J_1(e) with e, by the same two series, so that it holds at e = 0 too."""
    square = index**2
    numerator, numerator_slope = np.ones_like(square), np.zeros_like(square)
    denominator, denominator_slope = np.ones_like(square), np.zeros_like(square)
    for k in range(SERIES_TERMS, 0, -1):
        numerator_slope = -(numerator + square * numerator_slope) / (k * (k + 2))
        numerator = 1 - square / (k * (k + 2)) * numerator
        denominator_slope = -(denominator + square * denominator_slope) / (4 * k * (k + 1))
        denominator = 1 - square / (4 * k * (k + 1)) * denominator
    of_square = (numerator_slope * denominator - numerator * denominator_slope) / denominator**2
    return np.asarray(numerator / denominator + 2 * square * of_square)
