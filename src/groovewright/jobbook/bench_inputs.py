"""From the rows of a job to the joint estimate of its deck."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Any

from groovewright.bench.estimate.deck_inputs import BenchInputs
from groovewright.bench.estimate.job_inputs import JobInputs
from groovewright.bench.estimate.moves import Move
from groovewright.bench.estimate.observations import KINDS_OF_READING, Observation
from groovewright.bench.estimate.settings import SettingTargets
from groovewright.bench.moves.headshell_limits import USUAL_RANGES, HeadshellLimits
from groovewright.jobbook.assessing import inputs_of, targets_of
from groovewright.jobbook.bench_facts import (
    adjuster_limits,
    adjustments,
    amounts_in_words,
    known_build,
)
from groovewright.jobbook.bench_forces import Forces, forces_of
from groovewright.jobbook.bench_readings import single_observations, told_apart, trace_observations
from groovewright.jobbook.job_record import JobRecord
from groovewright.jobbook.stretches import Stretch, stretches
from groovewright.jobbook.wanted_settings import maker_range, wanted_of
from groovewright.measurement.quantity import Quantity
from groovewright.tonearm.arm_build import ArmBuild, usual_build
from groovewright.tonearm.arm_state import Adjustments
from groovewright.tonearm.geometry import Geometry

WITHOUT_A_RECORD = Adjustments(
    slide_mm=5.0, turn_deg=4.0, arm_height_mm=5.0, counterweight_mm=10.0, compensation_mn=5.0, roll_deg=3.0
)
"""Standard uncertainty of moves that nobody entered: as far as adjusters are ever moved. The base is taken to stay."""


@dataclass(frozen=True)
class JobBench:
    """A job's deck on the bench.

    Attributes
    ----------
    inputs : BenchInputs
    limits : HeadshellLimits
    forces : tuple of Forces
        By stretch, oldest first.
    notes : tuple of str
        What of the record was not used, and why.
    """

    inputs: BenchInputs
    limits: HeadshellLimits
    forces: tuple[Forces, ...]
    notes: tuple[str, ...]


def bench_inputs(record: JobRecord) -> BenchInputs:
    """Return all that the joint estimate of a job's deck starts from, as the record stands; see `job_bench`."""
    return job_bench(record).inputs


def job_bench(record: JobRecord, *, as_found: bool = False) -> JobBench:
    """Return a job's deck as it stands after all that was entered, or as it was found.

    Parameters
    ----------
    as_found : bool
        Leave out the moves and what was read after the first of them.

    Raises
    ------
    ValueError
        In one sentence, if no targets are chosen, the arm has no pivot, or what is known makes no arm.
    """
    number = record.job.number
    if record.choice is None:
        raise ValueError(f"job {number} has no targets yet, from which the seven settings count; choose them first")
    targets = targets_of(record.choice)
    if targets.geometry is None:
        raise ValueError(f"job {number} is for a tangential arm; the bench works on arms with a pivot")
    inputs = inputs_of(record)
    course = stretches(record)
    if as_found:
        course = (replace(course[0], move=None, unrecorded_move=False),)
    forces = tuple(forces_of(stretch, inputs, job=number, geometry=targets.geometry) for stretch in course)
    aims, notes = wanted_of(record, inputs, targets, bearings=[one.bearings for one in forces])
    observations: list[Observation] = []
    for stretch, of_stretch in zip(course, forces, strict=True):
        traced, why_not = trace_observations(stretch)
        observations += [*single_observations(record, stretch, aims), *of_stretch.observations, *traced]
        notes += [*of_stretch.notes, *why_not]
    read = told_apart(observations)
    build = _build(record, aims, [reading for reading in read if reading.order == 0])
    if any(stretch.unrecorded_move for stretch in course):
        notes.append(_unrecorded_note(read))
    drifts = [one.tracking_force.scale_drift for one in forces if one.tracking_force is not None]
    return JobBench(
        BenchInputs(
            targets=aims,
            build=build,
            observations=read,
            moves=tuple(_moves(course)),
            rule=inputs.rule,
            scale_drift=drifts[-1] if drifts else None,
        ),
        _limits(record, inputs, build.geometry),
        forces,
        tuple(notes),
    )


def _moves(course: tuple[Stretch, ...]) -> list[Move]:
    moves = []
    for stretch in course:
        if stretch.move is not None:
            amounts, uncertainty = adjustments(stretch.move)
            label = f"move {stretch.number + 1} ({amounts_in_words(amounts)})"
            moves.append(Move(amounts, uncertainty, stretch.move_order, label))
        elif stretch.unrecorded_move:
            label = "moves that were not entered"
            moves.append(Move(Adjustments(), WITHOUT_A_RECORD, stretch.move_order, label, is_known=False))
    return moves


def _unrecorded_note(read: tuple[Observation, ...]) -> str:
    left = {name for reading in read if reading.order > 0 for name in KINDS_OF_READING[reading.kind].reads}
    only_found = [
        reading.label
        for reading in read
        if reading.order == 0
        and reading.kind not in ("pivot_to_spindle", "friction_coefficient")
        and KINDS_OF_READING[reading.kind].reads[0] not in left
    ]
    note = "There are readings as left and no move is on record, so what was read as found may no longer hold."
    return f"{note} Read only as found: {'; '.join(only_found)}." if only_found else note


def _build(record: JobRecord, aims: SettingTargets, found: list[Observation]) -> ArmBuild:
    """Return the arm before the first move: as it was read, as it is known, and for the rest as it should be."""
    read = _mean_by_kind(found)
    target = aims.geometry
    mounting_mm = read.get("pivot_to_spindle", target.pivot_to_spindle_mm)
    off_mm = mounting_mm - target.pivot_to_spindle_mm
    should_be_mm = target.effective_length_mm + aims.length_slope * off_mm
    should_be_deg = target.offset_angle_deg + aims.offset_slope_deg_per_mm * off_mm
    length_mm = should_be_mm + read.get("effective_length_error", 0.0)
    if "overhang" in read:
        length_mm = mounting_mm + read["overhang"]
    length_mm = read.get("effective_length", length_mm)
    angle_deg = read.get("offset_angle", should_be_deg + read.get("zenith_error", 0.0))
    intake = record.intake
    known: dict[str, Any] = {}
    if intake is not None and intake.arm is not None:
        known |= known_build(intake.arm.current().build)
    if intake is not None and intake.cartridge is not None:
        known |= _cartridge_mass(intake.cartridge.current())
    if intake is not None and intake.record_thickness is not None:
        known["record_thickness_mm"] = intake.record_thickness.value
    if "tracking_force" in aims.aims:
        known["tracking_force_mn"] = aims.aims["tracking_force"]
    for kind, name in (
        ("tracking_force", "tracking_force_mn"),
        ("compensation_force", "compensation_mn"),
        ("friction_coefficient", "friction_coefficient"),
        ("azimuth_rotation", "azimuth_deg"),
        ("stylus_rake_angle", "stylus_rake_angle_deg"),
        ("vertical_tracking_angle", "vertical_tracking_angle_deg"),
    ):
        if kind in read:
            known[name] = read[kind]
    return usual_build(Geometry(mounting_mm, length_mm, angle_deg), **known)


def _mean_by_kind(readings: list[Observation]) -> dict[str, float]:
    values: dict[str, list[float]] = {}
    for reading in readings:
        values.setdefault(reading.kind, []).append(reading.quantity.value)
    return {kind: math.fsum(found) / len(found) for kind, found in values.items()}


def _cartridge_mass(cartridge: Any) -> dict[str, float]:
    if cartridge.mass is None:
        return {}
    fasteners: Quantity | None = cartridge.fasteners_mass
    return {"cartridge_mass_g": cartridge.mass.value + (0.0 if fasteners is None else fasteners.value)}


def _limits(record: JobRecord, inputs: JobInputs, found: Geometry) -> HeadshellLimits:
    """Return how far the adjusters go: as typed for the arm, as its slots bound the dimensions, and as usual."""
    ranges: dict[str, tuple[float, float]] = {}
    arm = inputs.arm
    if arm is not None and arm.effective_length_limits_mm is not None:
        along = math.cos(math.radians(found.offset_angle_deg))
        ranges["slide_mm"] = _from_where_it_stands(
            arm.effective_length_limits_mm, found.effective_length_mm, along, USUAL_RANGES["slide_mm"]
        )
    if arm is not None and arm.offset_angle_limits_deg is not None:
        ranges["turn_deg"] = _from_where_it_stands(
            arm.offset_angle_limits_deg, found.offset_angle_deg, 1.0, USUAL_RANGES["turn_deg"]
        )
    intake = record.intake
    if intake is not None and intake.arm is not None:
        ranges |= adjuster_limits(intake.arm.current().adjuster_limits)
    return HeadshellLimits(ranges, maker_range(inputs.cartridge))


def _from_where_it_stands(
    limits: tuple[float, float], stands: float, slope: float, usual: tuple[float, float]
) -> tuple[float, float]:
    lowest, highest = limits
    if lowest == highest:
        return (0.0, 0.0)
    # A reading may put it a little outside its own slots.
    return max(usual[0], min(0.0, (lowest - stands) / slope)), min(usual[1], max(0.0, (highest - stands) / slope))
