"""Tracking force of one stage of a job, from scale readings to a verdict."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

from groovewright.bench.forces.force_notes import force_faults, force_notes
from groovewright.bench.forces.force_result import ForceResult
from groovewright.bench.forces.force_session import ForceReading, ForceSession, Place, Surface
from groovewright.bench.forces.scale_readings import CheckedScale, PlacedForce, checked_scale, placed_forces
from groovewright.gauges.difference import exceeds_uncertainty
from groovewright.gauges.scale_drift import ScaleDrift, drift_component, scale_drift
from groovewright.measurement.conformity import DecisionRule, Tolerance, decide
from groovewright.measurement.propagation import propagate
from groovewright.measurement.quantity import Quantity, Source
from groovewright.measurement.units import GRAM_FORCE_MN, in_unit
from groovewright.tonearm.tracking_force import force_at_height, slope_between_heights

__all__ = ["ForceReading", "ForceResult", "ForceSession", "Place", "Surface", "force_result"]


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
    typed, session = session, session.with_assumed_heights()
    scale = checked_scale(session)
    read = placed_forces(session, scale)
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
    distance = None if aim is None else _less(force, aim)
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
        notes=force_notes(result, typed, scale.calibration),
    )


def _measured_slope(read: Sequence[PlacedForce]) -> Quantity | None:
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
        lambda **at: at["upper platform height"] - at["lower platform height"],
        {"upper platform height": high.platform_height, "lower platform height": low.platform_height},
        unit="mm",
    )
    return slope_between_heights(low=low.force, high=high.force, rise=rise)


def _at_record_height(read: PlacedForce, session: ForceSession, slope: Quantity | None) -> Quantity:
    if read.platform_height is None:
        return read.force
    if session.record_height is None:
        raise ValueError(
            f"the force was read at a platform height of {read.platform_height.value:g} mm, but the record's thickness "
            f"is not given; give it, so that the reading can be carried to record height"
        )
    climb = propagate(
        lambda **at: at["record height"] - at["platform height"],
        {"record height": session.record_height, "platform height": read.platform_height},
        unit="mm",
    )
    return force_at_height(read.force, climb=climb, slope=slope)


def _mean(quantities: Sequence[Quantity], unit: str) -> Quantity:
    if len(quantities) == 1:
        return quantities[0]
    named = {f"reading {number}": quantity for number, quantity in enumerate(quantities, start=1)}
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
        lambda **at: at["outer reading"] - at["inner reading"],
        {"outer reading": by_place["outer"], "inner reading": by_place["inner"]},
        unit="mN",
        how="outer minus inner platter, at record height",
    )


def _drift(session: ForceSession, scale: CheckedScale) -> ScaleDrift | None:
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


def _less(force: Quantity, aim: Quantity) -> Quantity:
    return propagate(
        lambda **at: at["tracking force"] - at["aim"],
        {"tracking force": force, "aim": aim},
        unit="mN",
        how="tracking force minus the middle of the maker's range",
    )


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
