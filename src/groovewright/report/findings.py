"""What the assessment of a job says, as the report puts it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from groovewright.measurement.formatting import format_quantity
from groovewright.report.parts import (
    AS_FOUND,
    AS_LEFT,
    TARGET,
    Fact,
    GrooveCurve,
    Resonance,
    TargetSet,
)
from groovewright.report.wording import speed

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from groovewright.bench.estimate.job_facts import JobFacts
    from groovewright.bench.estimate.job_state import JobState
    from groovewright.bench.targets.target_request import TargetRequest
    from groovewright.bench.targets.targets import Targets
    from groovewright.jobbook.job_record import JobRecord

LENGTH_SETTING = "effective length error"
FORCE_SETTING = "tracking force"
CURVES_NOTE = "The offset angle was not measured: as found and as left, the curves take it to be on target."
CURVES_NOTE_OFFSET_READ = (
    "As found and as left, the curves take the offset angle to be on target; what was read of it is not drawn."
)
CURVE_POINTS = 161
WITHOUT_PIVOT = "Tangential arm: no tracking error anywhere, so no criterion to choose"


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


def targets_chosen(record: JobRecord) -> Targets | None:
    """Return the targets of a job, None where none are chosen."""
    from groovewright.jobbook.job_facts import targets_of

    return None if record.choice is None else targets_of(record.choice)


def curves_of(
    record: JobRecord, state: JobState | None, targets: Targets | None
) -> tuple[tuple[GrooveCurve, ...], tuple[str, ...]]:
    """Return the curves that can be drawn, and a sentence for each that cannot."""
    from groovewright.bench.targets.target_curves import curves
    from groovewright.jobbook.job_states import groove_of_job

    if targets is None or targets.geometry is None:
        return (), ()
    drawn, undrawn = [], []
    decks = [] if state is None else [(AS_FOUND, state.as_found), (AS_LEFT, state.as_left)]
    for stage, deck in decks:
        if deck is None:
            continue
        try:
            course = groove_of_job(record, deck)
        except ValueError as refusal:
            undrawn.append(f"Curves {stage}: {refusal}.")
            continue
        drawn.append(_curve(stage, course.radius_mm, course.tracking_error_deg, course.distortion_percent))
    request = targets.request
    points = curves(targets, request.innermost_mm, request.outermost_mm, CURVE_POINTS)
    drawn.append(_curve(TARGET, points.radius_mm, points.tracking_error_deg, points.distortion_percent))
    return tuple(drawn), tuple(undrawn)


def _curve(stage: str, *columns: NDArray[np.float64]) -> GrooveCurve:
    radius, error, distortion = (tuple(map(float, column)) for column in columns)
    return GrooveCurve(stage, radius, error, distortion)


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
