"""What an arm set off its targets does: tracking error and distortion with their coverage intervals."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from groovewright.bench.length import LengthResult
from groovewright.bench.targets.targets import Targets
from groovewright.measurement.monte_carlo import draw_quantities, shortest_interval
from groovewright.measurement.quantity import Quantity
from groovewright.measurement.units import require_unit
from groovewright.tonearm.distortion import groove_speed, modulation_index, second_harmonic_ratio
from groovewright.tonearm.radius_grid import gauss_nodes
from groovewright.tonearm.tracking import tracking_error

# The ends of an interval then stand within 3 % of its width, and a page waits 10 ms for it.
DRAWS = 4_000
SEED = 20_260_101
PEAK_POINTS = 49
PROBABILITY = 0.95
LENGTHS_REMEMBERED = 128


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


@dataclass(frozen=True)
class Consequence:
    """Largest tracking error, and peak and rms of the second harmonic, over the groove range."""

    peak_tracking_error: Interval
    peak_distortion: Interval
    rms_distortion: Interval

    def describe(self, stage: str) -> str:
        """Return it as one sentence; `stage` is ``"as found"`` or ``"as left"``."""
        error, harmonic = self.peak_tracking_error, self.peak_distortion
        given = f"With the length {stage} and the offset angle on target,"
        if error.high is None or harmonic.high is None:
            return (
                f"{given} tracking error reaches {error.value:.2f}° and distortion {harmonic.value:.2f} %; how much "
                f"more it may be is not known ({error.why_unknown})."
            )
        return (
            f"{given} tracking error stays below {_rounded_up(error.high)}° and distortion below "
            f"{_rounded_up(harmonic.high)} % (95 %)."
        )


def _rounded_up(high: float) -> str:
    return f"{math.ceil(100 * high) / 100:.2f}"


@lru_cache(maxsize=LENGTHS_REMEMBERED)
def consequence_of_length(targets: Targets, length: LengthResult) -> Consequence:
    """Return what the arm does with the effective length of one stage, its cartridge at the nominal offset angle.

    Equal lengths and targets share one answer: verdicts and report both show it.

    Raises
    ------
    ValueError
        As `consequence`.
    """
    return consequence(targets, length.effective_length_error, targets.request.distance)


def consequence(
    targets: Targets,
    effective_length_error: Quantity,
    pivot_to_spindle: Quantity,
    *,
    offset_angle_error: Quantity | None = None,
    draws: int = DRAWS,
    seed: int = SEED,
) -> Consequence:
    """Return what the arm does when it is set off its targets by known errors.

    By Monte Carlo (JCGM 101) through the true geometry: the largest error over a range has no slope where two radii
    are equally bad, and the first-order formula would give no uncertainty at a null.

    Parameters
    ----------
    targets : Targets
        Of a pivoted arm.
    effective_length_error : Quantity
        Effective length less its target for the true distance. Sources shared with the distance stay correlated. [mm]
    pivot_to_spindle : Quantity
        The distance as measured. [mm]
    offset_angle_error : Quantity, optional
        Offset angle less its target for the true distance. Without it the cartridge is taken to stand at the nominal
        target angle. [deg]
    draws : int
        Number of Monte Carlo draws, at least 1000.
    seed : int
        The same seed gives the same interval.

    Raises
    ------
    ValueError
        If the arm is tangential, or at the best estimates so far off that the stylus does not reach the groove range.
        Where only some of the draws do not reach it, there is no interval, and the reason is in its place.

    References
    ----------
    .. [1] JCGM 101:2008, 5.3.4 (shortest coverage interval).
    """
    if targets.geometry is None or targets.effective_length is None or targets.offset_angle is None:
        raise ValueError("a tangential arm has no effective length to be off; its tracking error is its set error")
    if draws < 1000:
        raise ValueError(f"a 95 % interval needs 1000 draws or more, not {draws}")
    offset = targets.offset_angle
    parts = {"distance": pivot_to_spindle, "length": targets.effective_length, "length error": effective_length_error}
    if offset_angle_error is None:
        parts["offset"] = Quantity.exact(offset.value, "deg", how="nominal target")
    else:
        parts |= {"offset": offset, "offset error": offset_angle_error}
    for name, unit in (("distance", "mm"), ("length error", "mm"), ("offset error", "deg")):
        if name in parts:
            require_unit(parts[name], unit, name=name)
    nominal = _figures(targets, _errors(targets, {name: np.array([part.value]) for name, part in parts.items()}))
    unknown = next((part.why_unknown for part in parts.values() if part.components is None), "")
    if unknown:
        return _without_intervals(nominal, unknown)
    errors = _playable_errors(targets, draw_quantities(parts, trials=draws, seed=seed))
    if len(errors) < (1 + PROBABILITY) / 2 * draws:
        share = 100 * (1 - len(errors) / draws)
        why = f"errors that it allows would leave grooves out of reach in {share:.2g} % of cases"
        return _without_intervals(nominal, why)
    # A groove that cannot be played is worse than any error.
    beyond = np.full(draws - len(errors), np.inf)
    intervals = [
        Interval(float(at[0]), *_interval(np.concatenate([spread, beyond])), unit=unit)
        for at, spread, unit in zip(nominal, _figures(targets, errors), ("deg", "%", "%"), strict=True)
    ]
    return Consequence(*intervals)


def _interval(spread: NDArray[np.float64]) -> tuple[float, float]:
    return shortest_interval(spread, PROBABILITY)


def _radii_mm(targets: Targets) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return the radii looked at, those for the peaks before those for the rms, and the shares of the latter. [mm]"""
    request = targets.request
    nodes, node_weights = gauss_nodes(np.linspace(request.innermost_mm, request.outermost_mm, 4))
    evenly = np.linspace(request.innermost_mm, request.outermost_mm, PEAK_POINTS)
    return np.concatenate([evenly, nodes.ravel()]), node_weights.ravel() / len(node_weights)


def _errors(targets: Targets, at: dict[str, NDArray[np.float64]]) -> NDArray[np.float64]:
    """Return the tracking error of every draw at every radius. [deg]"""
    return tracking_error(
        _radii_mm(targets)[0],
        effective_length_mm=(at["length"] + at["length error"])[:, None],
        pivot_to_spindle_mm=at["distance"][:, None],
        offset_angle_deg=(at["offset"] + at.get("offset error", 0.0))[:, None],
    )


def _playable_errors(targets: Targets, at: dict[str, NDArray[np.float64]]) -> NDArray[np.float64]:
    """Return the tracking errors of those draws that can play the whole groove range. [deg]"""
    request = targets.request
    inner, outer = request.innermost_mm, request.outermost_mm
    length, distance = at["length"] + at["length error"], at["distance"]
    reached = (length > 0) & (distance > 0) & (np.abs(length - distance) < inner) & (length + distance > outer)
    errors = _errors(targets, {name: values[reached] for name, values in at.items()})
    # Where the groove runs back under the stylus none can follow; see `modulation_index`.
    along_mm_s = groove_speed(_radii_mm(targets)[0], speed_rpm=request.speed_rpm)
    steepest_deg = np.degrees(np.arctan2(along_mm_s, 10 * request.peak_velocity_cm_s))
    return errors[(np.abs(errors) < steepest_deg * (1 - 1e-9)).all(axis=1)]


def _without_intervals(nominal: tuple[NDArray[np.float64], ...], why: str) -> Consequence:
    error, peak, rms = (float(figure[0]) for figure in nominal)
    return Consequence(
        Interval(error, None, None, "deg", why),
        Interval(peak, None, None, "%", why),
        Interval(rms, None, None, "%", why),
    )


def _figures(targets: Targets, errors: NDArray[np.float64]) -> tuple[NDArray[np.float64], ...]:
    """Return peak error [deg], peak and rms of the second harmonic [%] of each draw, from its errors."""
    request = targets.request
    radii, shares = _radii_mm(targets)
    index = modulation_index(
        errors, radius_mm=radii, peak_velocity_cm_s=request.peak_velocity_cm_s, speed_rpm=request.speed_rpm
    )
    # The harmonic rises with the index, so its peak is that of the index.
    peak = 100 * second_harmonic_ratio(np.abs(index[:, :PEAK_POINTS]).max(axis=1))
    rms = 100 * np.sqrt(second_harmonic_ratio(index[:, PEAK_POINTS:]) ** 2 @ shares)
    return np.abs(errors[:, :PEAK_POINTS]).max(axis=1), peak, rms
