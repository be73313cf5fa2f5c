"""What the seven settings of a job should be: its targets, the limits chosen, the maker's range, and the usual."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

from groovewright.bench.estimate.job_facts import CartridgeFacts, JobFacts
from groovewright.bench.estimate.setting_targets import DEFAULT_TOLERANCES, setting_targets
from groovewright.bench.estimate.settings import SETTINGS, SettingKey, SettingTargets
from groovewright.bench.forces.bearing_friction import BearingFriction
from groovewright.bench.targets.targets import Targets
from groovewright.jobbook.bench_facts import SettingLimits, setting_limits
from groovewright.jobbook.job_record import JobRecord
from groovewright.jobbook.models import Reading
from groovewright.measurement.conformity import Tolerance


def wanted_of(
    record: JobRecord, inputs: JobFacts, targets: Targets, *, bearings: Sequence[BearingFriction | None] = ()
) -> tuple[SettingTargets, list[str]]:
    """Return the aims and limits of the seven settings, with notes.

    Parameters
    ----------
    bearings : sequence of BearingFriction or None
        As read, the last one counts; the limits of the side force are narrowed by the friction.
    """
    chosen = setting_limits(None if record.intake is None else record.intake.tolerances)
    tolerances: dict[SettingKey, Tolerance] = {"effective_length": inputs.length_tolerance}
    for key, limits in chosen.items():
        tolerance = _tolerance(key, limits)
        if tolerance is not None:
            tolerances[key] = tolerance
    makers = maker_range(inputs.cartridge)
    if makers is not None and "tracking_force" not in tolerances:
        tolerances["tracking_force"] = makers
    options: dict[str, Any] = {"tolerances": tolerances}
    aims = {key: limits.aim for key, limits in chosen.items() if limits.aim is not None}
    if "tracking_force" in aims:
        options["force_aim_mn"] = aims["tracking_force"]
    if "vertical_tracking_angle" in aims:
        options["cutting_angle_deg"] = aims["vertical_tracking_angle"]
    read = [reading.quantity.value for reading in record.readings_of(Reading.Kind.FRICTION_COEFFICIENT)]
    if read:
        options["friction_coefficient"] = read[-1]
    held = [one.friction.value for one in bearings if one is not None]
    found, notes = _within_the_bearings_friction(targets, options, held[-1] if held else 0.0)
    return replace(found, aims={**found.aims, **aims}), notes


def maker_range(cartridge: CartridgeFacts | None) -> Tolerance | None:
    """Return the range of tracking force that the cartridge's maker gives, which may be open at one end. [mN]"""
    if cartridge is None or (cartridge.force_minimum is None and cartridge.force_maximum is None):
        return None
    low, high = cartridge.force_minimum, cartridge.force_maximum
    return Tolerance(None if low is None else low.value, None if high is None else high.value, "mN")


def _within_the_bearings_friction(
    targets: Targets, options: dict[str, Any], friction_mn: float
) -> tuple[SettingTargets, list[str]]:
    try:
        return setting_targets(targets, **options, bearing_friction_mn=friction_mn), []
    except ValueError:
        if not friction_mn:
            raise
    return setting_targets(targets, **options), [
        f"The bearings hold {friction_mn:.2g} mN either way, so no compensation keeps the side force within its limits "
        "over the whole groove: mend the bearings first. The limits shown leave their friction out."
    ]


def _tolerance(key: SettingKey, limits: SettingLimits) -> Tolerance | None:
    """Return the limits as chosen; where an aim alone was, the usual ones about it; None where all are as usual."""
    unit = SETTINGS[key].unit
    if limits.lower is not None or limits.upper is not None:
        return Tolerance(limits.lower, limits.upper, unit)
    usual = DEFAULT_TOLERANCES.get(key)
    if limits.aim is None or usual is None or usual.lower is None or usual.upper is None:
        return None
    half = (usual.upper - usual.lower) / 2
    return Tolerance(limits.aim - half, limits.aim + half, unit)
