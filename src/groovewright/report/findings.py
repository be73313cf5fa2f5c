"""What the assessment of a job says, as the report puts it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from groovewright.measurement.formatting import format_force, format_quantity, split_quantity
from groovewright.report.parts import (
    AS_FOUND,
    AS_LEFT,
    TARGET,
    Fact,
    GrooveCurve,
    Judgement,
    Resonance,
    TargetSet,
)
from groovewright.report.wording import speed

if TYPE_CHECKING:
    from groovewright.bench.assessment import Assessment, StageResult
    from groovewright.bench.targets.target_curves import Curves
    from groovewright.bench.targets.targets import TargetRequest

LENGTH_SETTING = "effective length error"
FORCE_SETTING = "tracking force"
CURVES_NOTE = "The offset angle was not measured: as found and as left, the curves take it to be on target."
CURVES_NOTE_OFFSET_READ = (
    "As found and as left, the curves take the offset angle to be on target; what was read of it is not drawn."
)
CURVE_POINTS = 161
WITHOUT_PIVOT = "Tangential arm: no tracking error anywhere, so no criterion to choose"


def target_set(assessment: Assessment) -> TargetSet | None:
    """Return the targets that were chosen, with the reason."""
    from groovewright.tonearm.criteria import CRITERIA

    targets = assessment.targets
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


def stages_of(assessment: Assessment) -> tuple[tuple[str, StageResult], ...]:
    """Return the results of both stages, before and after."""
    return ((AS_FOUND, assessment.as_found), (AS_LEFT, assessment.as_left))


def consequence_sentence(assessment: Assessment, result: StageResult) -> str:
    """Return what the arm does with the effective length of one stage, or why that cannot be told.

    Empty where no length was read.
    """
    from groovewright.bench.estimate.consequence import consequence_of_length

    if assessment.targets is None or result.length is None:
        return ""
    try:
        does = consequence_of_length(assessment.targets, result.length)
    except ValueError as refusal:
        return f"What the length {result.stage} does cannot be told: {refusal}."
    return does.describe(result.stage)


def judgements_of(assessment: Assessment) -> tuple[Judgement, ...]:
    """Return every verdict that was reached."""
    judgements = []
    for stage, result in stages_of(assessment):
        length, force = result.length, result.force
        if length is not None:
            does = consequence_sentence(assessment, result)
            judgements.append(
                Judgement(LENGTH_SETTING, stage, "aim 0 mm from target", length.verdict, does, length.notes)
            )
        if force is not None and force.verdict is not None:
            aim = "" if force.aim is None else f"aim {split_quantity(force.aim, 'g')[0]} g"
            consequence = ""
            if force.outer_inner_difference is not None:
                consequence = f"Outer minus inner platter: {format_force(force.outer_inner_difference)}."
            judgements.append(Judgement(FORCE_SETTING, stage, aim, force.verdict, consequence, force.notes))
    return tuple(judgements)


def changes_of(assessment: Assessment) -> tuple[str, ...]:
    """Return what changed between both stages, in sentences."""
    found, left = assessment.as_found, assessment.as_left
    sentences = []
    if found.length is not None and left.length is not None:
        sentences.append(
            f"The effective length was brought from {format_quantity(found.length.effective_length)} "
            f"to {format_quantity(left.length.effective_length)}."
        )
    if found.force is not None and left.force is not None:
        sentences.append(
            f"The tracking force was brought from {format_force(found.force.tracking_force)} "
            f"to {format_force(left.force.tracking_force)}."
        )
    return tuple(sentences)


def curves_of(assessment: Assessment) -> tuple[tuple[GrooveCurve, ...], tuple[str, ...]]:
    """Return the curves that can be drawn, and a sentence for each that cannot."""
    from groovewright.bench.targets.target_curves import curves
    from groovewright.tonearm.geometry import Geometry

    targets = assessment.targets
    if targets is None:
        return (), ()
    request = targets.request
    drawn, undrawn = [], []
    for stage, result in stages_of(assessment):
        if result.length is None or targets.geometry is None:
            continue
        distance = assessment.pivot_to_spindle.quantity if assessment.pivot_to_spindle else request.distance
        geometry = Geometry(
            pivot_to_spindle_mm=distance.value,
            effective_length_mm=result.length.effective_length.value,
            offset_angle_deg=targets.geometry.offset_angle_deg,
        )
        try:
            points = curves(
                geometry,
                request.innermost_mm,
                request.outermost_mm,
                CURVE_POINTS,
                peak_velocity_cm_s=request.peak_velocity_cm_s,
                speed_rpm=request.speed_rpm,
            )
        except ValueError as error:
            undrawn.append(f"Curves {stage}: not drawn, {error}.")
            continue
        drawn.append(_groove_curve(stage, points))
    drawn.append(_groove_curve(TARGET, curves(targets, request.innermost_mm, request.outermost_mm, CURVE_POINTS)))
    return tuple(drawn), tuple(undrawn)


def _groove_curve(stage: str, points: Curves) -> GrooveCurve:
    return GrooveCurve(
        stage,
        tuple(map(float, points.radius_mm)),
        tuple(map(float, points.tracking_error_deg)),
        tuple(map(float, points.distortion_percent)),
    )


def resonance_of(assessment: Assessment) -> Resonance | None:
    """Return the resonance with what it was worked out from."""
    result = assessment.resonance
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
