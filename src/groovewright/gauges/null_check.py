"""A null check: how the cantilever points against the groove at known radii, and the offset angle that follows."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from groovewright.gauges.correlated_fit import fit_correlated, readings_agree
from groovewright.measurement.quantity import Quantity
from groovewright.measurement.units import require_unit
from groovewright.tonearm.geometry import Geometry
from groovewright.tonearm.input_ranges import NULL_ANGLE
from groovewright.tonearm.sensitivity import tracking_error_slopes

LARGEST_ANGLE_DEG = NULL_ANGLE.highest
"""Beyond it something other than the angle against the groove was read. [deg]"""


@dataclass(frozen=True, slots=True)
class NullReading:
    """How the cantilever points at one radius.

    Parameters
    ----------
    radius_mm : float
        Spindle centre to stylus. [mm]
    angle : Quantity
        Groove tangent less cantilever axis, seen from above: the tracking error there. Positive where the cartridge
        would need more offset, to be turned inward. [deg]
    """

    radius_mm: float
    angle: Quantity


@dataclass(frozen=True)
class NullFit:
    """What null readings say, joined with length and distance from elsewhere.

    Attributes
    ----------
    offset_angle : Quantity
        Cantilever axis from the line pivot-stylus. [deg]
    effective_length, pivot_to_spindle : Quantity
        As given, and bettered by the readings; two at different radii tell something of them. [mm], [mm]
    chi_square : float
        What the readings, together with length and distance, leave unexplained.
    degrees_of_freedom : int
        Readings less 1.
    residuals : tuple of float
        Angle read less fitted, in the order of the readings. [deg]
    agree : bool
        False where the readings contradict each other, or length and distance, beyond their uncertainties.
    """

    offset_angle: Quantity
    effective_length: Quantity
    pivot_to_spindle: Quantity
    chi_square: float
    degrees_of_freedom: int
    residuals: tuple[float, ...]
    agree: bool


def fit_nulls(readings: Sequence[NullReading], *, effective_length: Quantity, pivot_to_spindle: Quantity) -> NullFit:
    """Return the offset angle from null readings and from length and distance, all joined by least squares.

    Parameters
    ----------
    readings : sequence of NullReading
        At least one.
    effective_length, pivot_to_spindle : Quantity
        From a trace or from other gauges; those that share sources are joined with their covariance. [mm]

    Raises
    ------
    ValueError
        If there is no reading, an angle is impossible, an uncertainty is unknown or 0, or the stylus cannot reach a
        radius.
    """
    _check(readings)
    radii = np.array([reading.radius_mm for reading in readings])

    def model(parameters: NDArray[np.float64]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        length, mounting, offset = map(float, parameters)
        arm = Geometry(mounting, length, offset)
        slopes = tracking_error_slopes(arm, radii)
        of_angles = np.column_stack([slopes.per_effective_length, slopes.per_pivot_to_spindle, slopes.per_offset_angle])
        predicted = np.concatenate([[length, mounting], arm.tracking_error_deg(radii)])
        return predicted, np.vstack([[[1.0, 0.0, 0.0], [0.0, 1.0, 0.0]], of_angles])

    straight = Geometry(pivot_to_spindle.value, effective_length.value, 0.0)
    start = float(np.mean(straight.tracking_error_deg(radii) - [reading.angle.value for reading in readings]))
    fit = fit_correlated(
        [effective_length, pivot_to_spindle, *(reading.angle for reading in readings)],
        model,
        (effective_length.value, pivot_to_spindle.value, start),
        units=("mm", "mm", "deg"),
        how=f"null check, {len(readings)} reading{'s' if len(readings) != 1 else ''}",
    )
    length, distance, offset = fit.quantities
    return NullFit(
        offset,
        length,
        distance,
        fit.chi_square,
        fit.degrees_of_freedom,
        tuple(map(float, fit.residuals[2:])),
        readings_agree(fit.chi_square, fit.degrees_of_freedom),
    )


def _check(readings: Sequence[NullReading]) -> None:
    if not readings:
        raise ValueError("no reading of the cantilever yet; take one at each null")
    for reading in readings:
        require_unit(reading.angle, "deg", name="angle of the cantilever against the groove")
        if not reading.radius_mm > 0:
            raise ValueError(f"a cantilever is read at a radius above 0 mm, not at {reading.radius_mm:g} mm")
        if not abs(reading.angle.value) <= LARGEST_ANGLE_DEG:
            raise ValueError(
                f"an angle of {reading.angle.value:g} deg against the groove is more than any cartridge is off "
                f"({LARGEST_ANGLE_DEG:g} deg at most); give the tracking error, not the offset angle"
            )
