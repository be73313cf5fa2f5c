"""From what a checked scale showed with the stylus on it to forces where they were read."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from groovewright.bench.forces.force_session import ForceReading, ForceSession, Place
from groovewright.gauges.repeatability import Repeatability, pooled, repeatability_of, scatters_more
from groovewright.gauges.rounding_error import split_rounding
from groovewright.gauges.scale_calibration import (
    ScaleCalibration,
    calibrate,
    check_repeatability,
    force_from_indication,
)
from groovewright.gauges.scale_drift import mean_calibration
from groovewright.measurement.quantity import Quantity, Source
from groovewright.measurement.units import GRAM_FORCE_MN


@dataclass(frozen=True)
class CheckedScale:
    """The scale as its checks show it; everything None when it was not checked."""

    calibration: ScaleCalibration | None
    before: ScaleCalibration | None
    after: ScaleCalibration | None
    readings_scatter: Repeatability
    scatters_more: bool


@dataclass(frozen=True)
class PlacedForce:
    """Repeats at one place and height, as a force where they were read."""

    place: Place
    platform_height: Quantity | None
    force: Quantity


def checked_scale(session: ForceSession) -> CheckedScale:
    """Return the scale as its checks show it, its scatter pooled over weights and stylus where both are alike.

    Raises
    ------
    ValueError
        If a check cannot calibrate the scale, or both checks do not belong together.
    """
    checks = [check for check in (session.check_before, session.check_after) if check is not None]
    readings = repeatability_of([np.array(group) for group in _grouped(session.readings).values()])
    if not checks:
        return CheckedScale(None, None, None, readings, scatters_more=False)
    own = pooled(*(check_repeatability(check) for check in checks))
    more = scatters_more(readings, own, step_mn=checks[0].resolution_mn)
    together = own if more else pooled(own, readings)
    before, after = (
        None if check is None else calibrate(check, repeatability=together)
        for check in (session.check_before, session.check_after)
    )
    calibration = mean_calibration(before, after) if before and after else before or after
    return CheckedScale(calibration, before, after, readings if more else together, scatters_more=more)


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


def placed_forces(session: ForceSession, scale: CheckedScale) -> list[PlacedForce]:
    """Return the force at each place and height that was read, from the mean of its repeats.

    Raises
    ------
    ValueError
        If a reading is not above 0 or outside the calibrated range.
    """
    heights = {
        (reading.place, reading.platform_height.value): reading.platform_height
        for reading in session.readings
        if reading.platform_height is not None
    }
    placed = []
    for (place, height), indications in _grouped(session.readings).items():
        where = f"{session.stage}, {place}" + ("" if height is None else f" at {height:g} mm")
        force = _force(np.array(indications), where, scale)
        placed.append(PlacedForce(place, None if height is None else heights[place, height], force))
    return placed


def _force(indications: np.ndarray[tuple[int], np.dtype[np.float64]], where: str, scale: CheckedScale) -> Quantity:
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
        Source(f"rounding of {named}", rectangular=True): split_rounding(step=step, scatter=scatter).common,
        # The display was set to 0 for these readings, as far as its last step can tell.
        Source(f"zero of {named}", rectangular=True): step / math.sqrt(12),
        scale.readings_scatter.source(f"repeatability of {named}", calibration.scale): scatter
        / math.sqrt(indications.size),
    }
    return force_from_indication(calibration, Quantity(mean, "mN", components))
