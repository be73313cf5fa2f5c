"""Tracking error and distortion over the groove range, as arrays for plots."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from groovewright.bench.targets.targets import Targets
from groovewright.tonearm.distortion import modulation_index, second_harmonic_ratio
from groovewright.tonearm.geometry import Geometry
from groovewright.tonearm.groove_ranges import check_groove_range


@dataclass(frozen=True)
class Curves:
    """Two curves over the same radii.

    Parameters
    ----------
    radius_mm : ndarray, shape (n,)
        Groove radii, rising. [mm]
    tracking_error_deg : ndarray, shape (n,)
        Signed. [deg]
    distortion_percent : ndarray, shape (n,)
        Magnitude of the second harmonic. [%]
    """

    radius_mm: NDArray[np.float64]
    tracking_error_deg: NDArray[np.float64]
    distortion_percent: NDArray[np.float64]


def curves(
    targets_or_geometry: Targets | Geometry,
    innermost_mm: float,
    outermost_mm: float,
    points: int = 301,
    *,
    peak_velocity_cm_s: float = 10.0,
    speed_rpm: float = 100 / 3,
) -> Curves:
    """Return tracking error and distortion at evenly spaced radii.

    Parameters
    ----------
    targets_or_geometry : Targets or Geometry
        Targets bring their own velocity and speed; a tangential arm's curves are zero.
    innermost_mm, outermost_mm : float
        Groove range. [mm]
    points : int
        How many radii, at least 2.
    peak_velocity_cm_s, speed_rpm : float
        For the distortion of a plain geometry. [cm/s], [rpm]

    Raises
    ------
    ValueError
        If the range is none or the stylus cannot reach all of it.
    """
    check_groove_range(innermost_mm=innermost_mm, outermost_mm=outermost_mm)
    if points < 2:
        raise ValueError(f"a curve needs 2 points or more, not {points}")
    radius = np.linspace(innermost_mm, outermost_mm, points)
    geometry: Geometry | None
    if isinstance(targets_or_geometry, Targets):
        geometry = targets_or_geometry.geometry
        peak_velocity_cm_s = targets_or_geometry.request.peak_velocity_cm_s
        speed_rpm = targets_or_geometry.request.speed_rpm
    else:
        geometry = targets_or_geometry
    error = np.zeros_like(radius) if geometry is None else geometry.tracking_error_deg(radius)
    index = modulation_index(error, radius_mm=radius, peak_velocity_cm_s=peak_velocity_cm_s, speed_rpm=speed_rpm)
    return Curves(radius, error, 100 * np.abs(second_harmonic_ratio(index)))
