"""Tracking force of one stage of a job, from scale readings to a verdict."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from groovewright.bench.force_notes import force_faults, force_notes
from groovewright.gauges.difference import exceeds_uncertainty
from groovewright.gauges.repeatability import (
    Repeatability,
    pooled,
    repeatability_of,
    scatters_more,
)
from groovewright.gauges.rounding_error import split_rounding
from groovewright.gauges.scale_calibration import (
    ScaleCalibration,
    ScaleCheck,
    calibrate,
    check_repeatability,
    force_from_indication,
)
from groovewright.gauges.scale_drift import ScaleDrift, drift_component, mean_calibration, scale_drift
from groovewright.measurement.conformity import DecisionRule, Tolerance, Verdict, decide
from groovewright.measurement.propagation import propagate
from groovewright.measurement.quantity import Quantity, Source
from groovewright.measurement.units import GRAM_FORCE_MN, in_unit
from groovewright.tonearm.tracking_force import force_at_height, slope_between_heights

Place = Literal["outer", "middle", "inner"]
Surface = Literal["platter", "record"]


@dataclass(frozen=True, slots=True)
class ForceReading:
    """What the scale showed once with the stylus on it.

    Parameters
    ----------
    indication_mn : float
        As displayed, not corrected; a display in g is turned into mN by 9.80665 mN/g. [mN]
    place : str
        Where on the platter the scale stood: outer, middle or inner.
    platform_height : Quantity or None
        Where the stylus rested, above the plane from which the record height is counted too. None: at record
        height, so nothing is carried. [mm]
    surface : str
        What the scale stood on: platter or record.
    """

    indication_mn: float
    place: Place
    platform_height: Quantity | None = None
    surface: Surface = "platter"


@dataclass(frozen=True, slots=True)
class ForceSession:
    """All that bears on the tracking force at one stage.

    Parameters
    ----------
    readings : tuple of ForceReading
        Single readings in any order; those of one place and height are repeats.
    check_before, check_after : ScaleCheck or None
        Checks of the scale with known weights before and after the readings.
    record_height : Quantity or None
        The record's playing surface above the plane from which platform heights are counted: its thickness when
        that plane is the platter. [mm]
    height_slope : Quantity or None
        Known change of the force with stylus height; None: taken from readings at two heights. [mN/mm]
    maker_minimum, maker_maximum : Quantity or None
        The cartridge maker's range. [mN]
    mistracking_reported : bool
        Whether the complaint is mistracking.
    stage : str
        What tells these readings from others on the same scale, such as ``"as left"``: their own errors are theirs.
    """

    readings: tuple[ForceReading, ...]
    check_before: ScaleCheck | None = None
    check_after: ScaleCheck | None = None
    record_height: Quantity | None = None
    height_slope: Quantity | None = None
    maker_minimum: Quantity | None = None
    maker_maximum: Quantity | None = None
    mistracking_reported: bool = False
    stage: str = "readings"


@dataclass(frozen=True)
class ForceResult:
    """The tracking force at one stage and what it means.

    Attributes
    ----------
    scale_gain, scale_offset : Quantity or None
        Indication = offset + gain x force, midway between both checks; None without a check. [mN/mN], [mN]
    tracking_force : Quantity
        At record height, over all places read. [mN]
    outer_inner_difference : Quantity or None
        Outer minus inner at record height; None unless both were read. [mN]
    difference_shown : bool
        Whether it exceeds the uncertainty of the readings: then it is a fault of the arm.
    aim : Quantity or None
        Middle of the maker's range. [mN]
    distance_from_aim : Quantity or None
        Tracking force minus aim. [mN]
    height_slope : Quantity or None
        Change of the force with stylus height, given or found from two heights. [mN/mm]
    scale_drift : ScaleDrift or None
        Change of the scale between both checks at this force; None unless both were made.
    verdict : Verdict or None
        Against the maker's range, in g as the maker gives it; None without a range.
    faults, notes : tuple of str
        What to report as a fault of the arm or the scale; what to mind at the bench.
    """

    scale_gain: Quantity | None
    scale_offset: Quantity | None
    tracking_force: Quantity
    outer_inner_difference: Quantity | None
    difference_shown: bool
    aim: Quantity | None
    distance_from_aim: Quantity | None
    height_slope: Quantity | None
    scale_drift: ScaleDrift | None
    verdict: Verdict | None
    faults: tuple[str, ...]
    notes: tuple[str, ...]


@dataclass(frozen=True)
class _Scale:
    """The scale as its checks show it; everything None when it was not checked."""

    calibration: ScaleCalibration | None
    before: ScaleCalibration | None
    after: ScaleCalibration | None
    readings_scatter: Repeatability
    scatters_more: bool


@dataclass(frozen=True)
class _PlacedForce:
    """Repeats at one place and height, as a force where they were read."""

    place: Place
    platform_height: Quantity | None
    force: Quantity


def force_result(session: ForceSession, rule: DecisionRule) -> ForceResult:
    """Return the tracking force at record height, the difference over the platter, and the verdict.

    Parameters
    ----------
    session : ForceSession
    rule : DecisionRule
        By which the verdict on the maker's range is given.

    Returns
    -------
    ForceResult
        With an unchecked scale the force has a value and an unknown uncertainty, so nothing is shown by it.

    Raises
    ------
    ValueError
        If there is no reading, a reading is outside the calibrated range, the heights do not fit together, or the
        checks or the maker's range contradict themselves.
    """
    if not session.readings:
        raise ValueError("There is no reading of the tracking force yet.")
    scale = _checked_scale(session)
    read = _placed_forces(session, scale)
    slope = session.height_slope or _measured_slope(read)
    by_place = {
        place: _mean([_at_record_height(one, session, slope) for one in read if one.place == place], "mN")
        for place in dict.fromkeys(one.place for one in read)
    }
    difference = _difference(by_place)
    difference_shown = difference is not None and exceeds_uncertainty(difference)
    drift = _drift(session, scale)
    force = _over_the_platter(by_place, difference if difference_shown else None, drift, session)
    limits = _maker_range(session)
    aim = _aim(session)
    distance = None if aim is None else propagate(lambda f, a: f - a, {"f": force, "a": aim}, unit="mN")
    result = ForceResult(
        scale_gain=None if scale.calibration is None else scale.calibration.gain,
        scale_offset=None if scale.calibration is None else scale.calibration.offset,
        tracking_force=force,
        outer_inner_difference=difference,
        difference_shown=difference_shown,
        aim=aim,
        distance_from_aim=distance,
        height_slope=slope,
        scale_drift=drift,
        verdict=None if limits is None else decide(in_unit(force, "g"), limits, rule),
        faults=(),
        notes=(),
    )
    return replace(
        result,
        faults=force_faults(result, scale.calibration, readings_scatter_more=scale.scatters_more),
        notes=force_notes(result, session, scale.calibration),
    )


def _checked_scale(session: ForceSession) -> _Scale:
    checks = [check for check in (session.check_before, session.check_after) if check is not None]
    readings = repeatability_of([np.array(group) for group in _grouped(session.readings).values()])
    if not checks:
        return _Scale(None, None, None, readings, scatters_more=False)
    own = pooled(*(check_repeatability(check) for check in checks))
    more = scatters_more(readings, own, step_mn=checks[0].resolution_mn)
    together = own if more else pooled(own, readings)
    before, after = (
        None if check is None else calibrate(check, repeatability=together)
        for check in (session.check_before, session.check_after)
    )
    calibration = mean_calibration(before, after) if before and after else before or after
    return _Scale(calibration, before, after, readings if more else together, scatters_more=more)


def _grouped(readings: Sequence[ForceReading]) -> dict[tuple[Place, float | None], list[float]]:
    groups: dict[tuple[Place, float | None], list[float]] = {}
    for reading in readings:
        if not reading.indication_mn > 0:
            raise ValueError(
                f"a tracking-force reading of {reading.indication_mn / GRAM_FORCE_MN:g} g ({reading.place}) cannot be: "
                f"the scale must stand at 0 before the stylus is set down"
            )
        height = None if reading.platform_height is None else reading.platform_height.value
        groups.setdefault((reading.place, height), []).append(reading.indication_mn)
    return groups


def _placed_forces(session: ForceSession, scale: _Scale) -> list[_PlacedForce]:
    heights = {
        (reading.place, reading.platform_height.value): reading.platform_height
        for reading in session.readings
        if reading.platform_height is not None
    }
    placed = []
    for (place, height), indications in _grouped(session.readings).items():
        where = f"{session.stage}, {place}" + ("" if height is None else f" at {height:g} mm")
        force = _force(np.array(indications), where, scale)
        placed.append(_PlacedForce(place, None if height is None else heights[place, height], force))
    return placed


def _force(indications: np.ndarray[tuple[int], np.dtype[np.float64]], where: str, scale: _Scale) -> Quantity:
    mean = float(indications.mean())
    calibration = scale.calibration
    if calibration is None:
        why = "the scale was not checked with known weights"
        return Quantity.unknown_uncertainty(mean, "mN", why=why, how="scale reading, not corrected")
    scatter = scale.readings_scatter.standard_deviation_mn
    if scatter is None:
        why = f"nothing was read twice on {calibration.scale}, so its repeatability is not known"
        return force_from_indication(calibration, Quantity.unknown_uncertainty(mean, "mN", why=why))
    step = calibration.resolution_mn
    named = f"{calibration.scale}, stylus {where}"
    components = {
        Source(f"rounding of {named}"): split_rounding(step=step, scatter=scatter).common,
        # The display was set to 0 for these readings, as far as its last step can tell.
        Source(f"zero of {named}"): step / math.sqrt(12),
        scale.readings_scatter.source(f"repeatability of {named}", calibration.scale): scatter
        / math.sqrt(indications.size),
    }
    return force_from_indication(calibration, Quantity(mean, "mN", components))


def _measured_slope(read: Sequence[_PlacedForce]) -> Quantity | None:
    """Return the slope from the place that was read at the two heights farthest apart; None without two heights."""
    pairs = [
        (high.platform_height.value - low.platform_height.value, low, high)
        for low in read
        for high in read
        if low.place == high.place and low.platform_height is not None and high.platform_height is not None
    ]
    span, low, high = max(pairs, key=lambda pair: pair[0], default=(0.0, None, None))
    if low is None or high is None or span <= 0 or low.platform_height is None or high.platform_height is None:
        return None
    rise = propagate(
        lambda top, bottom: top - bottom, {"top": high.platform_height, "bottom": low.platform_height}, unit="mm"
    )
    return slope_between_heights(low=low.force, high=high.force, rise=rise)


def _at_record_height(read: _PlacedForce, session: ForceSession, slope: Quantity | None) -> Quantity:
    if read.platform_height is None:
        return read.force
    if session.record_height is None:
        raise ValueError(
            f"the force was read at a platform height of {read.platform_height.value:g} mm, but the record's thickness "
            f"is not given; give it, so that the reading can be carried to record height"
        )
    climb = propagate(
        lambda record, platform: record - platform,
        {"record": session.record_height, "platform": read.platform_height},
        unit="mm",
    )
    return force_at_height(read.force, climb=climb, slope=slope)


def _mean(quantities: Sequence[Quantity], unit: str) -> Quantity:
    if len(quantities) == 1:
        return quantities[0]
    named = {f"reading_{number}": quantity for number, quantity in enumerate(quantities, start=1)}
    return propagate(
        lambda **at: math.fsum(at.values()) / len(at),
        named,
        unit=unit,
        how=f"mean of {len(quantities)}; {quantities[0].how}",
    )


def _difference(by_place: dict[Place, Quantity]) -> Quantity | None:
    if "outer" not in by_place or "inner" not in by_place:
        return None
    return propagate(
        lambda outer, inner: outer - inner,
        {"outer": by_place["outer"], "inner": by_place["inner"]},
        unit="mN",
        how="outer minus inner platter, at record height",
    )


def _drift(session: ForceSession, scale: _Scale) -> ScaleDrift | None:
    if scale.before is None or scale.after is None:
        return None
    mean = math.fsum(reading.indication_mn for reading in session.readings) / len(session.readings)
    return scale_drift(scale.before, scale.after, indication_mn=mean)


def _over_the_platter(
    by_place: dict[Place, Quantity], fault: Quantity | None, drift: ScaleDrift | None, session: ForceSession
) -> Quantity:
    """Return the mean over all places; a difference that is a fault, and a drift, widen it."""
    mean = _mean(list(by_place.values()), "mN")
    if mean.components is None:
        return mean
    components = dict(mean.components)
    if fault is not None:
        source = Source(f"tracking force differs over the platter, {session.stage}")
        components[source] = abs(fault.value) / math.sqrt(12)
    if drift is not None:
        check = session.check_before
        between = drift_component(drift, scale="the scale" if check is None else check.scale)
        components.update(between.components or {})
    return Quantity(mean.value, "mN", components, how=mean.how)


def _maker_range(session: ForceSession) -> Tolerance | None:
    low, high = session.maker_minimum, session.maker_maximum
    if low is None and high is None:
        return None
    low_g = None if low is None else round(low.value / GRAM_FORCE_MN, 9)
    high_g = None if high is None else round(high.value / GRAM_FORCE_MN, 9)
    if low_g is not None and high_g is not None and not low_g < high_g:
        raise ValueError(
            f"the maker's range runs from {low_g:g} to {high_g:g} g; its minimum must be below its maximum"
        )
    return Tolerance(low_g, high_g, "g")


def _aim(session: ForceSession) -> Quantity | None:
    if session.maker_minimum is None or session.maker_maximum is None:
        return None
    middle = (session.maker_minimum.value + session.maker_maximum.value) / 2
    return Quantity.exact(middle, "mN", how="middle of the maker's range")
