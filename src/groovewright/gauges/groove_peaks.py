"""What arms do over the groove, for a million of them at once: tracking error, and the peaks of it and of distortion.

The peaks of a curve over a range lie at its ends or where it turns. Both turning places have closed forms, so that
three radii an arm take the place of a grid.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from groovewright.gauges.set_ups import SetUps
from groovewright.tonearm.distortion import CM_TO_MM, second_harmonic_ratio


def tracking_errors_deg(arms: SetUps, radius_mm: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the tracking error of every arm at every radius, shape (arms, radii).

    An arm that does not reach a radius counts as stretched straight there.
    """
    length_mm, distance_mm = arms.effective_length_mm[:, None], arms.pivot_to_spindle_mm[:, None]
    beta = np.radians(arms.offset_angle_deg)[:, None]
    return np.asarray(np.degrees(_error(radius_mm, length_mm, distance_mm, beta)))


def distortion_percent(
    error_deg: NDArray[np.float64], radius_mm: NDArray[np.float64], *, peak_velocity_cm_s: float, speed_rpm: float
) -> NDArray[np.float64]:
    """Return the magnitude of the second harmonic; infinite where the groove cannot be followed. [%]"""
    speed_mm_s = 2 * math.pi * speed_rpm / 60 * radius_mm
    return _percent(np.tan(np.radians(error_deg)), CM_TO_MM * peak_velocity_cm_s / speed_mm_s)


def peak_tracking_errors_deg(arms: SetUps) -> NDArray[np.float64]:
    """Return the largest magnitude of the tracking error of each arm over the groove range, shape (arms,). [deg]"""
    aim = arms.aim
    length_mm, distance_mm = arms.effective_length_mm, arms.pivot_to_spindle_mm
    # The groove angle of an overhung arm is least where r^2 = L^2 - D^2.
    product = np.maximum((length_mm - distance_mm) * (length_mm + distance_mm), 0.0)
    turn_mm = np.clip(np.sqrt(product), aim.innermost_mm, aim.outermost_mm)
    beta = np.radians(arms.offset_angle_deg)
    peak = np.zeros(length_mm.shape)
    for radius_mm in (aim.innermost_mm, turn_mm, aim.outermost_mm):
        np.maximum(peak, np.abs(_error(radius_mm, length_mm, distance_mm, beta)), out=peak)
    return np.asarray(np.degrees(peak))


def peak_distortions_percent(arms: SetUps, *, peak_velocity_cm_s: float, speed_rpm: float) -> NDArray[np.float64]:
    """Return the largest second harmonic of each arm over the groove range, shape (arms,). [%]

    Its inner peak is sought at r = (L^2 - D^2) / (L sin(offset angle)), where error over radius turns; that the
    distortion goes with the tangent of the error moves the peak, but changes its height by less than 0.1 %.
    """
    aim = arms.aim
    length_mm, distance_mm = arms.effective_length_mm, arms.pivot_to_spindle_mm
    beta = np.radians(arms.offset_angle_deg)
    product = (length_mm - distance_mm) * (length_mm + distance_mm)
    offset_mm = length_mm * np.sin(beta)
    turn_mm = np.divide(product, offset_mm, out=np.zeros(product.shape), where=offset_mm > 0)
    turn_mm = np.clip(turn_mm, aim.innermost_mm, aim.outermost_mm)
    steepest = np.zeros(length_mm.shape)
    for radius_mm in (aim.innermost_mm, turn_mm, aim.outermost_mm):
        slope = np.abs(np.tan(_error(radius_mm, length_mm, distance_mm, beta))) / radius_mm
        np.maximum(steepest, slope, out=steepest)
    return _percent(steepest, CM_TO_MM * peak_velocity_cm_s / (2 * math.pi * speed_rpm / 60))


def _error(
    radius_mm: float | NDArray[np.float64],
    length_mm: NDArray[np.float64],
    distance_mm: NDArray[np.float64],
    beta: NDArray[np.float64],
) -> NDArray[np.float64]:
    sine = (radius_mm * radius_mm + (length_mm - distance_mm) * (length_mm + distance_mm)) / (2 * radius_mm * length_mm)
    return np.asarray(np.arcsin(np.clip(sine, -1.0, 1.0)) - beta)


def _percent(tangent: NDArray[np.float64], velocity_ratio: NDArray[np.float64] | float) -> NDArray[np.float64]:
    index = np.abs(tangent) * velocity_ratio
    lost = index >= 1
    if not lost.any():
        return 100 * second_harmonic_ratio(index)
    return np.where(lost, np.inf, 100 * second_harmonic_ratio(np.where(lost, 0.0, index)))
