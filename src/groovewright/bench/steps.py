"""The six steps of a job and how each stands: done, next, open, or stale because what it rests on changed."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from groovewright.bench.estimate.job_inputs import IssuedPlate, JobInputs
from groovewright.bench.estimate.joined_readings import JoinedReadings
from groovewright.bench.forces.force import ForceResult
from groovewright.bench.length import LengthResult
from groovewright.bench.targets.targets import Targets
from groovewright.measurement.conformity import IN_TOLERANCE, UNDECIDED, Verdict
from groovewright.measurement.formatting import format_quantity
from groovewright.measurement.quantity import Quantity
from groovewright.tonearm.geometry import Geometry

StepKey = Literal["take in", "choose", "plate", "readings", "verdicts", "report"]
Stage = Literal["as found", "as left"]

TITLES: dict[StepKey, str] = {
    "take in": "Take in",
    "choose": "Choose",
    "plate": "Plate",
    "readings": "Readings",
    "verdicts": "Verdicts",
    "report": "Report",
}

NO_LENGTH = "A tangential arm has no effective length, so no verdict on one applies."

CHECK_BAR_MM = 100.0
# At 120 mm from the spindle this moves an arc by a quarter of a millimetre, half the usual tolerance.
LARGEST_BAR_ERROR_MM = 0.2

# Targets and plates that agree within these are for one geometry.
_SAME_LENGTH_MM = 1e-3
_SAME_ANGLE_DEG = 1e-3


@dataclass(frozen=True, slots=True)
class Step:
    """One step of the job and how it stands.

    Attributes
    ----------
    key, title : str
        Which step, and how it is called on screen.
    state : str
        done; next: the one to work on; open: later; stale: done once, but what it rests on changed, so it comes first.
    detail : str
        What is missing or what it rests on, in one or two sentences.
    """

    key: StepKey
    title: str
    state: Literal["done", "next", "open", "stale"]
    detail: str


@dataclass(frozen=True, slots=True)
class Problem:
    """Why a result could not be computed: which (``"as left: tracking force"``), and one sentence for the user."""

    about: str
    sentence: str


@dataclass(frozen=True)
class StageResult:
    """Results of one stage; None where there are no readings or a problem stands in the way."""

    stage: Stage
    length: LengthResult | None
    force: ForceResult | None


@dataclass(frozen=True, slots=True)
class _Standing:
    """A step before it is known which of the unfinished ones comes next."""

    state: Literal["done", "unfinished", "stale"]
    detail: str


def steps(
    inputs: JobInputs,
    pivot_to_spindle: JoinedReadings | None,
    targets: Targets | None,
    as_left: StageResult,
    problems: tuple[Problem, ...],
) -> tuple[Step, ...]:
    """Return all six steps in order, each with its state and what it lacks."""
    choose = _choose(inputs, pivot_to_spindle, problems)
    readings = _readings(inputs, problems)
    standings: dict[StepKey, _Standing] = {
        "take in": _take_in(inputs),
        "choose": choose,
        "plate": _plate(inputs, targets),
        "readings": readings,
        "verdicts": _verdicts(inputs, as_left, choose, readings),
        "report": _report(inputs),
    }
    first = next((key for key, standing in standings.items() if standing.state != "done"), None)
    return tuple(_step(key, standing, comes_first=key == first) for key, standing in standings.items())


def is_tangential(inputs: JobInputs) -> bool:
    """Return whether the arm has no pivot, so that no length and no plate apply to it."""
    if inputs.target_request is not None:
        return inputs.target_request.arm_kind == "tangential"
    return inputs.arm is not None and inputs.arm.kind == "tangential"


def _step(key: StepKey, standing: _Standing, *, comes_first: bool) -> Step:
    if standing.state == "unfinished":
        return Step(key, TITLES[key], "next" if comes_first else "open", standing.detail)
    return Step(key, TITLES[key], standing.state, standing.detail)


def _take_in(inputs: JobInputs) -> _Standing:
    lacking = []
    if inputs.arm is None:
        lacking.append("the arm")
    if inputs.cartridge is None:
        lacking.append("the cartridge")
    elif inputs.cartridge.force_minimum is None or inputs.cartridge.force_maximum is None:
        lacking.append("the maker's range of tracking force")
    if lacking:
        return _Standing("unfinished", f"Still to enter: {_listed(lacking)}.")
    without_resonance = _lacking_for_resonance(inputs)
    if without_resonance:
        return _Standing("done", f"For the resonance, {_listed(without_resonance)} would still be needed.")
    return _Standing("done", "Arm and cartridge are known.")


def _lacking_for_resonance(inputs: JobInputs) -> list[str]:
    if inputs.arm is None or inputs.cartridge is None:
        return []
    parts = {
        "the arm's effective mass": inputs.arm.effective_mass,
        "the cartridge's mass": inputs.cartridge.mass,
        "its compliance": inputs.cartridge.compliance,
    }
    return [name for name, part in parts.items() if part is None]


def _choose(inputs: JobInputs, pivot_to_spindle: JoinedReadings | None, problems: tuple[Problem, ...]) -> _Standing:
    request = inputs.target_request
    if request is None:
        return _Standing("unfinished", _before_choosing(inputs, pivot_to_spindle))
    refused = next((problem for problem in problems if problem.about == "targets"), None)
    if refused is not None:
        return _Standing("stale", f"The targets chosen cannot be met: {refused.sentence}")
    if is_tangential(inputs):
        return _Standing("done", "Chosen for a tangential arm, which has no effective length and no offset angle.")
    chosen_for = request.distance
    if pivot_to_spindle is not None and not _same_quantity(pivot_to_spindle.quantity, chosen_for):
        return _Standing(
            "stale",
            f"The targets were chosen for a pivot-to-spindle distance of {format_quantity(chosen_for)}; its readings "
            f"now give {format_quantity(pivot_to_spindle.quantity)}. Choose again.",
        )
    return _Standing("done", f"Chosen for a pivot-to-spindle distance of {format_quantity(chosen_for)}.")


def _before_choosing(inputs: JobInputs, pivot_to_spindle: JoinedReadings | None) -> str:
    if is_tangential(inputs):
        return "Choose the groove; a tangential arm has no distance or length to measure."
    if pivot_to_spindle is None:
        return "Measure the pivot-to-spindle distance, then choose the targets."
    return f"Choose the targets for a distance of {format_quantity(pivot_to_spindle.quantity)}."


def _same_quantity(now: Quantity, then: Quantity) -> bool:
    if abs(now.value - then.value) > _SAME_LENGTH_MM:
        return False
    u_now, u_then = now.standard_uncertainty, then.standard_uncertainty
    if u_now is None or u_then is None:
        return u_now is u_then
    return abs(u_now - u_then) <= _SAME_LENGTH_MM


def _plate(inputs: JobInputs, targets: Targets | None) -> _Standing:
    if is_tangential(inputs):
        return _Standing("done", "A tangential arm needs no plate.")
    if not inputs.plates and inputs.as_left.lengths:
        return _Standing("done", "No plate was issued for this job; the length was read by other means.")
    if not inputs.plates:
        return _Standing("unfinished", "Issue a plate for these targets, print it and measure its check bars.")
    plate = inputs.plates[-1]
    if targets is not None and targets.geometry is not None and not same_geometry(plate.geometry, targets.geometry):
        return _Standing("stale", f"Plate {plate.number} was drawn for other targets. Issue a new one.")
    return _print_check(plate)


def _print_check(plate: IssuedPlate) -> _Standing:
    if plate.bar_x_mm is None or plate.bar_y_mm is None:
        return _Standing("unfinished", f"Measure both check bars of plate {plate.number} on the print and enter them.")
    worst = max(abs(plate.bar_x_mm - CHECK_BAR_MM), abs(plate.bar_y_mm - CHECK_BAR_MM))
    if worst > LARGEST_BAR_ERROR_MM:
        return _Standing(
            "unfinished",
            f"The check bars of plate {plate.number} measure {plate.bar_x_mm:g} and {plate.bar_y_mm:g} mm, not "
            f"{CHECK_BAR_MM:g} mm. Issue the corrected plate and print that.",
        )
    return _Standing("done", f"Plate {plate.number} is drawn for these targets and its print is true.")


def same_geometry(first: Geometry, second: Geometry) -> bool:
    """Return whether a plate drawn for one geometry serves the other."""
    return (
        abs(first.pivot_to_spindle_mm - second.pivot_to_spindle_mm) <= _SAME_LENGTH_MM
        and abs(first.effective_length_mm - second.effective_length_mm) <= _SAME_LENGTH_MM
        and abs(first.offset_angle_deg - second.offset_angle_deg) <= _SAME_ANGLE_DEG
    )


def _readings(inputs: JobInputs, problems: tuple[Problem, ...]) -> _Standing:
    lacking = []
    if not inputs.as_left.lengths and not is_tangential(inputs):
        lacking.append("effective length as left")
    if not inputs.as_left.forces:
        lacking.append("tracking force as left")
    if inputs.scale_check_before is None and inputs.scale_check_after is None:
        lacking.append("a check of the scale with known weights")
    refused = next((problem for problem in problems if problem.about.startswith("as left")), None)
    if lacking:
        return _Standing("unfinished", f"Still to read: {_listed(lacking)}.")
    if refused is not None:
        return _Standing("unfinished", refused.sentence)
    if not (inputs.as_found.lengths or inputs.as_found.forces):
        return _Standing("done", "All is read as left; nothing was read as found, so the report shows no before.")
    return _Standing("done", "All is read as left, and the state as found is on record.")


def _verdicts(inputs: JobInputs, as_left: StageResult, choose: _Standing, readings: _Standing) -> _Standing:
    verdicts = {
        "effective length": None if as_left.length is None else as_left.length.verdict,
        "tracking force": None if as_left.force is None else as_left.force.verdict,
    }
    given = {name: verdict for name, verdict in verdicts.items() if verdict is not None}
    if not given:
        return _Standing("unfinished", "No verdict as left yet.")
    if choose.state == "stale":
        return _Standing("stale", "The targets must be chosen again before these verdicts hold.")
    if readings.state != "done":
        return _Standing("unfinished", f"So far: {_outcomes(given)}.")
    not_in = [name for name, verdict in given.items() if verdict.outcome != IN_TOLERANCE]
    handed_over = bool(inputs.reports) and inputs.reports[-1].entries_since == 0
    if not not_in or handed_over:
        without = f" {NO_LENGTH}" if is_tangential(inputs) else ""
        return _Standing("done", f"As left: {_outcomes(given)}.{without}")
    not_shown = [name for name in not_in if given[name].outcome == UNDECIDED]
    advice = "Measure better or adjust" if not_shown else "Adjust and read again"
    return _Standing("unfinished", f"As left: {_outcomes(given)}. {advice}, or hand over with that stated.")


def _outcomes(verdicts: dict[str, Verdict]) -> str:
    return ", ".join(f"{name} {verdict.outcome}" for name, verdict in verdicts.items())


def _report(inputs: JobInputs) -> _Standing:
    if not inputs.reports:
        return _Standing("unfinished", "Issue the report when the verdicts are given.")
    report = inputs.reports[-1]
    if report.entries_since:
        entries = "entry was" if report.entries_since == 1 else "entries were"
        return _Standing(
            "stale", f"{report.entries_since} {entries} recorded since report {report.number}. Issue a new one."
        )
    return _Standing("done", f"Report {report.number} is issued.")


def _listed(names: list[str]) -> str:
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"
