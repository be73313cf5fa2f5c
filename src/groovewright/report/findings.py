"""What was worked out from the record of a job, as the report puts it: targets, curves, moves, the visit before."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import TYPE_CHECKING

from groovewright.bench.estimate.settings import SETTINGS
from groovewright.measurement.formatting import format_quantity
from groovewright.measurement.quantity import Quantity
from groovewright.report.cells import quantity_text
from groovewright.report.parts import (
    AS_FOUND,
    AS_LEFT,
    ChangeLine,
    Fact,
    MoveLine,
    Resonance,
    TargetSet,
    VisitBefore,
)
from groovewright.report.wording import day, speed
from groovewright.tonearm.adjusters import ADJUSTER_TABLE

if TYPE_CHECKING:
    from groovewright.bench.estimate.groove import GrooveCourse
    from groovewright.bench.estimate.job_facts import JobFacts
    from groovewright.bench.estimate.job_state import JobState
    from groovewright.bench.targets.target_request import TargetRequest
    from groovewright.bench.targets.targets import Targets
    from groovewright.jobbook.job_record import JobRecord

WITHOUT_PIVOT = "Tangential arm: no tracking error anywhere, so no criterion to choose"

ADJUSTED = {
    "slide_mm": "the place of the cartridge in the headshell",
    "turn_deg": "the angle of the cartridge in the headshell",
    "base_position_mm": "the place of the arm's base",
    "arm_height_mm": "the height of the arm",
    "counterweight_mm": "the counterweight",
    "compensation_mn": "the side-force compensation",
    "roll_deg": "the upright stance of the cartridge",
}
"""Adjuster to what was adjusted with it, in words of the customer."""


def target_set(targets: Targets | None) -> TargetSet | None:
    """Return the targets that were chosen, with the reason."""
    from groovewright.tonearm.criteria import CRITERIA

    if targets is None:
        return None
    named = [
        ("Effective length", targets.effective_length),
        ("Overhang", targets.overhang),
        ("Offset angle", targets.offset_angle),
        ("Linear offset", targets.linear_offset),
        *((f"Null radius {number}", radius) for number, radius in enumerate(targets.null_radii, start=1)),
        ("Largest tracking error over the groove", targets.peak_tracking_error),
        ("Largest distortion over the groove", targets.peak_distortion),
        ("Distortion over the groove, rms", targets.rms_distortion),
    ]
    criterion = CRITERIA[targets.request.criterion]
    has_pivot = targets.geometry is not None
    return TargetSet(
        criterion=criterion.label if has_pivot else WITHOUT_PIVOT,
        why=f"{criterion.minimises} {_chosen_under(targets.request)}" if has_pivot else _chosen_under(targets.request),
        quantities=tuple(Fact(label, quantity) for label, quantity in named if quantity is not None),
        notes=targets.notes,
    )


def _chosen_under(request: TargetRequest) -> str:
    chosen_for = "a tangential arm"
    if request.arm_kind != "tangential":
        chosen_for = f"a pivot-to-spindle distance of {format_quantity(request.distance)}"
    sentence = (
        f"Chosen for {chosen_for} and the groove from "
        f"{request.innermost_mm:g} to {request.outermost_mm:g} mm. Distortion is the second harmonic at "
        f"{request.peak_velocity_cm_s:g} cm/s and {speed(request.speed_rpm)}."
    )
    for what, unit, hold, limits in (
        ("effective length", "mm", request.hold_effective_length, request.effective_length_limits_mm),
        ("offset angle", "°", request.hold_offset_angle, request.offset_angle_limits_deg),
    ):
        if hold is not None:
            sentence += f" The {what} was held at {format_quantity(hold)}."
        elif limits is not None and limits[0] == limits[1]:
            sentence += f" The {what} is fixed at {limits[0]:g} {unit}."
        elif limits is not None:
            sentence += f" The headshell allows an {what} of {limits[0]:g} to {limits[1]:g} {unit}."
    return sentence.replace(" °", "°")


def grooves_of(record: JobRecord, state: JobState | None) -> tuple[Mapping[str, GrooveCourse], Mapping[str, str]]:
    """Return tracking error and distortion by stage, and why they cannot be told for the others."""
    from groovewright.jobbook.job_states import groove_of_job

    told: dict[str, GrooveCourse] = {}
    untold: dict[str, str] = {}
    decks = {} if state is None else {AS_FOUND: state.as_found, AS_LEFT: state.as_left}
    for stage, deck in decks.items():
        if deck is None:
            continue
        try:
            told[stage] = groove_of_job(record, deck)
        except ValueError as refusal:
            untold[stage] = f"{refusal}"
    return told, untold


def resonance_of(facts: JobFacts) -> Resonance | None:
    """Return the resonance with what it was worked out from."""
    result = facts.resonance()
    if result is None:
        return None
    return Resonance(
        verdict=result.verdict,
        inputs=(
            Fact("Moving mass: arm, cartridge, fasteners", result.moving_mass),
            Fact("Compliance at 10 Hz", result.compliance),
        ),
        notes=result.notes,
    )


def moves_of(record: JobRecord) -> tuple[MoveLine, ...]:
    """Return the moves that count, oldest first."""
    lines = []
    for number, move in enumerate(record.adjustments, start=1):
        amounts = []
        for name, amount in move.amounts.items():
            what, unit = ADJUSTER_TABLE[name].positive, ADJUSTER_TABLE[name].unit
            if amount is None:
                amounts.append(f"{what} by an unknown amount")
            elif amount:
                u = move.uncertainties[name]
                moved = Quantity.measured(amount, unit, standard_uncertainty=u, source=f"the hand, move {number}")
                amounts.append(f"{what} {quantity_text(moved)}")
        lines.append(MoveLine(number, move.text, tuple(amounts), move.recorded_local, move.note))
    return tuple(lines)


def adjusted_of(record: JobRecord) -> tuple[str, ...]:
    """Return what was adjusted, in words of the customer."""
    touched = {name for move in record.adjustments for name, amount in move.amounts.items() if amount != 0}
    return tuple(words for name, words in ADJUSTED.items() if name in touched)


def faults_of(record: JobRecord, state: JobState | None) -> tuple[str, ...]:
    """Return the faults of the player in words of the customer: those of the workshop's scales are not among them.

    A fault that was written down stands as it was written; one that the readings show, without what it asks of whoever
    works on the player.
    """
    if state is None:
        return tuple(fault.text for fault in record.faults)
    by_hand = {fault.text for fault in record.faults}
    scales = [check.scale.description for check in record.scale_checks]
    of_player = [fault for fault in state.now.faults if not any(scale in fault for scale in scales)]
    return tuple(fault if fault in by_hand else re.split(r"(?<=\.) (?=[A-Z])", fault)[0] for fault in of_player)


def visit_before_of(record: JobRecord) -> VisitBefore | None:
    """Return how the player had changed since the visit before; None where nothing was read on both occasions."""
    from groovewright.bench.visits.comparison import compare_visits
    from groovewright.jobbook.deck_visits import visit_before, visit_of

    before = visit_before(record)
    if before is None:
        return None
    compared = compare_visits(before.visit, visit_of(record).visit)
    if all(drift.change is None for drift in compared.drifts):
        return None
    played = "" if compared.stylus_hours is None else f" The stylus has played {compared.stylus_hours:g} hours since."
    return VisitBefore(
        sentence=(
            f"The visit before was {before.visit.name} of {day(before.visit.on)}, {compared.days} days earlier.{played}"
        ),
        changes=tuple(
            ChangeLine(
                SETTINGS[drift.key].title,
                None if drift.left is None else drift.left.quantity,
                None if drift.found is None else drift.found.quantity,
                drift.sentence,
            )
            for drift in compared.drifts
        ),
        notes=compared.notes,
    )
