"""What the choose page is filled with before anything is typed: what the job knows already."""

from __future__ import annotations

from groovewright.bench.targets.targets import TargetRequest
from groovewright.jobbook.models import Arm, Intake, TargetChoice
from groovewright.jobbook.queries import JobRecord, facts_of
from groovewright.measurement.quantity import Quantity
from groovewright.tonearm.groove_ranges import GROOVE_RANGES
from groovewright.web.intake.groove_form import OWN_RANGE
from groovewright.web.intake.quantity_field import typed_again, typed_rounded

FIRST_CRITERION = "minimax"
FIRST_GROOVE = "12 inch|RIAA 1963"
FIRST_VELOCITY = "10 cm/s"
FIRST_SPEED = "33 1/3 rpm"
LP_RPM = 100 / 3


def starting_values(record: JobRecord) -> dict[str, str]:
    """Return the text of every field: from the targets that stand, else from the intake and the readings."""
    values = {
        "pivot_to_spindle": typed_rounded(known_distance(record)),
        "groove": FIRST_GROOVE,
        "own_range": "",
        "arm_kind": Arm.Kind.OFFSET.value,
        "effective_length": "",
        "offset_angle": "",
        "peak_velocity": FIRST_VELOCITY,
        "speed": FIRST_SPEED,
        "criterion": FIRST_CRITERION,
    }
    if record.intake is not None:
        values |= _from_intake(record.intake)
    if record.choice is not None:
        values |= _from_choice(record.choice)
    return values


def known_distance(record: JobRecord) -> Quantity | None:
    """Return the pivot-to-spindle distance as its readings give it, or else as targets were chosen for it. [mm]"""
    joined = facts_of(record).joined_distance()
    if joined is not None:
        return joined.quantity
    return None if record.choice is None else record.choice.pivot_to_spindle


def known_arm(record: JobRecord) -> Arm | None:
    """Return the arm as it is known now."""
    return None if record.intake is None or record.intake.arm is None else record.intake.arm.current()


def _from_intake(intake: Intake) -> dict[str, str]:
    values = _groove(intake.innermost_mm, intake.outermost_mm, intake.groove_disc, intake.groove_standard)
    values["speed"] = _speed(intake.speed_rpm)
    arm = None if intake.arm is None else intake.arm.current()
    if arm is None:
        return values
    values["arm_kind"] = arm.kind
    if arm.effective_length_fixed:
        values["effective_length"] = typed_again(arm.drawn_effective_length)
    else:
        values["effective_length"] = _limits(arm.effective_length_limits_mm)
    if arm.offset_angle_fixed:
        values["offset_angle"] = typed_again(arm.drawn_offset_angle)
    else:
        values["offset_angle"] = _limits(arm.offset_angle_limits_deg)
    return values


def _from_choice(choice: TargetChoice) -> dict[str, str]:
    return {
        **_groove(choice.innermost_mm, choice.outermost_mm),
        "arm_kind": choice.arm_kind,
        "effective_length": _limits(choice.effective_length_limits_mm) or typed_again(choice.hold_effective_length),
        "offset_angle": _limits(choice.offset_angle_limits_deg) or typed_again(choice.hold_offset_angle),
        "peak_velocity": f"{choice.peak_velocity_cm_s:g} cm/s",
        "speed": _speed(choice.speed_rpm),
        "criterion": choice.criterion,
    }


def same_request(choice: TargetChoice, request: TargetRequest) -> bool:
    """Return whether targets that stand were chosen under the very conditions of a request."""
    names = ("criterion", "innermost_mm", "outermost_mm", "arm_kind", "pivot_to_spindle")
    return all(getattr(choice, name) == getattr(request, name) for name in names)


def _groove(innermost_mm: float, outermost_mm: float, disc: str = "", standard: str = "") -> dict[str, str]:
    for entry in GROOVE_RANGES:
        named = not disc or (entry.disc, entry.standard) == (disc, standard)
        if named and (entry.innermost_mm, entry.outermost_mm) == (innermost_mm, outermost_mm):
            return {"groove": f"{entry.disc}|{entry.standard}", "own_range": ""}
    return {"groove": OWN_RANGE, "own_range": f"{innermost_mm:.10g}:{outermost_mm:.10g}"}


def _speed(rpm: float) -> str:
    return FIRST_SPEED if abs(rpm - LP_RPM) < 1e-6 else f"{rpm:.10g} rpm"


def _limits(limits: tuple[float, float] | list[float] | None) -> str:
    return "" if not limits else f"{limits[0]:.10g}:{limits[1]:.10g}"
