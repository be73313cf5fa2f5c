"""What an arm does over the groove: tracking error and distortion with their 95 % intervals."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

from groovewright.bench.estimate.setting_state import DeckState
from groovewright.bench.estimate.settings import SettingTargets
from groovewright.bench.targets.target_request import TargetRequest
from groovewright.bench.targets.targets import DISTANCE
from groovewright.measurement.coverage import coverage_interval
from groovewright.measurement.monte_carlo import draw_quantities, shortest_interval
from groovewright.measurement.propagation import propagate_all
from groovewright.measurement.quantity import Quantity
from groovewright.measurement.units import require_unit
from groovewright.tonearm.distortion import groove_speed, modulation_index, second_harmonic_ratio
from groovewright.tonearm.radius_grid import gauss_nodes
from groovewright.tonearm.tracking import tracking_error

CURVE_POINTS = 61
"""Radii of a curve: a millimetre and a half apart on a 12-inch record, finer than a screen shows bends."""

JSON_STEP = 5
"""Every fifth radius goes into JSON, which is read by people too."""

DRAWS = 4_000
"""The ends of an interval are then within 3 % of its width, and a page waits 10 ms for it."""

SEED = 20_260_101
"""Any seed does; one seed gives one interval."""

PEAK_POINTS = 49
"""Radii among which the peaks are looked for."""

PROBABILITY = 0.95
"""Of the intervals."""

REMEMBERED = 256
"""Arms whose course is kept: the bench, the report and the list ask for the same ones."""

LENGTH, OFFSET = "effective length", "offset angle"


@dataclass(frozen=True)
class Interval:
    """A best estimate and what holds the true value with 95 % probability.

    Parameters
    ----------
    value : float
        At the best estimates of everything. [`unit`]
    low, high : float or None
        Ends of the shortest such interval; None where no interval can be given.
    unit : str
        ``"deg"`` or ``"%"``.
    why_unknown : str
        Why there is no interval; empty exactly when there is one.
    """

    value: float
    low: float | None
    high: float | None
    unit: str
    why_unknown: str = ""

    def as_json(self) -> dict[str, Any]:
        """Return one object of plain JSON types."""
        ends = None
        if self.low is not None and self.high is not None:
            ends = {"low": self.low, "high": self.high, "unit": self.unit}
        return {"value": self.value, "unit": self.unit, "interval_95": ends}


@dataclass(frozen=True, eq=False)
class GrooveCourse:
    """Tracking error and distortion over the groove, each with its 95 % interval, and their peaks.

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
    peak_tracking_error, peak_distortion, rms_distortion : Interval
        Over the whole groove. [deg], [%], [%]
    offset_is_read : bool
        False where nobody read how the cartridge is turned, and its angle is taken to be on target.
    """

    radius_mm: NDArray[np.float64]
    tracking_error_deg: NDArray[np.float64]
    tracking_error_low_deg: NDArray[np.float64]
    tracking_error_high_deg: NDArray[np.float64]
    distortion_percent: NDArray[np.float64]
    distortion_low_percent: NDArray[np.float64]
    distortion_high_percent: NDArray[np.float64]
    why_unknown: str
    peak_tracking_error: Interval
    peak_distortion: Interval
    rms_distortion: Interval
    offset_is_read: bool = True

    def describe(self, when: str) -> str:
        """Return the peaks as one sentence; `when` is for example ``"As left"`` or ``"With this trace"``."""
        error, harmonic = self.peak_tracking_error, self.peak_distortion
        given = f"{when}, tracking error" if self.offset_is_read else f"{when}, with the cartridge turned as it should"
        given = given if self.offset_is_read else f"{given} be (not read), tracking error"
        if error.high is None or harmonic.high is None:
            return (
                f"{given} reaches {error.value:.2f}° and distortion {harmonic.value:.2f} %; how much more it may be is "
                f"not known ({error.why_unknown})."
            )
        return (
            f"{given} stays below {_rounded_up(error.high)}° and distortion below {_rounded_up(harmonic.high)} % "
            "(95 %)."
        )

    def peaks_json(self) -> dict[str, Any]:
        """Return the peaks as plain JSON types."""
        return {
            "peak_tracking_error": self.peak_tracking_error.as_json(),
            "peak_distortion": self.peak_distortion.as_json(),
            "rms_distortion": self.rms_distortion.as_json(),
            "offset_is_read": self.offset_is_read,
        }

    def curves_json(self) -> list[dict[str, Any]]:
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
        ends = (None, None) if self.why_unknown else (float(low[k]), float(high[k]))
        return Interval(float(best[k]), ends[0], ends[1], unit).as_json()


def _rounded_up(high: float) -> str:
    return f"{math.ceil(100 * high) / 100:.2f}"


def groove_of(state: DeckState, targets: SettingTargets, request: TargetRequest) -> GrooveCourse:
    """Return what a deck does over the groove, from length, distance and offset angle as all readings give them.

    Where the offset angle is not read it is taken to be on target, and the course says so.

    Raises
    ------
    ValueError
        In one sentence, if the effective length is not read or does not apply, or the stylus does not reach the groove.
    """
    length = state.setting("effective_length")
    if length.quantity is None or length.quantity.components is None:
        reason = length.reason or "the effective length is not read"
        raise ValueError(f"tracking error and distortion cannot be told: {reason[0].lower()}{reason[1:].rstrip('.')}")
    offset, is_read = state.state["offset_angle_deg"], state.setting("zenith").quantity is not None
    distance = state.state["pivot_to_spindle_mm"]
    if not is_read:
        off_mm = distance.value - targets.geometry.pivot_to_spindle_mm
        on_target = targets.geometry.offset_angle_deg + targets.offset_slope_deg_per_mm * off_mm
        offset = Quantity.exact(on_target, "deg", how="taken to be on target")
    return groove_course(request, state.state["effective_length_mm"], distance, offset, offset_is_read=is_read)


@lru_cache(maxsize=REMEMBERED)
def groove_course(
    request: TargetRequest,
    length: Quantity,
    distance: Quantity,
    offset: Quantity,
    *,
    offset_is_read: bool = True,
    draws: int = DRAWS,
    seed: int = SEED,
) -> GrooveCourse:
    """Return what an arm of this effective length, distance and offset angle does over the groove of a request.

    What the three share is kept, so that an error of the distance that the length makes good widens nothing. The peaks
    are found by Monte Carlo (JCGM 101) through the true geometry: the largest error over a range has no slope where
    two radii are equally bad, and the first-order formula would give no uncertainty at a null.

    Parameters
    ----------
    request : TargetRequest
        For the groove range, velocity and speed.
    length, distance, offset : Quantity
        Sources that they share stay correlated. [mm], [mm], [deg]
    offset_is_read : bool
        As of the result.
    draws, seed : int
        Of the Monte Carlo, 1000 draws at least.

    Raises
    ------
    ValueError
        If at the best estimates the stylus does not reach the groove range. Where only some of the draws do not reach
        it, there is no interval, and the reason is in its place.

    References
    ----------
    .. [1] JCGM 101:2008, 5.3.4 (shortest coverage interval).
    """
    inputs = {LENGTH: length, DISTANCE: distance, OFFSET: offset}
    for name, unit in ((LENGTH, "mm"), (DISTANCE, "mm"), (OFFSET, "deg")):
        require_unit(inputs[name], unit, name=name)
    radii = np.linspace(request.innermost_mm, request.outermost_mm, CURVE_POINTS)
    names = [str(k) for k in range(CURVE_POINTS)]

    def model(**at: float) -> dict[str, float]:
        errors = tracking_error(
            radii, effective_length_mm=at[LENGTH], pivot_to_spindle_mm=at[DISTANCE], offset_angle_deg=at[OFFSET]
        )
        return dict(zip(names, map(float, errors), strict=True))

    errors = list(propagate_all(model, inputs, units=dict.fromkeys(names, "deg")).values())
    at_best = np.array([error.value for error in errors])
    why = errors[0].why_unknown
    low, high = np.array([(math.nan, math.nan) if why else coverage_interval(error) for error in errors]).T
    best = _distortion_percent(request, radii, at_best)
    try:
        ends = [_distortion_percent(request, radii, curve) for curve in (low, high)]
    except ValueError:
        why = "errors that it allows would leave grooves that no stylus can read"
        low = high = np.full(CURVE_POINTS, math.nan)
        ends = [low, high]
    nearest = np.where(low * high < 0, 0.0, np.minimum(*ends))
    farthest = np.maximum(*ends)
    return GrooveCourse(
        radii,
        at_best,
        low,
        high,
        best,
        nearest,
        farthest,
        why,
        *_peaks(request, inputs, draws=draws, seed=seed),
        offset_is_read=offset_is_read,
    )


def _distortion_percent(
    request: TargetRequest, radii: NDArray[np.float64], error_deg: NDArray[np.float64]
) -> NDArray[np.float64]:
    if np.isnan(error_deg).any():
        return error_deg
    index = modulation_index(
        error_deg, radius_mm=radii, peak_velocity_cm_s=request.peak_velocity_cm_s, speed_rpm=request.speed_rpm
    )
    return np.asarray(100 * np.abs(second_harmonic_ratio(index)))


def _peaks(
    request: TargetRequest, inputs: dict[str, Quantity], *, draws: int, seed: int
) -> tuple[Interval, Interval, Interval]:
    """Return the largest tracking error, and peak and rms of the second harmonic."""
    nominal = _figures(request, _errors(request, {name: np.array([part.value]) for name, part in inputs.items()}))
    unknown = next(
        (
            f"the uncertainty of the {name} is not known: {part.why_unknown}"
            for name, part in inputs.items()
            if part.components is None
        ),
        "",
    )
    if not unknown:
        errors = _playable_errors(request, draw_quantities(inputs, trials=draws, seed=seed))
        if len(errors) < (1 + PROBABILITY) / 2 * draws:
            share = 100 * (1 - len(errors) / draws)
            unknown = f"errors that it allows would leave grooves out of reach in {share:.2g} % of cases"
    units = ("deg", "%", "%")
    if unknown:
        one, two, three = (
            Interval(float(at[0]), None, None, unit, unknown) for at, unit in zip(nominal, units, strict=True)
        )
        return one, two, three
    # A groove that cannot be played is worse than any error.
    beyond = np.full(draws - len(errors), np.inf)
    one, two, three = (
        _interval(float(at[0]), np.concatenate([spread, beyond]), unit)
        for at, spread, unit in zip(nominal, _figures(request, errors), units, strict=True)
    )
    return one, two, three


def _interval(value: float, spread: NDArray[np.float64], unit: str) -> Interval:
    low, high = shortest_interval(spread, PROBABILITY)
    return Interval(value, low, high, unit)


def _radii_mm(request: TargetRequest) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return the radii looked at, those for the peaks before those for the rms, and the shares of the latter. [mm]"""
    nodes, node_weights = gauss_nodes(np.linspace(request.innermost_mm, request.outermost_mm, 4))
    evenly = np.linspace(request.innermost_mm, request.outermost_mm, PEAK_POINTS)
    return np.concatenate([evenly, nodes.ravel()]), node_weights.ravel() / len(node_weights)


def _errors(request: TargetRequest, at: dict[str, NDArray[np.float64]]) -> NDArray[np.float64]:
    """Return the tracking error of every draw at every radius. [deg]"""
    return tracking_error(
        _radii_mm(request)[0],
        effective_length_mm=at[LENGTH][:, None],
        pivot_to_spindle_mm=at[DISTANCE][:, None],
        offset_angle_deg=at[OFFSET][:, None],
    )


def _playable_errors(request: TargetRequest, at: dict[str, NDArray[np.float64]]) -> NDArray[np.float64]:
    """Return the tracking errors of those draws that can play the whole groove range. [deg]"""
    inner, outer = request.innermost_mm, request.outermost_mm
    length, distance = at[LENGTH], at[DISTANCE]
    reached = (length > 0) & (distance > 0) & (np.abs(length - distance) < inner) & (length + distance > outer)
    errors = _errors(request, {name: values[reached] for name, values in at.items()})
    # Where the groove runs back under the stylus none can follow; see `modulation_index`.
    along_mm_s = groove_speed(_radii_mm(request)[0], speed_rpm=request.speed_rpm)
    steepest_deg = np.degrees(np.arctan2(along_mm_s, 10 * request.peak_velocity_cm_s))
    return errors[(np.abs(errors) < steepest_deg * (1 - 1e-9)).all(axis=1)]


def _figures(request: TargetRequest, errors: NDArray[np.float64]) -> tuple[NDArray[np.float64], ...]:
    """Return peak error [deg], peak and rms of the second harmonic [%] of each draw, from its errors."""
    radii, shares = _radii_mm(request)
    index = modulation_index(
        errors, radius_mm=radii, peak_velocity_cm_s=request.peak_velocity_cm_s, speed_rpm=request.speed_rpm
    )
    # The harmonic rises with the index, so its peak is that of the index.
    peak = 100 * second_harmonic_ratio(np.abs(index[:, :PEAK_POINTS]).max(axis=1))
    rms = 100 * np.sqrt(second_harmonic_ratio(index[:, PEAK_POINTS:]) ** 2 @ shares)
    return np.abs(errors[:, :PEAK_POINTS]).max(axis=1), peak, rms
