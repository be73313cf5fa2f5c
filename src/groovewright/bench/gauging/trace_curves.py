"""Tracking error and distortion of an arm as it stands, with their intervals at every radius of the groove."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from groovewright.bench.targets.target_request import TargetRequest
from groovewright.bench.targets.targets import DISTANCE
from groovewright.measurement.coverage import coverage_interval
from groovewright.measurement.propagation import propagate_all
from groovewright.measurement.quantity import Quantity
from groovewright.tonearm.distortion import modulation_index, second_harmonic_ratio
from groovewright.tonearm.tracking import tracking_error

CURVE_POINTS = 61
JSON_STEP = 5

LENGTH, OFFSET = "effective length", "offset angle"


@dataclass(frozen=True, eq=False)
class TraceCurves:
    """Tracking error and distortion over the groove, each with its 95 % interval.

    Attributes
    ----------
    radius_mm : ndarray, shape (n,)
        Rising. [mm]
    tracking_error_deg, tracking_error_low_deg, tracking_error_high_deg : ndarray, shape (n,)
        Signed; both ends NaN where no interval can be given. [deg]
    distortion_percent, distortion_low_percent, distortion_high_percent : ndarray, shape (n,)
        Magnitude of the second harmonic. Its interval is what the tracking error's interval maps to, so where that
        holds 0 it begins at 0. [%]
    why_unknown : str
        Why there are no intervals; empty exactly when there are.
    """

    radius_mm: NDArray[np.float64]
    tracking_error_deg: NDArray[np.float64]
    tracking_error_low_deg: NDArray[np.float64]
    tracking_error_high_deg: NDArray[np.float64]
    distortion_percent: NDArray[np.float64]
    distortion_low_percent: NDArray[np.float64]
    distortion_high_percent: NDArray[np.float64]
    why_unknown: str

    def as_json(self) -> list[dict[str, Any]]:
        """Return every fifth radius as plain JSON types."""
        return [
            {
                "radius": {"value": float(self.radius_mm[k]), "unit": "mm"},
                "tracking_error": self._at(
                    k, self.tracking_error_deg, self.tracking_error_low_deg, self.tracking_error_high_deg, "deg"
                ),
                "distortion": self._at(
                    k, self.distortion_percent, self.distortion_low_percent, self.distortion_high_percent, "%"
                ),
            }
            for k in range(0, self.radius_mm.size, JSON_STEP)
        ]

    def _at(
        self, k: int, best: NDArray[np.float64], low: NDArray[np.float64], high: NDArray[np.float64], unit: str
    ) -> dict[str, Any]:
        ends = None if self.why_unknown else [float(low[k]), float(high[k])]
        return {"value": float(best[k]), "unit": unit, "interval_95": ends}


def trace_curves(request: TargetRequest, length: Quantity, distance: Quantity, offset: Quantity) -> TraceCurves:
    """Return the curves of an arm of this effective length, distance and offset angle over the groove of a request.

    What the three share is kept, so that an error of the distance that the length makes good widens nothing.
    """
    radii = np.linspace(request.innermost_mm, request.outermost_mm, CURVE_POINTS)
    names = [str(k) for k in range(CURVE_POINTS)]

    def model(**at: float) -> dict[str, float]:
        errors = tracking_error(
            radii,
            effective_length_mm=at[LENGTH],
            pivot_to_spindle_mm=at[DISTANCE],
            offset_angle_deg=at[OFFSET],
        )
        return dict(zip(names, map(float, errors), strict=True))

    inputs = {LENGTH: length, DISTANCE: distance, OFFSET: offset}
    errors = list(propagate_all(model, inputs, units=dict.fromkeys(names, "deg")).values())
    at_best = np.array([error.value for error in errors])
    why = errors[0].why_unknown
    ends = [(math.nan, math.nan) if why else coverage_interval(error) for error in errors]
    low, high = np.array(ends).T
    distortion = [_distortion_percent(request, radii, curve) for curve in (at_best, low, high)]
    nearest = np.where(low * high < 0, 0.0, np.minimum(distortion[1], distortion[2]))
    farthest = np.maximum(distortion[1], distortion[2])
    return TraceCurves(radii, at_best, low, high, distortion[0], nearest, farthest, why)


def _distortion_percent(
    request: TargetRequest, radii: NDArray[np.float64], error_deg: NDArray[np.float64]
) -> NDArray[np.float64]:
    if np.isnan(error_deg).any():
        return error_deg
    index = modulation_index(
        error_deg, radius_mm=radii, peak_velocity_cm_s=request.peak_velocity_cm_s, speed_rpm=request.speed_rpm
    )
    return np.asarray(100 * np.abs(second_harmonic_ratio(index)))
