"""Arms without an offset: straight underhung arms with one null, and tangential arms."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike, NDArray

from groovewright.tonearm.geometry import Geometry
from groovewright.tonearm.groove_ranges import check_groove_range
from groovewright.tonearm.optimum import Objective, Optimum, optimum, over_radius
from groovewright.tonearm.weighted_error import Weight


def underhung_null_radius(*, innermost_mm: float, outermost_mm: float) -> float:
    """Return the null radius of a straight arm that minimises the peak of |tracking error| / radius, small angles.

    The error over radius then is as large at the innermost groove as at the outermost, with the other sign.

    Parameters
    ----------
    innermost_mm, outermost_mm : float
        Groove range. [mm]

    Examples
    --------
    >>> round(underhung_null_radius(innermost_mm=60.325, outermost_mm=146.05), 2)
    78.85
    """
    check_groove_range(innermost_mm=innermost_mm, outermost_mm=outermost_mm)
    return math.sqrt(2 / (innermost_mm**-2 + outermost_mm**-2))


def underhung_geometry(*, pivot_to_spindle_mm: float, null_radius_mm: float) -> Geometry:
    """Return the straight arm whose error is zero at one radius.

    Parameters
    ----------
    pivot_to_spindle_mm : float
        Pivot to spindle centre, horizontal; longer than the null radius. [mm]
    null_radius_mm : float
        Where the arm is to stand square to the radius. [mm]

    Raises
    ------
    ValueError
        If the null radius is not between 0 and the distance.
    """
    if not 0 < null_radius_mm < pivot_to_spindle_mm:
        raise ValueError(
            f"a straight arm mounted {pivot_to_spindle_mm:g} mm from the spindle has its null radius between 0 and "
            f"that distance, not at {null_radius_mm:g} mm"
        )
    length = math.sqrt((pivot_to_spindle_mm - null_radius_mm) * (pivot_to_spindle_mm + null_radius_mm))
    return Geometry(pivot_to_spindle_mm, length, 0.0)


def underhung_optimum(
    objective: Objective,
    *,
    pivot_to_spindle_mm: float,
    innermost_mm: float,
    outermost_mm: float,
    weight: Weight = over_radius,
) -> Optimum:
    """Return the exact optimum of a straight arm; parameters as in `optimum.optimum`, the offset angle held at 0.

    Examples
    --------
    >>> best = underhung_optimum("peak", pivot_to_spindle_mm=222, innermost_mm=60.325, outermost_mm=146.05)
    >>> round(best.geometry.overhang_mm, 2)
    -14.62
    """
    return optimum(
        objective,
        innermost_mm=innermost_mm,
        outermost_mm=outermost_mm,
        pivot_to_spindle_mm=pivot_to_spindle_mm,
        offset_angle_deg=0.0,
        weight=weight,
    )


def tangential_tracking_error(
    radius_mm: ArrayLike, *, set_error_deg: float = 0.0, path_offset_mm: float = 0.0
) -> NDArray[np.float64]:
    """Return the tracking error of an arm whose stylus travels along a straight line.

    Parameters
    ----------
    radius_mm : array_like
        Groove radii, all beyond the path's offset. [mm]
    set_error_deg : float
        Cantilever from the square to the travel; the same error at every radius. [deg]
    path_offset_mm : float
        Distance of the line of travel from the spindle's centre, positive where it adds to a positive set error. [mm]

    Returns
    -------
    ndarray, shape of `radius_mm`
        Tracking error. [deg]

    Raises
    ------
    ValueError
        If a radius is not above the path's offset: the travel never comes that near to the spindle; or the set error
        is not between -90 and 90 degrees.
    """
    if not abs(set_error_deg) < 90:
        raise ValueError(f"set_error_deg must lie between -90 and 90 deg, not {set_error_deg:g} deg")
    r = np.asarray(radius_mm, dtype=float)
    missed = ~(r > abs(path_offset_mm))
    if missed.any():
        raise ValueError(
            f"radius_mm {r[missed].flat[0]:g} mm is out of reach: the stylus passes the spindle at "
            f"{abs(path_offset_mm):g} mm"
        )
    return np.asarray(set_error_deg + np.degrees(np.arcsin(path_offset_mm / r)))
