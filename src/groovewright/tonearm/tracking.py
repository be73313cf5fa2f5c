"""The triangle spindle-pivot-stylus: groove angle, tracking error and null radii."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike, NDArray


def groove_angle(
    radius_mm: ArrayLike, *, effective_length_mm: ArrayLike, pivot_to_spindle_mm: ArrayLike
) -> NDArray[np.float64]:
    """Return the angle between the line pivot-stylus and the groove tangent.

    Parameters
    ----------
    radius_mm : array_like
        Groove radius, spindle centre to stylus. [mm]
    effective_length_mm, pivot_to_spindle_mm : array_like
        Pivot to stylus, and pivot to spindle centre, both horizontal; all three broadcast together. [mm]

    Returns
    -------
    ndarray, the broadcast shape
        Groove angle, -90 to 90; negative where the arm is so far underhung that the groove leans the other way. [deg]

    Raises
    ------
    ValueError
        If a length is not above 0, or the stylus cannot reach a radius.
    """
    r = np.asarray(radius_mm, dtype=float)
    length = np.asarray(effective_length_mm, dtype=float)
    mounting = np.asarray(pivot_to_spindle_mm, dtype=float)
    for name, lengths in (("effective_length_mm", length), ("pivot_to_spindle_mm", mounting)):
        bad = ~(np.isfinite(lengths) & (lengths > 0))
        if bad.any():
            raise ValueError(f"{name} must be above 0 mm and finite, not {lengths[bad].flat[0]:g} mm")
    # What does not vary with the radius is worked out before all three are broadcast to their full shape.
    sine = np.asarray((r * r + (length * length - mounting * mounting)) / (2 * np.where(r > 0, r, np.nan) * length))
    largest = float(np.abs(sine).max(initial=0.0))
    # A sine beyond 1 by rounding alone is the arm stretched straight, not out of reach.
    if not largest <= 1 + 1e-12:
        unreachable = ~(np.abs(sine) <= 1 + 1e-12)
        at, arm, post = (float(np.broadcast_to(a, sine.shape)[unreachable].flat[0]) for a in (r, length, mounting))
        raise ValueError(
            f"radius_mm {at:g} mm is out of reach: a {arm:g} mm arm mounted "
            f"{post:g} mm from the spindle reaches {abs(arm - post):g} to {arm + post:g} mm"
        )
    return np.asarray(np.degrees(np.arcsin(sine if largest <= 1 else np.clip(sine, -1.0, 1.0))))


def tracking_error(
    radius_mm: ArrayLike,
    *,
    effective_length_mm: ArrayLike,
    pivot_to_spindle_mm: ArrayLike,
    offset_angle_deg: ArrayLike,
) -> NDArray[np.float64]:
    """Return the angle between the cartridge axis and the groove tangent.

    Parameters
    ----------
    radius_mm : array_like
        Groove radius, spindle centre to stylus. [mm]
    effective_length_mm, pivot_to_spindle_mm : array_like
        Pivot to stylus, and pivot to spindle centre, both horizontal. [mm]
    offset_angle_deg : array_like
        Cantilever axis from the pivot-stylus line, seen from above; all four broadcast together. [deg]

    Returns
    -------
    ndarray, the broadcast shape
        Tracking error; positive where the arm would need more offset. [deg]

    Raises
    ------
    ValueError
        If a length is not above 0, or the stylus cannot reach a radius.

    References
    ----------
    .. [1] H. G. Baerwald, J. Soc. Motion Picture Eng. 37, 591 (1941).

    Examples
    --------
    >>> error = tracking_error(
    ...     [60.325, 146.05], effective_length_mm=239.2961, pivot_to_spindle_mm=222, offset_angle_deg=22.9855
    ... )
    >>> error.round(3).tolist()
    [0.743, 1.806]
    """
    psi = groove_angle(radius_mm, effective_length_mm=effective_length_mm, pivot_to_spindle_mm=pivot_to_spindle_mm)
    return np.asarray(psi - np.asarray(offset_angle_deg, dtype=float))


def null_radii(*, effective_length_mm: float, pivot_to_spindle_mm: float, offset_angle_deg: float) -> tuple[float, ...]:
    """Return the radii at which the tracking error is zero, the smaller first.

    They are the positive roots of r^2 - 2 L sin(beta) r + L^2 - D^2 = 0.

    Parameters
    ----------
    effective_length_mm, pivot_to_spindle_mm : float
        Pivot to stylus, and pivot to spindle centre, both horizontal. [mm]
    offset_angle_deg : float
        Cantilever axis from the pivot-stylus line, -90 to 90. [deg]

    Returns
    -------
    tuple of float, length 0, 1 or 2
        Two for an overhung offset arm in use, one for an underhung arm or where both coincide, none for an arm
        whose error never reaches zero. [mm]
    """
    half_sum = effective_length_mm * math.sin(math.radians(offset_angle_deg))
    product = (effective_length_mm - pivot_to_spindle_mm) * (effective_length_mm + pivot_to_spindle_mm)
    discriminant = half_sum * half_sum - product
    # Rounding alone must neither part a double null nor make it vanish.
    if abs(discriminant) <= 1e-13 * half_sum * half_sum:
        return (half_sum,) if half_sum > 0 else ()
    if discriminant < 0:
        return ()
    # The root of larger magnitude first and the other from the product, so that neither loses digits.
    far = half_sum + math.copysign(math.sqrt(discriminant), half_sum)
    near = product / far if far else 0.0
    return tuple(sorted({root for root in (far, near) if root > 0}))
