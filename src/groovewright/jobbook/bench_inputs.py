"""From the rows of a job to the joint estimate of its deck."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any, ClassVar

from groovewright.bench.estimate.deck_inputs import DeckInputs
from groovewright.bench.estimate.job_facts import JobFacts
from groovewright.bench.estimate.moves import Move, with_unknown_amounts
from groovewright.bench.estimate.observations import Observation
from groovewright.bench.estimate.settings import SettingKey, SettingTargets
from groovewright.bench.moves.headshell_limits import HeadshellLimits
from groovewright.bench.targets.target_request import TargetRequest
from groovewright.bench.targets.targets import Targets, choose_targets
from groovewright.jobbook.bench_facts import (
    adjuster_limits,
    adjustments,
    amounts_in_words,
    known_build,
)
from groovewright.jobbook.bench_forces import Forces, forces_of
from groovewright.jobbook.bench_readings import single_observations, trace_observations, unique_labels
from groovewright.jobbook.job_facts import facts_of, targets_of
from groovewright.jobbook.job_record import JobRecord
from groovewright.jobbook.models import Stage
from groovewright.jobbook.stretches import Stretch, stretches
from groovewright.jobbook.stretches import as_found as found_stretch
from groovewright.jobbook.wanted_settings import maker_range, wanted_of
from groovewright.measurement.quantity import Quantity
from groovewright.tonearm.adjusters import ADJUSTER_TABLE
from groovewright.tonearm.arm_build import ArmBuild, usual_build
from groovewright.tonearm.arm_state import ADJUSTERS, Adjustments
from groovewright.tonearm.geometry import Geometry

UNENTERED = frozenset(ADJUSTERS) - {"base_position_mm"}
"""What moves that nobody entered may have moved; the arm's base is taken to stay."""

STAND_IN_DISTANCE_MM = 222.0
"""Of a nine-inch arm: what geometry an arm has for its couplings before targets are chosen, or without a pivot."""

STAND_IN_GROOVE_MM = (60.325, 146.05)
"""Of a 12-inch record (RIAA 1963), where nobody said what is played."""


@dataclass(frozen=True)
class JobBench:
    """A job's deck on the bench.

    Attributes
    ----------
    inputs : DeckInputs
    limits : HeadshellLimits
    forces : tuple of Forces
        By stretch, oldest first.
    notes : tuple of str
        What of the record was not used, and why.
    """

    inputs: DeckInputs
    limits: HeadshellLimits
    forces: tuple[Forces, ...]
    notes: tuple[str, ...]


def job_bench(record: JobRecord, *, as_found: bool = False) -> JobBench:
    """Return a job's deck as it is after all that was entered, or as it was found.

    Before targets are chosen, and for an arm without a pivot, only the settings that need no targets can be judged;
    the others say why they cannot.

    Parameters
    ----------
    as_found : bool
        Leave out the moves, what was read after the first of them, and what was read as left.

    Raises
    ------
    ValueError
        In one sentence, if what is known makes no arm.
    """
    number = record.job.number
    facts = facts_of(record)
    targets, cannot = _targets(record, facts)
    geometry = targets.geometry
    if geometry is None:
        raise ValueError(f"job {number} has targets without a geometry; choose them again")
    course = (found_stretch(record),) if as_found else stretches(record)
    forces = tuple(forces_of(stretch, facts, job=number, geometry=geometry) for stretch in course)
    aims, notes = wanted_of(record, facts, targets, bearings=[one.bearings for one in forces])
    aims = cannot.applied_to(aims)
    observations: list[Observation] = []
    for stretch, of_stretch in zip(course, forces, strict=True):
        traced, reasons = trace_observations(stretch)
        observations += [*single_observations(record, stretch, aims), *of_stretch.observations, *traced]
        notes += [*of_stretch.notes, *reasons]
    read = unique_labels(reading for reading in observations if not cannot.concerns(reading))
    build = _build(record, aims, [reading for reading in read if reading.order == 0])
    if any(stretch.unrecorded_move for stretch in course):
        notes.append(
            "There are readings as left before any move on record, so something was moved that was not entered: what "
            "was read as found says nothing of how the deck was left."
        )
    return JobBench(
        DeckInputs(
            targets=aims,
            build=build,
            observations=read,
            moves=tuple(_moves(course)),
            rule=facts.rule,
            priors=_priors(record, read),
            faults=_faults(record, forces, as_found=as_found),
        ),
        _limits(record, facts, build.geometry),
        forces,
        tuple(notes),
    )


@dataclass(frozen=True)
class _Cannot:
    """Settings that cannot be judged, with the reason: since the arm lacks them, or no targets are chosen."""

    inapplicable: str = ""
    not_counted: str = ""

    KEYS: ClassVar[tuple[SettingKey, ...]] = ("effective_length", "zenith", "side_force")
    KINDS: ClassVar[frozenset[str]] = frozenset(
        (
            "effective_length",
            "overhang",
            "effective_length_error",
            "offset_angle",
            "zenith_error",
            "null_angle",
            "compensation_force",
            "side_force_rest",
            "friction_coefficient",
        )
    )

    def applied_to(self, aims: SettingTargets) -> SettingTargets:
        if not (self.inapplicable or self.not_counted):
            return aims
        return replace(
            aims,
            aims={key: aim for key, aim in aims.aims.items() if key not in self.KEYS},
            tolerances={key: limits for key, limits in aims.tolerances.items() if key not in self.KEYS},
            inapplicable=dict.fromkeys(self.KEYS, self.inapplicable) if self.inapplicable else {},
            not_counted=dict.fromkeys(self.KEYS, self.not_counted) if self.not_counted else {},
        )

    def concerns(self, reading: Observation) -> bool:
        """Return whether a reading tells nothing while these cannot be judged."""
        return bool(self.inapplicable or self.not_counted) and reading.kind in self.KINDS


def _targets(record: JobRecord, facts: JobFacts) -> tuple[Targets, _Cannot]:
    if facts.is_tangential:
        cannot = _Cannot(
            inapplicable="A tangential arm has no effective length, no offset angle and no side force of an offset."
        )
    elif record.choice is None:
        cannot = _Cannot(not_counted="No targets are chosen yet, from which it is counted.")
    else:
        return targets_of(record.choice), _Cannot()
    innermost_mm, outermost_mm = STAND_IN_GROOVE_MM
    if record.intake is not None:
        innermost_mm, outermost_mm = record.intake.innermost_mm, record.intake.outermost_mm
    distance = Quantity.exact(STAND_IN_DISTANCE_MM, "mm", how="stand-in")
    return choose_targets(TargetRequest(distance, "minimax", innermost_mm, outermost_mm)), cannot


def _priors(record: JobRecord, read: tuple[Observation, ...]) -> dict[str, Quantity]:
    """Return the distance that targets were chosen for, where nobody entered a reading of it."""
    chosen = None if record.choice is None else record.choice.pivot_to_spindle
    if chosen is None or not chosen.components or any(reading.kind == "pivot_to_spindle" for reading in read):
        return {}
    return {"pivot_to_spindle_mm": chosen}


def _faults(record: JobRecord, forces: Sequence[Forces], *, as_found: bool) -> tuple[str, ...]:
    """Return the faults written down by hand, then those that the readings show, each once."""
    by_hand = [fault.text for fault in record.faults if not as_found or fault.found == Stage.AS_FOUND]
    shown = [list(one.tracking_force.faults) if one.tracking_force is not None else [] for one in forces]
    # A fault of the scale shows on every occasion and is one fault.
    last = next((faults for faults in reversed(shown) if faults), [])
    earlier = [f"As found: {fault}" for faults in shown for fault in faults if faults is not last and fault not in last]
    return tuple(dict.fromkeys((*by_hand, *last, *earlier)))


def _moves(course: tuple[Stretch, ...]) -> list[Move]:
    moves: list[Move] = []
    for stretch in course:
        if stretch.move is not None:
            number = sum(not move.unknown >= UNENTERED for move in moves) + 1
            made = adjustments(stretch.move)
            label = f"move {number} ({amounts_in_words(made.amounts, made.unknown)})"
            moves.append(
                with_unknown_amounts(
                    made.amounts, made.uncertainties, made.unknown, order=stretch.move_order, label=label
                )
            )
        elif stretch.unrecorded_move:
            label = "moves that were not entered"
            moves.append(
                with_unknown_amounts(Adjustments(), Adjustments(), UNENTERED, order=stretch.move_order, label=label)
            )
    return moves


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


def _limits(record: JobRecord, facts: JobFacts, found: Geometry) -> HeadshellLimits:
    """Return how far the adjusters go: as typed for the arm, as its slots bound the dimensions, and as usual."""
    ranges: dict[str, tuple[float, float]] = {}
    arm = facts.arm
    if arm is not None and arm.effective_length_limits_mm is not None:
        along = math.cos(math.radians(found.offset_angle_deg))
        ranges["slide_mm"] = _from_where_it_stands(
            arm.effective_length_limits_mm, found.effective_length_mm, along, ADJUSTER_TABLE["slide_mm"].usual_range
        )
    if arm is not None and arm.offset_angle_limits_deg is not None:
        ranges["turn_deg"] = _from_where_it_stands(
            arm.offset_angle_limits_deg, found.offset_angle_deg, 1.0, ADJUSTER_TABLE["turn_deg"].usual_range
        )
    intake = record.intake
    if intake is not None and intake.arm is not None:
        ranges |= adjuster_limits(intake.arm.current().adjuster_limits)
    return HeadshellLimits(ranges, maker_range(facts.cartridge))


def _from_where_it_stands(
    limits: tuple[float, float], stands: float, slope: float, usual: tuple[float, float]
) -> tuple[float, float]:
    lowest, highest = limits
    if lowest == highest:
        return (0.0, 0.0)
    # A reading may put it a little outside its own slots.
    return max(usual[0], min(0.0, (lowest - stands) / slope)), min(usual[1], max(0.0, (highest - stands) / slope))
