"""Harmonic distortion that a tracking error causes, by the exact series.

A stylus that leans by the tracking error reads a lateral sine as u = sin(w t + e u), Kepler's equation, with
e = (peak velocity / groove speed) tan(tracking error). Its velocity holds the harmonics J_n(n e) / e.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from groovewright.tonearm.geometry import Geometry
from groovewright.tonearm.radius_grid import largest_magnitude, mean_square

CM_TO_MM = 10.0
# The twelfth term of either Bessel series is below 1e-17 for any |e| < 1.
SERIES_TERMS = 12
# A term of either Bessel series below this changes no digit of a sum that is close to 1.
NEGLIGIBLE = 1e-18


@dataclass(frozen=True)
class SecondHarmonic:
    """Second harmonic of the velocity over a groove range, against the first.

    Parameters
    ----------
    peak_percent : float
        Largest value over the range. [%]
    peak_radius_mm : float
        Where it lies. [mm]
    rms_percent : float
        Root of the mean square over radius, every millimetre of radius counting alike. [%]
    """

    peak_percent: float
    peak_radius_mm: float
    rms_percent: float


def groove_speed(radius_mm: ArrayLike, *, speed_rpm: float) -> NDArray[np.float64]:
    """Return the speed of the groove under the stylus, shape of `radius_mm`. [mm/s]

    Examples
    --------
    >>> float(groove_speed(146.05, speed_rpm=100 / 3).round(2))
    509.81
    """
    if not (math.isfinite(speed_rpm) and speed_rpm > 0):
        raise ValueError(f"speed_rpm must be above 0 rpm and finite, not {speed_rpm:g} rpm")
    return np.asarray(2 * math.pi * speed_rpm / 60 * np.asarray(radius_mm, dtype=float))


def modulation_index(
    tracking_error_deg: ArrayLike, *, radius_mm: ArrayLike, peak_velocity_cm_s: float, speed_rpm: float
) -> NDArray[np.float64]:
    """Return e of Kepler's equation, signed like the tracking error.

    Parameters
    ----------
    tracking_error_deg, radius_mm : array_like
        Tracking error at each groove radius. [deg], [mm]
    peak_velocity_cm_s : float
        Recorded peak lateral velocity. [cm/s]
    speed_rpm : float
        Platter speed. [rpm]

    Returns
    -------
    ndarray, the broadcast shape
        Dimensionless, between -1 and 1.

    Raises
    ------
    ValueError
        If the velocity is negative, the speed not above 0, or e reaches 1: no stylus can then follow the groove.
    """
    if not (math.isfinite(peak_velocity_cm_s) and peak_velocity_cm_s >= 0):
        raise ValueError(f"peak_velocity_cm_s must be 0 cm/s or more and finite, not {peak_velocity_cm_s:g} cm/s")
    error, radius = np.asarray(tracking_error_deg, dtype=float), np.asarray(radius_mm, dtype=float)
    velocity_ratio = CM_TO_MM * peak_velocity_cm_s / groove_speed(radius, speed_rpm=speed_rpm)
    index = np.asarray(velocity_ratio * np.tan(np.radians(error)))
    if not _largest(index) < 1:
        beyond = ~(np.abs(index) < 1)
        steep, at = (np.broadcast_to(a, index.shape)[beyond].flat[0] for a in (error, radius))
        raise ValueError(
            f"a tracking error of {steep:.3g} deg at radius_mm {at:g} mm and "
            f"{peak_velocity_cm_s:g} cm/s is steeper than a groove can be read; check the geometry or the velocity"
        )
    return index


def velocity_harmonic_ratio(index: ArrayLike, *, order: int) -> NDArray[np.float64]:
    """Return the n-th harmonic of the stylus velocity over the first, J_n(n e) / J_1(e).

    Parameters
    ----------
    index : array_like
        e of Kepler's equation, between -1 and 1.
    order : int
        n, at least 1.

    Returns
    -------
    ndarray, shape of `index`
        Signed: an even harmonic of a negative e is reversed against the first.

    Raises
    ------
    ValueError
        If |e| is not below 1 or the order not at least 1.

    References
    ----------
    .. [1] G. N. Watson, A Treatise on the Theory of Bessel Functions, 17.2 (Kepler's equation).
    .. [2] H. G. Baerwald, J. Soc. Motion Picture Eng. 37, 591 (1941).
    """
    from scipy.special import jv

    if order < 1 or order != int(order):
        raise ValueError(f"the order of a harmonic is a whole number from 1 on, not {order}")
    e = _checked_index(index)
    at_rest = 1.0 if order == 1 else 0.0
    return np.asarray(
        np.divide(jv(order, order * e), jv(1, e), out=np.full(e.shape, at_rest), where=np.abs(e) > 1e-150)
    )


def second_harmonic_ratio(index: ArrayLike) -> NDArray[np.float64]:
    """Return J_2(2 e) / J_1(e), the second harmonic of the stylus velocity over the first.

    Both Bessel series are written out with their common factor removed, so that nothing is divided by zero at a
    null and a million values take milliseconds.

    Parameters
    ----------
    index : array_like
        e of Kepler's equation, between -1 and 1.

    Returns
    -------
    ndarray, shape of `index`
        Close to e itself.

    Examples
    --------
    >>> float(second_harmonic_ratio(0.01).round(8))
    0.00999979
    """
    square = _checked_index(index) ** 2
    numerator = np.ones_like(square)
    denominator = np.ones_like(square)
    # Horner's scheme, the last term first.
    for k in range(_terms_that_count(float(square.max(initial=0.0))), 0, -1):
        numerator = 1 - square / (k * (k + 2)) * numerator
        denominator = 1 - square / (4 * k * (k + 1)) * denominator
    return np.asarray(np.asarray(index, dtype=float) * numerator / denominator)


def _terms_that_count(square: float) -> int:
    """Return how many terms the Bessel series need up to a square of e: 4 at the errors of a usual arm, 12 at 1."""
    size = 1.0
    for term in range(1, SERIES_TERMS):
        # The numerator's terms; those of the denominator are smaller.
        size *= square / (term * (term + 2))
        if size <= NEGLIGIBLE:
            return term
    return SERIES_TERMS


def second_harmonic_percent(
    geometry: Geometry, radius_mm: ArrayLike, *, peak_velocity_cm_s: float, speed_rpm: float
) -> NDArray[np.float64]:
    """Return the second harmonic of the velocity in percent of the first, signed like the tracking error.

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
    ndarray, shape of `radius_mm`
        [%]
    """
    index = modulation_index(
        geometry.tracking_error_deg(radius_mm),
        radius_mm=radius_mm,
        peak_velocity_cm_s=peak_velocity_cm_s,
        speed_rpm=speed_rpm,
    )
    return 100 * second_harmonic_ratio(index)


def second_harmonic_over_range(
    geometry: Geometry, *, innermost_mm: float, outermost_mm: float, peak_velocity_cm_s: float, speed_rpm: float
) -> SecondHarmonic:
    """Return the peak and the rms of the second harmonic over a groove range.

    Parameters
    ----------
    geometry : Geometry
        The arm.
    innermost_mm, outermost_mm : float
        Groove range. [mm]
    peak_velocity_cm_s : float
        Recorded peak lateral velocity, the same at every radius. [cm/s]
    speed_rpm : float
        Platter speed. [rpm]

    Raises
    ------
    ValueError
        If the range is none, the stylus cannot reach all of it, or e reaches 1.
    """

    def percent(radius_mm: NDArray[np.float64]) -> NDArray[np.float64]:
        return second_harmonic_percent(geometry, radius_mm, peak_velocity_cm_s=peak_velocity_cm_s, speed_rpm=speed_rpm)

    where, peak = largest_magnitude(percent, innermost_mm=innermost_mm, outermost_mm=outermost_mm)
    rms = math.sqrt(mean_square(percent, innermost_mm=innermost_mm, outermost_mm=outermost_mm))
    return SecondHarmonic(peak_percent=peak, peak_radius_mm=where, rms_percent=rms)


def peak_tracking_error(geometry: Geometry, *, innermost_mm: float, outermost_mm: float) -> tuple[float, float]:
    """Return where in the groove range the tracking error is largest, and its magnitude there.

    Returns
    -------
    tuple of float
        Radius [mm] and magnitude [deg].
    """
    return largest_magnitude(geometry.tracking_error_deg, innermost_mm=innermost_mm, outermost_mm=outermost_mm)


def _checked_index(index: ArrayLike) -> NDArray[np.float64]:
    e = np.asarray(index, dtype=float)
    if not _largest(e) < 1:
        beyond = ~(np.abs(e) < 1)
        raise ValueError(f"Kepler's equation needs an index between -1 and 1, not {e[beyond].flat[0]:g}")
    return e


def _largest(values: NDArray[np.float64]) -> float:
    """Return the largest magnitude, or NaN where there is one among them."""
    return float(np.abs(values).max(initial=0.0))
