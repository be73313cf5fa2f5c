"""An arc trace: how far the stylus stands beside the arc of a plate, and what that says of length and distance.

Frame: the centre of the plate's arc is the origin, and bearings are taken there from the spindle toward the grooves.
The plate turns freely about the spindle. A stylus on the arc at bearing t stands at the groove radius r with
r^2 = D0^2 + L0^2 - 2 D0 L0 cos t.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from groovewright.gauges.correlated_fit import CorrelatedFit, contributions, fit_correlated, readings_agree
from groovewright.measurement.quantity import Quantity, Source
from groovewright.measurement.units import require_unit
from groovewright.tonearm.geometry import Geometry
from groovewright.tonearm.input_ranges import BESIDE_THE_ARC

FEWEST_READINGS = 3
"""As many as there are unknowns: length, distance and the turn of the plate."""
LEAST_SPAN_DEG = 5.0
"""From the first reading to the last; a 12-inch groove range spans about 22. [deg]"""
SAME_PLACE_DEG = 0.2
"""Nearer together than this, two readings are at one place: half a millimetre on the arc. [deg]"""
LARGEST_DEVIATION_MM = BESIDE_THE_ARC.highest
"""More was read in another unit or on another arc. [mm]"""


@dataclass(frozen=True, slots=True)
class TraceReading:
    """Where the stylus stands beside the arc at one place.

    Parameters
    ----------
    bearing_deg : float
        Of the place on the arc, seen from the arc's centre, from the spindle toward the grooves. [deg]
    deviation : Quantity
        From the arc to the stylus, square to the arc; positive: outside it, farther from the arc's centre. [mm]
    """

    bearing_deg: float
    deviation: Quantity


@dataclass(frozen=True)
class TraceFit:
    """What a trace says, alone or joined with a direct measurement of the distance.

    Attributes
    ----------
    plate : Geometry
        Whose arc was traced; its offset angle plays no part.
    length_error, distance_error : Quantity
        Effective length and pivot-to-spindle distance of the arm less those of the plate. They keep the sources of the
        readings, through which they are correlated. [mm], [mm]
    plate_turn : Quantity
        How far the plate's aiming line stood off the pivot; it was free to turn. [deg]
    chi_square : float
        Of the trace alone against the stated uncertainties; near to `degrees_of_freedom` for honest readings.
    degrees_of_freedom : int
        Readings less 3.
    residuals : tuple of float
        Deviation read less fitted, in the order of the readings. [mm]
    agree : bool
        False where the readings scatter more than their uncertainties allow; their scatter is then added to them.
    agrees_with_direct : bool
        False where the distance as measured directly contradicts the trace beyond both uncertainties.
    cannot_tell : str
        One plain sentence of what the trace alone leaves open.
    """

    plate: Geometry
    length_error: Quantity
    distance_error: Quantity
    plate_turn: Quantity
    chi_square: float
    degrees_of_freedom: int
    residuals: tuple[float, ...]
    agree: bool
    agrees_with_direct: bool
    cannot_tell: str

    @property
    def effective_length(self) -> Quantity:
        """Of the arm, from the pivot to the stylus. [mm]"""
        return _shifted(self.length_error, self.plate.effective_length_mm)

    @property
    def pivot_to_spindle(self) -> Quantity:
        """Of the arm. [mm]"""
        return _shifted(self.distance_error, self.plate.pivot_to_spindle_mm)


def trace_dimensions(fit: TraceFit) -> tuple[Quantity, Quantity]:
    """Return effective length and pivot-to-spindle distance of a trace, for an estimate that joins more readings.

    Give it the fit of the trace alone: joined with a direct measurement here, that would count twice there. The two
    are nearly wholly correlated through the sources of the readings; an estimate that drops their covariance takes the
    trace for far worse than it is.
    """
    return fit.effective_length, fit.pivot_to_spindle


def bearing_on_arc_deg(radius_mm: ArrayLike, plate: Geometry) -> NDArray[np.float64]:
    """Return the bearing at which a plate's arc passes a groove radius; ValueError where it does not reach it. [deg]"""
    r = np.asarray(radius_mm, dtype=float)
    mounting, length = plate.pivot_to_spindle_mm, plate.effective_length_mm
    cosine = (mounting**2 + length**2 - r**2) / (2 * mounting * length)
    unreachable = ~((np.abs(cosine) <= 1) & (r > 0))
    if unreachable.any():
        raise ValueError(
            f"the arc of {length:.2f} mm about a pivot {mounting:.2f} mm from the spindle does not pass the radius "
            f"{r[unreachable].flat[0]:g} mm; it passes {abs(length - mounting):.2f} to {length + mounting:.2f} mm"
        )
    return np.asarray(np.degrees(np.arccos(cosine)))


def deviation_from_arc_mm(
    bearing_deg: ArrayLike, *, length_error_mm: float, distance_error_mm: float, plate_turn_deg: float, plate: Geometry
) -> NDArray[np.float64]:
    """Return how far the stylus of a true arm stands beside the arc of a plate, by the exact geometry.

    Parameters
    ----------
    bearing_deg : array_like
        Places on the arc. [deg]
    length_error_mm, distance_error_mm : float
        Effective length and pivot-to-spindle distance of the arm less those of the plate. [mm]
    plate_turn_deg : float
        Positive: the pivot stands off the aiming line on the side of the grooves. [deg]
    plate : Geometry
        Whose arc it is.

    Returns
    -------
    ndarray, shape of `bearing_deg`
        Positive outside the arc. To first order dL - dD cos t + D0 phi sin t. [mm]
    """
    parameters = np.array([length_error_mm, distance_error_mm, math.radians(plate_turn_deg)])
    return _deviation(np.radians(np.asarray(bearing_deg, dtype=float)), parameters, plate)[0]


def fit_trace(
    readings: Sequence[TraceReading], plate: Geometry, *, pivot_to_spindle: Quantity | None = None
) -> TraceFit:
    """Fit length, distance and the plate's turn to a trace by weighted least squares on the exact geometry.

    Parameters
    ----------
    readings : sequence of TraceReading
        At three places or more. What they share, such as the width of one arc, comes as a source that they all name.
    plate : Geometry
        Whose arc was traced.
    pivot_to_spindle : Quantity, optional
        The distance as measured directly, to be joined with the trace. [mm]

    Raises
    ------
    ValueError
        If the places are too few or too close together, a deviation is impossible or has no uncertainty, or no arm
        would leave such a trace.
    """
    _check(readings)
    stated = [reading.deviation for reading in readings]
    bearings = np.radians([reading.bearing_deg for reading in readings])
    fit = _fit(stated, bearings, plate, pivot_to_spindle)
    chi_square = _own_chi_square(fit, stated)
    degrees_of_freedom = len(readings) - 3
    agree = readings_agree(chi_square, degrees_of_freedom)
    weighed = stated
    if not agree:
        weighed = _with_scatter(stated, chi_square / degrees_of_freedom, degrees_of_freedom)
        fit = _fit(weighed, bearings, plate, pivot_to_spindle)
    direct_chi_square = fit.chi_square - _own_chi_square(fit, weighed)
    length, distance, turn = fit.quantities
    return TraceFit(
        plate,
        length,
        distance,
        turn,
        chi_square,
        degrees_of_freedom,
        tuple(map(float, fit.residuals[: len(readings)])),
        agree,
        pivot_to_spindle is None or readings_agree(direct_chi_square, 1),
        _cannot_tell(fit.slopes[: len(readings)], stated),
    )


def _check(readings: Sequence[TraceReading]) -> None:
    if len(readings) < FEWEST_READINGS:
        raise ValueError(
            f"{len(readings)} reading{'s' if len(readings) != 1 else ''} beside the arc cannot tell length, distance "
            f"and the plate's turn apart; take {FEWEST_READINGS} or more, spread over the whole groove"
        )
    for reading in readings:
        require_unit(reading.deviation, "mm", name="deviation from the arc")
        if not abs(reading.deviation.value) <= LARGEST_DEVIATION_MM:
            raise ValueError(
                f"a deviation of {reading.deviation.value:g} mm is more than a trace on the right arc can show "
                f"({LARGEST_DEVIATION_MM:g} mm at most); check its unit and the arc"
            )
        if not 0 < reading.bearing_deg < 180:
            raise ValueError(
                f"a bearing of {reading.bearing_deg:g} deg is not on the side of the grooves; it runs from the line to "
                "the spindle, above 0 and below 180"
            )
    bearings = np.sort([reading.bearing_deg for reading in readings])
    span = float(bearings[-1] - bearings[0])
    if span < SAME_PLACE_DEG:
        raise ValueError(
            f"all {len(readings)} readings are at one place of the arc (bearing {bearings[0]:.2f} deg); spread them "
            "over the whole groove"
        )
    places = 1 + int(np.count_nonzero(np.diff(bearings) >= SAME_PLACE_DEG))
    if span < LEAST_SPAN_DEG or places < FEWEST_READINGS:
        raise ValueError(
            f"the readings stand at {places} places within {span:.1f} deg of the arc; take them at "
            f"{FEWEST_READINGS} places or more, {LEAST_SPAN_DEG:g} deg or more from first to last"
        )


def _deviation(
    bearing_rad: NDArray[np.float64], parameters: NDArray[np.float64], plate: Geometry
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return the deviations and how they change with length error, distance error [mm/mm] and turn [mm/rad]."""
    length_error, distance_error, turn = parameters
    length = plate.effective_length_mm + length_error
    mounting = plate.pivot_to_spindle_mm + distance_error
    along = plate.pivot_to_spindle_mm - mounting * math.cos(turn)
    aside = mounting * math.sin(turn)
    cosine, sine = np.cos(bearing_rad), np.sin(bearing_rad)
    # The line of a bearing passes the pivot at this distance, and the stylus is where it meets the true circle.
    past = along * sine - aside * cosine
    if not (mounting > 0 and length > np.abs(past).max()):
        raise ValueError("no arm stands where these readings would put it")
    chord = np.sqrt(length**2 - past**2)
    deviation = along * cosine + aside * sine + chord - plate.effective_length_mm
    per_along = cosine - past / chord * sine
    per_aside = sine + past / chord * cosine
    slopes = np.column_stack(
        [
            length / chord,
            -math.cos(turn) * per_along + math.sin(turn) * per_aside,
            mounting * (math.sin(turn) * per_along + math.cos(turn) * per_aside),
        ]
    )
    return deviation, slopes


def _fit(
    deviations: Sequence[Quantity], bearing_rad: NDArray[np.float64], plate: Geometry, direct: Quantity | None
) -> CorrelatedFit:
    def model(parameters: NDArray[np.float64]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        # The turn is fitted in degrees.
        radians = parameters * (1.0, 1.0, math.radians(1))
        predicted, slopes = _deviation(bearing_rad, radians, plate)
        slopes = slopes * (1.0, 1.0, math.radians(1))
        if direct is None:
            return predicted, slopes
        mounting = plate.pivot_to_spindle_mm + parameters[1]
        return np.append(predicted, mounting), np.vstack([slopes, [0.0, 1.0, 0.0]])

    if direct is not None:
        require_unit(direct, "mm", name="pivot-to-spindle distance")
    observed = [*deviations, *([] if direct is None else [direct])]
    joined = "" if direct is None else ", joined with the distance as measured"
    how = f"arc trace, {len(deviations)} readings{joined}"
    return fit_correlated(observed, model, np.zeros(3), units=("mm", "mm", "deg"), how=how)


def _own_chi_square(fit: CorrelatedFit, deviations: Sequence[Quantity]) -> float:
    """Return chi-square of the trace alone, whatever it was joined with."""
    count = len(deviations)
    root = np.linalg.cholesky(_covariance(deviations))
    slopes, misfit = np.linalg.solve(root, fit.slopes[:count]), np.linalg.solve(root, fit.residuals[:count])
    q, _ = np.linalg.qr(slopes / np.linalg.norm(slopes, axis=0))
    left = misfit - q @ (q.T @ misfit)
    return float(left @ left)


def _covariance(deviations: Sequence[Quantity]) -> NDArray[np.float64]:
    _, parts = contributions(deviations)
    return np.asarray(parts @ parts.T)


def _with_scatter(deviations: Sequence[Quantity], ratio: float, degrees_of_freedom: int) -> list[Quantity]:
    """Return the readings with as much scatter of their own added as makes chi-square what it should be (Birge)."""
    _, parts = contributions(deviations)
    shared = np.count_nonzero(parts, axis=0) > 1
    own = np.sqrt((parts[:, ~shared] ** 2).sum(axis=1))
    ensemble = f"scatter of {len(deviations)} readings beside the arc"
    widened = []
    for k, (deviation, extra) in enumerate(zip(deviations, own * math.sqrt(ratio - 1), strict=True)):
        scatter = Source(f"{ensemble}, reading {k + 1}", degrees_of_freedom, ensemble)
        components = {**(deviation.components or {}), scatter: extra}
        widened.append(Quantity(deviation.value, deviation.unit, components, how=deviation.how))
    return widened


def _cannot_tell(slopes: NDArray[np.float64], deviations: Sequence[Quantity]) -> str:
    root = np.linalg.cholesky(_covariance(deviations))
    weighed = np.linalg.solve(root, slopes)
    spread = np.linalg.inv(weighed.T @ weighed)
    u_length, u_distance = math.sqrt(spread[0, 0]), math.sqrt(spread[1, 1])
    correlation = spread[0, 1] / (u_length * u_distance)
    return (
        f"Alone, this trace fixes the pivot-to-spindle distance no better than ± {u_distance:.2g} mm and the effective "
        f"length no better than ± {u_length:.2g} mm, because an arm that is {u_length / u_distance:.2f} mm longer for "
        f"each mm that its pivot stands farther out leaves nearly the same trace (correlation {correlation:.4f}); and "
        "it says nothing of how the cantilever points, which only readings at the nulls show."
    )


def _shifted(error: Quantity, nominal: float) -> Quantity:
    return Quantity(nominal + error.value, error.unit, error.components, error.why_unknown, error.how)
