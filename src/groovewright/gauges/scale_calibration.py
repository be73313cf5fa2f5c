"""Calibration of a tracking-force scale from readings of known weights."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from groovewright.gauges.check_weights import CheckWeight, total_mass
from groovewright.gauges.repeatability import Repeatability, repeatability_of
from groovewright.gauges.rounding_error import split_rounding
from groovewright.measurement.propagation import propagate_all
from groovewright.measurement.quantity import Quantity, Source, covariance
from groovewright.measurement.units import GRAM_FORCE_MN

GAIN_UNIT = "1"

GRAVITY_REMARK = (
    "forces are in grams-force under standard gravity, 9.80665 mN/g, because scale and check weights stood in one place"
)

# A load whose residual is larger than this share of honest ones would be is shown as off the line.
_RESIDUAL_RISK = 0.01


@dataclass(frozen=True, slots=True)
class WeightReading:
    """What the scale showed once with known weights on it.

    Parameters
    ----------
    weights : tuple of CheckWeight
        What lay on the pan; empty for the empty pan.
    indication_mn : float
        What the scale showed; a display in g is turned into mN by 9.80665 mN/g. [mN]
    """

    weights: tuple[CheckWeight, ...]
    indication_mn: float


@dataclass(frozen=True, slots=True)
class ScaleCheck:
    """One check of one scale with known weights.

    Parameters
    ----------
    scale : str
        The scale's name in the workshop, for example ``"Scale 2"``.
    occasion : str
        What tells this check from others of the same scale, for example ``"before the job"``.
    resolution_mn : float
        Last step of the display: 0.01 g is 0.0980665 mN. [mN]
    readings : tuple of WeightReading
        In any order; readings of the same weights are repeats.
    stated_repeatability_mn : float or None
        Standard deviation of one indication as stated by the maker or an earlier check; used only while nothing
        was read twice. [mN]
    """

    scale: str
    occasion: str
    resolution_mn: float
    readings: tuple[WeightReading, ...]
    stated_repeatability_mn: float | None = None


@dataclass(frozen=True, slots=True)
class LoadResidual:
    """How far one load's mean indication lies from the fitted line.

    Attributes
    ----------
    load : str
        Names of the weights, or ``"empty pan"``.
    residual_mn, standard_uncertainty_mn : float
        The residual, and how large it may be expected. [mN]
    shown : bool
        Whether it is larger than its uncertainty and half a step of the display allow.
    """

    load: str
    residual_mn: float
    standard_uncertainty_mn: float
    shown: bool


@dataclass(frozen=True)
class ScaleCalibration:
    """What known weights say about a scale: indication = offset + gain x force.

    Attributes
    ----------
    scale, occasion : str
        As in the check.
    gain, offset : Quantity
        Correlated through the sources they share. [1], [mN]
    lowest_mn, highest_mn : float
        Range of the loads; nothing outside is ever converted. [mN]
    resolution_mn : float
        Last step of the display. [mN]
    repeatability : Repeatability
        Of single indications.
    residuals : tuple of LoadResidual
        One for each load, from light to heavy.
    faults, notes : tuple of str
        What speaks against the scale; what the check cannot show.
    """

    scale: str
    occasion: str
    gain: Quantity
    offset: Quantity
    lowest_mn: float
    highest_mn: float
    resolution_mn: float
    repeatability: Repeatability
    residuals: tuple[LoadResidual, ...]
    faults: tuple[str, ...]
    notes: tuple[str, ...]


@dataclass(frozen=True)
class _Load:
    label: str
    force: Quantity
    indications: NDArray[np.float64]


def calibrate(check: ScaleCheck, *, repeatability: Repeatability | None = None) -> ScaleCalibration:
    """Return the straight line through the readings of known weights, with what is known of its two numbers.

    The weights' own errors are common to all their readings. Repeats of one load share the part of the rounding
    error that noise does not dither away.

    Parameters
    ----------
    check : ScaleCheck
        At least two different loads, of which the empty pan may be one.
    repeatability : Repeatability, optional
        Of the scale, where more is known of it than this check shows.

    Returns
    -------
    ScaleCalibration

    Raises
    ------
    ValueError
        If there are fewer than two loads: one load cannot tell offset from gain. Also if the loads and indications
        do not belong to one working scale.

    Notes
    -----
    Generalised least squares; errors of the weights enter through the slope (effective variance), which is found in
    a second pass. Air buoyancy, 1.5 parts in 10,000 of a conventional mass, is left out: it is a thirtieth of the
    usual display's last step at 2 g.

    References
    ----------
    .. [1] JCGM 100:2008, H.3 (line with correlated intercept and slope) and 4.2.4 (pooled scatter).
    """
    loads = _loads(check)
    repeatability = repeatability or check_repeatability(check)
    scatter = repeatability.standard_deviation_mn or 0.0
    rounding = split_rounding(step=check.resolution_mn, scatter=scatter)

    forces = np.array([load.force.value for load in loads])
    means = np.array([load.indications.mean() for load in loads])
    counts = np.array([load.indications.size for load in loads])
    readings_covariance = np.diag(rounding.common**2 + scatter**2 / counts)
    weights_covariance = np.array([[covariance(a.force, b.force) for b in loads] for a in loads])
    design = np.column_stack([np.ones_like(forces), forces])

    slope = 1.0
    for _ in range(2):
        total = readings_covariance + slope**2 * weights_covariance
        inverse = np.linalg.inv(total)
        to_line = np.linalg.solve(design.T @ inverse @ design, design.T @ inverse)
        intercept, slope = (float(number) for number in to_line @ means)
    if not 0.5 < slope < 2:
        raise ValueError(
            f"{check.scale} shows {slope:.3g} g for each g laid on it ({check.occasion}); "
            f"check which weight belongs to which reading, and their units"
        )

    residual_covariance = total - design @ np.linalg.solve(design.T @ inverse @ design, design.T)
    residuals = _residuals(check, loads, means - design @ to_line @ means, residual_covariance, repeatability)
    offset, gain = _line(
        check,
        loads,
        to_line,
        estimates=(intercept, slope),
        repeatability=repeatability,
        common_rounding=rounding.common,
    )
    return ScaleCalibration(
        scale=check.scale,
        occasion=check.occasion,
        gain=gain,
        offset=offset,
        lowest_mn=float(forces.min()),
        highest_mn=float(forces.max()),
        resolution_mn=check.resolution_mn,
        repeatability=repeatability,
        residuals=residuals,
        faults=_faults(check, residuals),
        notes=_notes(check, loads, repeatability),
    )


def check_repeatability(check: ScaleCheck) -> Repeatability:
    """Return the scatter of the scale as repeats in the check show it, or as stated if nothing was read twice."""
    repeated = repeatability_of([load.indications for load in _loads(check)])
    if repeated.standard_deviation_mn is None:
        return Repeatability(check.stated_repeatability_mn, math.inf)
    return repeated


def refuse_outside_range(calibration: ScaleCalibration, indication_mn: float) -> None:
    """Raise ValueError if an indication belongs to a force outside the calibrated range; half a step is allowed."""
    force_mn = (indication_mn - calibration.offset.value) / calibration.gain.value
    slack_mn = calibration.resolution_mn / 2
    if calibration.lowest_mn - slack_mn <= force_mn <= calibration.highest_mn + slack_mn:
        return
    lowest_g, highest_g = calibration.lowest_mn / GRAM_FORCE_MN, calibration.highest_mn / GRAM_FORCE_MN
    raise ValueError(
        f"{calibration.scale} is calibrated from {lowest_g:.4g} to {highest_g:.4g} g "
        f"({calibration.lowest_mn:.3g} to {calibration.highest_mn:.3g} mN); "
        f"{force_mn / GRAM_FORCE_MN:.4g} g ({force_mn:.3g} mN) is outside. Use another or extend its calibration."
    )


def force_from_indication(calibration: ScaleCalibration, indication: Quantity) -> Quantity:
    """Return the force that made the scale show this, with the calibration's correlated errors.

    Parameters
    ----------
    calibration : ScaleCalibration
    indication : Quantity
        Mean of what was displayed, with the errors of the reading itself. [mN]

    Returns
    -------
    Quantity
        Force. [mN]

    Raises
    ------
    ValueError
        If the force lies outside the calibrated range; nothing is extrapolated.
    """
    refuse_outside_range(calibration, indication.value)
    return propagate_all(
        lambda **at: {"force": (at["reading"] - at["offset of the scale"]) / at["gain of the scale"]},
        {"reading": indication, "offset of the scale": calibration.offset, "gain of the scale": calibration.gain},
        units={"force": "mN"},
        how=f"read on {calibration.scale} ({calibration.occasion}); {GRAVITY_REMARK}",
    )["force"]


def _loads(check: ScaleCheck) -> list[_Load]:
    if not (check.resolution_mn > 0 and math.isfinite(check.resolution_mn)):
        raise ValueError(f"{check.scale} has a resolution of {check.resolution_mn:g} mN; the last step must be above 0")
    grouped: dict[frozenset[str], tuple[tuple[CheckWeight, ...], list[float]]] = {}
    for reading in check.readings:
        key = frozenset(weight.name for weight in reading.weights)
        grouped.setdefault(key, (reading.weights, []))[1].append(reading.indication_mn)
    loads = [
        _Load(
            label=" and ".join(weight.name for weight in weights) or "empty pan",
            force=_weight_force(weights),
            indications=np.array(indications),
        )
        for weights, indications in grouped.values()
    ]
    loads.sort(key=lambda load: load.force.value)
    if len({round(load.force.value, 9) for load in loads}) < 2:
        read = loads[0].label if loads else "none"
        raise ValueError(
            f"{check.scale} was checked with one load ({read}; {check.occasion}), which cannot tell its offset from "
            f"its gain. Read a second weight, or write down what the empty pan shows."
        )
    return loads


def _weight_force(weights: tuple[CheckWeight, ...]) -> Quantity:
    mass = total_mass(weights)
    components = {source: GRAM_FORCE_MN * u for source, u in (mass.components or {}).items()}
    return Quantity(GRAM_FORCE_MN * mass.value, "mN", components)


def _line(
    check: ScaleCheck,
    loads: list[_Load],
    to_line: NDArray[np.float64],
    *,
    estimates: tuple[float, float],
    repeatability: Repeatability,
    common_rounding: float,
) -> tuple[Quantity, Quantity]:
    """Return offset and gain with every cause as a source of its own, so that whatever shares it is correlated."""
    how = f"{check.scale} ({check.occasion}), line through {len(loads)} loads"
    if repeatability.standard_deviation_mn is None:
        why = (
            f"nothing was read twice on {check.scale} ({check.occasion}), so its repeatability is not known; "
            f"read one weight three times or state the repeatability"
        )
        return (
            Quantity.unknown_uncertainty(estimates[0], "mN", why=why, how=how),
            Quantity.unknown_uncertainty(estimates[1], GAIN_UNIT, why=why, how=how),
        )
    offset_parts: dict[Source, float] = {}
    gain_parts: dict[Source, float] = {}

    def add(source: Source, indication_mn: float, column: int) -> None:
        offset_parts[source] = offset_parts.get(source, 0.0) + float(to_line[0, column]) * indication_mn
        gain_parts[source] = gain_parts.get(source, 0.0) + float(to_line[1, column]) * indication_mn

    gain = estimates[1]
    for column, load in enumerate(loads):
        where = f"{check.scale} ({check.occasion}), {load.label}"
        for source, contribution in (load.force.components or {}).items():
            # A weight that is heavier than believed makes the line read too high.
            add(source, -gain * contribution, column)
        add(Source(f"rounding of {where}", rectangular=True), common_rounding, column)
        scatter = repeatability.standard_deviation_mn / math.sqrt(load.indications.size)
        add(repeatability.source(f"repeatability of {where}", check.scale), scatter, column)
    return (
        Quantity(estimates[0], "mN", offset_parts, how=how),
        Quantity(gain, GAIN_UNIT, gain_parts, how=how),
    )


def _residuals(
    check: ScaleCheck,
    loads: list[_Load],
    residuals: NDArray[np.float64],
    residual_covariance: NDArray[np.float64],
    repeatability: Repeatability,
) -> tuple[LoadResidual, ...]:
    uncertainties = np.sqrt(np.clip(np.diag(residual_covariance), 0.0, None))
    can_show = len(loads) > 2 and repeatability.standard_deviation_mn is not None
    factor = _two_sided_factor(_RESIDUAL_RISK / len(loads), repeatability.degrees_of_freedom)
    return tuple(
        LoadResidual(
            load.label,
            float(residual),
            float(u),
            shown=bool(can_show and abs(residual) > max(factor * u, check.resolution_mn / 2)),
        )
        for load, residual, u in zip(loads, residuals, uncertainties, strict=True)
    )


def _two_sided_factor(risk: float, degrees_of_freedom: float) -> float:
    from scipy.special import ndtri, stdtrit

    if math.isinf(degrees_of_freedom):
        return float(ndtri(1 - risk / 2))
    return float(stdtrit(degrees_of_freedom, 1 - risk / 2))


def _faults(check: ScaleCheck, residuals: tuple[LoadResidual, ...]) -> tuple[str, ...]:
    shown = [residual for residual in residuals if residual.shown]
    if not shown:
        return ()
    worst = max(shown, key=lambda residual: abs(residual.residual_mn))
    return (
        f"{check.scale} ({check.occasion}): {worst.load} reads {worst.residual_mn / GRAM_FORCE_MN:+.3f} g off the "
        f"straight line through the loads, more than weights and readings can explain. Look for a wrong weight, a "
        f"wrong entry or a scale that is not straight, and check it again.",
    )


def _notes(check: ScaleCheck, loads: list[_Load], repeatability: Repeatability) -> tuple[str, ...]:
    notes = []
    if len(loads) == 2:
        notes.append(
            f"Two loads fix the line of {check.scale} but cannot show whether it is straight; a third one would."
        )
    if repeatability.standard_deviation_mn is None:
        notes.append(
            f"Nothing was read twice on {check.scale} ({check.occasion}): read one weight three times, or state the "
            f"scale's repeatability, to know the uncertainty."
        )
    # Practice in the trade, without a source: one of the weights near the forces in use.
    if not any(abs(load.force.value / GRAM_FORCE_MN - 2) < 0.1 for load in loads):
        notes.append(f"No check weight of 2 g was used on {check.scale}; one near the forces in use shows most.")
    return tuple(notes)
