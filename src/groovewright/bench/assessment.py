"""One assessment of a whole job, the same for page, command and report."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TypeVar

from groovewright.bench.estimate.job_inputs import (
    ArmFacts,
    CartridgeFacts,
    IssuedPlate,
    IssuedReport,
    JobInputs,
    StageReadings,
)
from groovewright.bench.estimate.joined_readings import JoinedReadings, join_readings
from groovewright.bench.forces.force import ForceSession, force_result
from groovewright.bench.length import length_result
from groovewright.bench.steps import Problem, Stage, StageResult, Step, steps
from groovewright.bench.targets.targets import Targets, choose_targets
from groovewright.measurement.quantity import Quantity
from groovewright.tonearm.resonance import Resonance, moving_mass, resonance

__all__ = [
    "ArmFacts",
    "Assessment",
    "CartridgeFacts",
    "IssuedPlate",
    "IssuedReport",
    "JobInputs",
    "Problem",
    "StageReadings",
    "StageResult",
    "Step",
    "assess",
]

Result = TypeVar("Result")


@dataclass(frozen=True)
class Assessment:
    """What the readings of a job mean together, and what is still to do.

    Attributes
    ----------
    pivot_to_spindle : JoinedReadings or None
        All readings of it joined; `.quantity` is what new targets should be chosen from. [mm]
    targets : Targets or None
        The targets chosen.
    resonance : Resonance or None
        Of arm and cartridge, when mass and compliance are known.
    as_found, as_left : StageResult
        Results of both stages.
    problems : tuple of Problem
        What could not be computed, and why.
    faults : tuple of str
        Faults written down by hand, then those the readings show.
    missing : tuple of Step
        All six steps in order, each with its state.
    """

    pivot_to_spindle: JoinedReadings | None
    targets: Targets | None
    resonance: Resonance | None
    as_found: StageResult
    as_left: StageResult
    problems: tuple[Problem, ...]
    faults: tuple[str, ...]
    missing: tuple[Step, ...]


def assess(inputs: JobInputs) -> Assessment:
    """Return everything that can be said of a job now.

    What cannot be computed is left out and named in `problems`; nothing is raised for a job that merely lacks
    something or holds a contradiction.
    """
    problems: list[Problem] = []
    pivot_to_spindle = _attempt(
        problems, "pivot-to-spindle distance", lambda: _joined_distance(inputs.pivot_to_spindle)
    )
    request = inputs.target_request
    targets = _attempt(problems, "targets", lambda: None if request is None else choose_targets(request))
    resonance = _attempt(problems, "resonance", lambda: _resonance(inputs))
    as_found = _stage_result("as found", inputs.as_found, inputs, targets, problems)
    as_left = _stage_result("as left", inputs.as_left, inputs, targets, problems)
    return Assessment(
        pivot_to_spindle=pivot_to_spindle,
        targets=targets,
        resonance=resonance,
        as_found=as_found,
        as_left=as_left,
        problems=tuple(problems),
        faults=_faults(inputs, as_found, as_left),
        missing=steps(inputs, pivot_to_spindle, targets, as_left, tuple(problems)),
    )


def _attempt(problems: list[Problem], about: str, compute: Callable[[], Result | None]) -> Result | None:
    try:
        return compute()
    except ValueError as refusal:
        problems.append(Problem(about, str(refusal)))
        return None


def _joined_distance(readings: tuple[Quantity, ...]) -> JoinedReadings | None:
    return join_readings(readings, name="pivot-to-spindle distance") if readings else None


def _resonance(inputs: JobInputs) -> Resonance | None:
    arm, cartridge = inputs.arm, inputs.cartridge
    if arm is None or cartridge is None:
        return None
    if arm.effective_mass is None or cartridge.mass is None or cartridge.compliance is None:
        return None
    mass = moving_mass(arm=arm.effective_mass, cartridge=cartridge.mass, fasteners=cartridge.fastener_mass)
    return resonance(
        mass, cartridge.compliance, compliance_quoted_at_hz=cartridge.compliance_quoted_at_hz, rule=inputs.rule
    )


def _stage_result(
    stage: Stage, readings: StageReadings, inputs: JobInputs, targets: Targets | None, problems: list[Problem]
) -> StageResult:
    length = force = None
    if readings.lengths and targets is not None:
        length = _attempt(
            problems,
            f"{stage}: effective length",
            lambda: length_result(targets, readings.lengths, inputs.length_tolerance, inputs.rule),
        )
    if readings.forces:
        force = _attempt(
            problems,
            f"{stage}: tracking force",
            lambda: force_result(_force_session(stage, readings, inputs), inputs.rule),
        )
    return StageResult(stage, length, force)


def _force_session(stage: Stage, readings: StageReadings, inputs: JobInputs) -> ForceSession:
    cartridge = inputs.cartridge or CartridgeFacts()
    return ForceSession(
        readings=readings.forces,
        check_before=inputs.scale_check_before,
        check_after=inputs.scale_check_after,
        record_height=inputs.record_thickness,
        height_slope=inputs.height_slope,
        maker_minimum=cartridge.force_minimum,
        maker_maximum=cartridge.force_maximum,
        mistracking_reported=inputs.mistracking_reported,
        stage=stage,
    )


def _faults(inputs: JobInputs, as_found: StageResult, as_left: StageResult) -> tuple[str, ...]:
    found = () if as_found.force is None else as_found.force.faults
    left = () if as_left.force is None else as_left.force.faults
    # A fault of the scale shows at both stages and is one fault.
    gone = [f"As found: {fault}" for fault in found if fault not in left]
    return (*inputs.faults_found, *left, *gone)
