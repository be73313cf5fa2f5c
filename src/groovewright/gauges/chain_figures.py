"""What a gauge chain allows the set-up to be off by: worst case, root sum square and Monte Carlo, side by side."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Literal, TypeAlias

import numpy as np
from numpy.typing import NDArray

from groovewright.gauges.gauge_chain import GaugeChain, Joint, StackResult, stack_with
from groovewright.gauges.groove_peaks import (
    distortion_percent,
    peak_distortions_percent,
    peak_tracking_errors_deg,
    tracking_errors_deg,
)
from groovewright.gauges.set_ups import GaugeAim, SetUps, draw_errors, errors_at, parts_of, set_ups
from groovewright.measurement.monte_carlo import FEWEST_TRIALS, shortest_interval

Array: TypeAlias = NDArray[np.float64]
FigureKey = Literal["overhang", "effective_length_error", "zenith_error", "peak_tracking_error", "peak_distortion"]
PROBABILITY = 0.95
STEP = 1e-4
"""Of the central differences, in mm, deg or %: the geometry is straight over it."""
CHUNK = 25_000
"""Draws worked out at a time, so that their arrays stay in the processor's own memory."""
CURVE_POINTS = 61
CURVE_DRAWS = 10_000
MOST_LOST = 0.01
"""Share of the set-ups that may fail to play the groove range before the chain is refused."""


@dataclass(frozen=True, slots=True)
class Figure:
    """One thing that a gauge makes uncertain, by the three ways of stacking.

    Attributes
    ----------
    title, unit : str
    value : float
        With no joint off but for its known error. [`unit`]
    worst_case, root_sum_square : tuple of float or None, and float
        Ends of what the joints allow by tolerances alone; of a peak only the upper end is of interest. [`unit`]
    interval : tuple of float or None, and float
        95 % of the drawn set-ups lie between; of a peak 95 % lie below. [`unit`]
    mean, standard_uncertainty : float
        Of the draws. [`unit`]
    """

    title: str
    unit: str
    value: float
    worst_case: tuple[float | None, float]
    root_sum_square: tuple[float | None, float]
    interval: tuple[float | None, float]
    mean: float
    standard_uncertainty: float

    def as_json(self) -> dict[str, Any]:
        """Return plain JSON types in the form of a quantity, with the ends of the three ways."""
        return {
            "value": self.value,
            "unit": self.unit,
            "standard_uncertainty": self.standard_uncertainty,
            "worst_case": _finite(self.worst_case),
            "root_sum_square": _finite(self.root_sum_square),
            "interval_95_percent": _finite(self.interval),
        }


def _finite(ends: tuple[float | None, float]) -> list[float | None]:
    """Return both ends; null where there is none, as where a groove could not be followed."""
    return [None if end is None or not math.isfinite(end) else end for end in ends]


@dataclass(frozen=True, slots=True)
class BudgetLine:
    """How much of the variance of effective length and of zenith one joint is to blame for. [1]"""

    joint: str
    length_share: float
    zenith_share: float


@dataclass(frozen=True, eq=False)
class GaugeCurves:
    """Over the groove: between which tracking errors 95 % of the set-ups lie, and below which distortion.

    Attributes
    ----------
    radius_mm, lowest_error_deg, highest_error_deg, distortion_percent : ndarray, shape (n,)
        [mm], [deg], [deg], [%]
    """

    radius_mm: Array
    lowest_error_deg: Array
    highest_error_deg: Array
    distortion_percent: Array


@dataclass(frozen=True, eq=False)
class ChainFigures:
    """All that a chain says of the set-ups it gives.

    Attributes
    ----------
    figures : mapping of str to Figure
    budget : tuple of BudgetLine
        In the order of the joints.
    curves : GaugeCurves
    length_errors_mm, zenith_errors_deg : ndarray, shape (draws,)
        Paired: of one and the same set-up. [mm], [deg]
    draws : int
    """

    figures: Mapping[FigureKey, Figure]
    budget: tuple[BudgetLine, ...]
    curves: GaugeCurves
    length_errors_mm: Array
    zenith_errors_deg: Array
    draws: int


def chain_figures(
    chain: GaugeChain, aim: GaugeAim, *, peak_velocity_cm_s: float, speed_rpm: float, draws: int, seed: int
) -> ChainFigures:
    """Return what a gauge allows the set-up to be off by.

    Worst case and root sum square add the joints up by their slopes at the aim. Monte Carlo draws every joint and goes
    through the geometry itself.

    Parameters
    ----------
    chain : GaugeChain
    aim : GaugeAim
    peak_velocity_cm_s, speed_rpm : float
        For the distortion. [cm/s], [rpm]
    draws, seed : int
        Number of draws, and the seed that makes them repeatable.

    Raises
    ------
    ValueError
        If the aim lacks what the gauge sets by, there are fewer than 1000 draws, or the plays are so large that the arm
        often could not play the groove range.

    References
    ----------
    .. [1] JCGM 101:2008, clauses 5.9 and 7 (Monte Carlo), 5.3.4 (shortest coverage interval).
    .. [2] F. W. Scholz, Tolerance Stack Analysis Methods, Boeing, 1995 (worst case and root sum square).
    """
    if draws < FEWEST_TRIALS:
        raise ValueError(f"{draws} draws show nothing of the tails; draw at least {FEWEST_TRIALS}")

    def percent(error_deg: Array, radius_mm: Array) -> Array:
        return distortion_percent(error_deg, radius_mm, peak_velocity_cm_s=peak_velocity_cm_s, speed_rpm=speed_rpm)

    def peaks(arms: SetUps) -> Array:
        return peak_distortions_percent(arms, peak_velocity_cm_s=peak_velocity_cm_s, speed_rpm=speed_rpm)

    drawn, curves = _drawn(chain, aim, peaks, percent, draws=draws, seed=seed)
    lost = float(np.count_nonzero(np.isinf(drawn["peak_distortion"]))) / draws
    if lost > MOST_LOST:
        raise ValueError(
            f"{chain.name}: in {100 * lost:.2g} % of its set-ups the arm could not play the groove range; check the "
            "plays and their units"
        )
    middle = _known_set_up(chain, aim)
    parts, slopes = _slopes(chain, aim, curves.radius_mm)
    stacks = {key: stack_with(list(zip(parts, slopes[key], strict=True))) for key in ("overhang", *_ERRORS)}
    values = {
        "overhang": middle.overhang_mm,
        "effective_length_error": middle.effective_length_error_mm,
        "zenith_error": middle.zenith_error_deg,
    }
    figures: dict[FigureKey, Figure] = {
        key: _two_sided(key, float(values[key][0]), stacks[key], drawn[key]) for key in ("overhang", *_ERRORS)
    }
    worst, square = _peaks_by_tolerances(parts, slopes["errors"], middle, curves.radius_mm, percent)
    starts = (float(peak_tracking_errors_deg(middle)[0]), float(peaks(middle)[0]))
    for k, key in enumerate(_PEAKS):
        figures[key] = _peak(key, starts[k], worst[k], square[k], drawn[key])
    return ChainFigures(
        figures=figures,
        budget=_budget(chain, parts, slopes),
        curves=curves,
        length_errors_mm=drawn["effective_length_error"],
        zenith_errors_deg=drawn["zenith_error"],
        draws=draws,
    )


_ERRORS: tuple[FigureKey, ...] = ("effective_length_error", "zenith_error")
_PEAKS: tuple[FigureKey, ...] = ("peak_tracking_error", "peak_distortion")
FIGURES: dict[FigureKey, tuple[str, str]] = {
    "overhang": ("Overhang", "mm"),
    "effective_length_error": ("Effective length error", "mm"),
    "zenith_error": ("Zenith error", "deg"),
    "peak_tracking_error": ("Peak tracking error", "deg"),
    "peak_distortion": ("Peak distortion", "%"),
}


def _drawn(
    chain: GaugeChain,
    aim: GaugeAim,
    peaks: Callable[[SetUps], Array],
    percent: Callable[[Array, Array], Array],
    *,
    draws: int,
    seed: int,
) -> tuple[dict[FigureKey, Array], GaugeCurves]:
    generator = np.random.default_rng(seed)
    found: dict[FigureKey, Array] = {key: np.empty(draws) for key in FIGURES}
    radii_mm = np.linspace(aim.innermost_mm, aim.outermost_mm, CURVE_POINTS)
    curves: GaugeCurves | None = None
    for start in range(0, draws, CHUNK):
        here = slice(start, min(start + CHUNK, draws))
        count = here.stop - here.start
        arms = set_ups(chain, aim, draw_errors(chain, count, generator), count)
        found["overhang"][here] = arms.overhang_mm
        found["effective_length_error"][here] = arms.effective_length_error_mm
        found["zenith_error"][here] = arms.zenith_error_deg
        found["peak_tracking_error"][here] = peak_tracking_errors_deg(arms)
        found["peak_distortion"][here] = peaks(arms)
        if curves is None:
            curves = _curves(arms, radii_mm, percent)
    assert curves is not None
    return found, curves


def _curves(arms: SetUps, radii_mm: Array, percent: Callable[[Array, Array], Array]) -> GaugeCurves:
    some = slice(0, CURVE_DRAWS)
    fewer = SetUps(
        arms.aim, arms.effective_length_mm[some], arms.pivot_to_spindle_mm[some], arms.offset_angle_deg[some]
    )
    # Turned so that the draws of one radius lie beside each other.
    errors = np.ascontiguousarray(tracking_errors_deg(fewer, radii_mm).T)
    last = errors.shape[1] - 1
    low, high = round((1 - PROBABILITY) / 2 * last), round((1 + PROBABILITY) / 2 * last)
    ends = np.partition(errors, (low, high), axis=1)
    most = round(PROBABILITY * last)
    harmonic = np.partition(np.abs(errors), most, axis=1)[:, most]
    return GaugeCurves(radii_mm, ends[:, low], ends[:, high], percent(harmonic, radii_mm))


def _known_set_up(chain: GaugeChain, aim: GaugeAim) -> SetUps:
    """Return the one set-up with no joint off but for its known error."""
    known = np.array([[joint.nominal] for joint, _ in parts_of(chain)])
    return set_ups(chain, aim, errors_at(chain, known), 1)


def _slopes(chain: GaugeChain, aim: GaugeAim, radii_mm: Array) -> tuple[list[Joint], dict[str, Array]]:
    """Return the independent parts, and by how much each moves every result, shape (parts,) or (parts, radii)."""
    parts = [joint for joint, _ in parts_of(chain)]
    known = np.array([joint.nominal for joint in parts])[:, None]
    moves = STEP * np.hstack([np.eye(len(parts)), -np.eye(len(parts))])
    arms = set_ups(chain, aim, errors_at(chain, known + moves), 2 * len(parts))
    results = {
        "overhang": arms.overhang_mm,
        "effective_length_error": arms.effective_length_error_mm,
        "zenith_error": arms.zenith_error_deg,
        "errors": tracking_errors_deg(arms, radii_mm),
    }
    count = len(parts)
    return parts, {key: (found[:count] - found[count:]) / (2 * STEP) for key, found in results.items()}


def _two_sided(key: FigureKey, value: float, stacked: StackResult, drawn: Array) -> Figure:
    title, unit = FIGURES[key]
    return Figure(
        title=title,
        unit=unit,
        value=value,
        worst_case=(value - stacked.worst_case, value + stacked.worst_case),
        root_sum_square=(value - stacked.root_sum_square, value + stacked.root_sum_square),
        interval=shortest_interval(drawn, PROBABILITY),
        mean=float(drawn.mean()),
        standard_uncertainty=float(drawn.std(ddof=1)),
    )


def _peak(key: FigureKey, value: float, worst: float, square: float, drawn: Array) -> Figure:
    title, unit = FIGURES[key]
    most = math.ceil(PROBABILITY * drawn.size) - 1
    kept = drawn if np.isfinite(drawn).all() else drawn[np.isfinite(drawn)]
    return Figure(
        title=title,
        unit=unit,
        value=value,
        worst_case=(None, worst),
        root_sum_square=(None, square),
        interval=(None, float(np.partition(drawn, most)[most])),
        mean=float(kept.mean()),
        standard_uncertainty=float(kept.std(ddof=1)),
    )


def _peaks_by_tolerances(
    parts: Sequence[Joint],
    slopes: Array,
    middle: SetUps,
    radii_mm: Array,
    percent: Callable[[Array, Array], Array],
) -> tuple[tuple[float, float], tuple[float, float]]:
    """Return the highest tracking error [deg] and distortion [%] by worst case and by root sum square."""
    allowed = np.abs(slopes) * np.array([joint.tolerance for joint in parts])[:, None]
    start = np.abs(tracking_errors_deg(middle, radii_mm)[0])
    found = []
    for off in (allowed.sum(axis=0), np.sqrt((allowed**2).sum(axis=0))):
        # Beyond a right angle there is nothing worse.
        errors = np.minimum(start + off, 89.9)
        found.append((float(errors.max()), float(percent(errors, radii_mm).max())))
    return found[0], found[1]


def _budget(chain: GaugeChain, parts: Sequence[Joint], slopes: Mapping[str, Array]) -> tuple[BudgetLine, ...]:
    spread = np.array([joint.standard_uncertainty for joint in parts])
    names = np.array([joint.name for joint in parts])
    shares = []
    for key in _ERRORS:
        variance = (slopes[key] * spread) ** 2
        total = float(variance.sum()) or 1.0
        shares.append([float(variance[names == joint.name].sum()) / total for joint in chain.joints])
    return tuple(
        BudgetLine(joint.name, length, zenith) for joint, length, zenith in zip(chain.joints, *shares, strict=True)
    )
