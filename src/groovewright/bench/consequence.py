"""What an arm set off its targets does: tracking error and distortion with their coverage intervals."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from groovewright.bench.targets import Targets
from groovewright.measurement.monte_carlo import draw_quantities, shortest_interval
from groovewright.measurement.quantity import Quantity
from groovewright.measurement.units import require_unit
from groovewright.tonearm.distortion import modulation_index, second_harmonic_ratio
from groovewright.tonearm.radius_grid import gauss_nodes
from groovewright.tonearm.tracking import tracking_error

DRAWS = 20_000
SEED = 20_260_101
PEAK_POINTS = 49


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
    nominal = _figures(targets, {name: np.array([part.value]) for name, part in parts.items()})
    unknown = next((part.why_unknown for part in parts.values() if part.components is None), "")
    if unknown:
        return _without_intervals(nominal, unknown)
    errors = draw_quantities(parts, trials=draws, seed=seed)
    try:
        drawn = _figures(targets, errors)
    except ValueError as refusal:
        return _without_intervals(nominal, f"errors that it allows would leave grooves out of reach ({refusal})")
    intervals = [
        Interval(float(at[0]), *shortest_interval(spread), unit=unit)
        for at, spread, unit in zip(nominal, drawn, ("deg", "%", "%"), strict=True)
    ]
    return Consequence(*intervals)


def _without_intervals(nominal: tuple[NDArray[np.float64], ...], why: str) -> Consequence:
    error, peak, rms = (float(figure[0]) for figure in nominal)
    return Consequence(
        Interval(error, None, None, "deg", why),
        Interval(peak, None, None, "%", why),
        Interval(rms, None, None, "%", why),
    )


def _figures(targets: Targets, at: dict[str, NDArray[np.float64]]) -> tuple[NDArray[np.float64], ...]:
    request = targets.request
    nodes, node_weights = gauss_nodes(np.linspace(request.innermost_mm, request.outermost_mm, 4))
    radii = np.concatenate([np.linspace(request.innermost_mm, request.outermost_mm, PEAK_POINTS), nodes.ravel()])
    error = tracking_error(
        radii,
        effective_length_mm=(at["length"] + at["length error"])[:, None],
        pivot_to_spindle_mm=at["distance"][:, None],
        offset_angle_deg=(at["offset"] + at.get("offset error", 0.0))[:, None],
    )
    index = modulation_index(
        error, radius_mm=radii, peak_velocity_cm_s=request.peak_velocity_cm_s, speed_rpm=request.speed_rpm
    )
    # The harmonic rises with the index, so its peak is that of the index.
    peak = 100 * second_harmonic_ratio(np.abs(index[:, :PEAK_POINTS]).max(axis=1))
    squares = second_harmonic_ratio(index[:, PEAK_POINTS:]) ** 2
    rms = 100 * np.sqrt(squares @ (node_weights.ravel() / len(node_weights)))
    return np.abs(error[:, :PEAK_POINTS]).max(axis=1), peak, rms
