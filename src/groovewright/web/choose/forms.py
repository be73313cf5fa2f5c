"""What is typed on the choose page."""

from __future__ import annotations

from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from groovewright.bench.estimate.plausible import doubt
from groovewright.bench.targets.targets import TargetRequest
from groovewright.jobbook.expected_values import expected_distance
from groovewright.jobbook.models import Arm
from groovewright.measurement.parsing import split_range
from groovewright.measurement.quantity import Quantity
from groovewright.tonearm.criteria import CRITERIA
from groovewright.tonearm.input_ranges import ARM_LENGTH, OFFSET_ANGLE, PEAK_VELOCITY, SPEED
from groovewright.web.intake.groove_form import GrooveForm
from groovewright.web.intake.quantity_field import (
    QuantityField,
    RangeField,
    TypedField,
    shown_unit,
    typed_again,
    typed_rounded,
)
from groovewright.web.intake.second_thoughts import SecondThoughtsForm

TANGENTIAL = "tangential"
ARM_KINDS = {
    "offset": "Pivoted, offset headshell",
    "straight underhung": "Pivoted, straight, underhung",
    TANGENTIAL: "Tangential",
}
Allowance = tuple[float, float] | Quantity


class AllowanceField(TypedField):
    """What the headshell allows: a range such as ``238:243``, one fixed value, or nothing when it is free."""

    def __init__(self, kind: str, *, lowest: float, highest: float, source: str, **options: Any) -> None:
        super().__init__(required=False, unit=shown_unit(kind), **options)
        limits = {"example": self.example, "lowest": lowest, "highest": highest, "required": False}
        self.limits = RangeField(kind, **limits)
        self.fixed = QuantityField(kind, source=source, **limits)

    def clean(self, value: Any) -> Allowance | None:
        """Return both limits, or the fixed value, or None; ValidationError with one sentence otherwise."""
        return self.limits.clean(value) if split_range(str(value or "")) else self.fixed.clean(value)


class ChooseForm(SecondThoughtsForm, GrooveForm):
    """Everything the targets depend on."""

    pivot_to_spindle = QuantityField(
        "length",
        label="Pivot-to-spindle distance",
        source="pivot-to-spindle distance as typed",
        example="222 +- 0.3 mm",
        help_text="As measured; after +- stands one standard uncertainty.",
        **ARM_LENGTH.ends,
        required=False,
    )
    arm_kind = forms.ChoiceField(label="Arm", choices=list(ARM_KINDS.items()))
    effective_length = AllowanceField(
        "length",
        label="Effective length",
        example="238:243",
        source="effective length as held",
        **ARM_LENGTH.ends,
    )
    offset_angle = AllowanceField(
        "angle",
        label="Offset angle",
        example="21:25",
        source="offset angle as held",
        **OFFSET_ANGLE.ends,
    )
    peak_velocity = QuantityField(
        "velocity",
        label="Peak recorded velocity",
        source="peak velocity as typed",
        example="10 cm/s",
        **PEAK_VELOCITY.ends,
    )
    speed = QuantityField(
        "rotation",
        label="Speed",
        source="speed as typed",
        example="33 1/3 rpm",
        **SPEED.ends,
    )
    criterion = forms.ChoiceField(
        label="Criterion", choices=[(key, criterion.label) for key, criterion in CRITERIA.items()]
    )

    def __init__(
        self,
        data: Any,
        *,
        known_distance: Quantity | None = None,
        arm: Arm | None = None,
        initial: dict[str, str] | None = None,
    ) -> None:
        super().__init__(data, initial=initial)
        self.known_distance, self.arm = known_distance, arm

    def clean_pivot_to_spindle(self) -> Quantity:
        """Return the distance; left as the job knows it, it keeps its digits and its sources of uncertainty."""
        typed = self.data["pivot_to_spindle"].strip()
        if self.known_distance is not None and typed == typed_rounded(self.known_distance):
            return self.known_distance
        return self.cleaned_data["pivot_to_spindle"]

    def clean(self) -> dict[str, Any]:
        """Refuse a pivoted arm without its distance, and grooves that are not given."""
        cleaned = super().clean()
        if cleaned.get("arm_kind") == TANGENTIAL:
            cleaned["pivot_to_spindle"] = None
        elif "pivot_to_spindle" in cleaned and cleaned["pivot_to_spindle"] is None:
            example = self.fields["pivot_to_spindle"].example
            self.add_error("pivot_to_spindle", ValidationError(f"Nothing was typed; write it like {example}."))
        self._ask_back_distance(cleaned.get("pivot_to_spindle"))
        return cleaned

    def _ask_back_distance(self, distance: Quantity | None) -> None:
        # What the job knows already was typed and asked back before.
        if distance is None or distance is self.known_distance:
            return
        drawn = None if self.arm is None else self.arm.drawn_effective_length
        sentence = doubt(
            distance,
            typed_again(distance),
            name="pivot-to-spindle distance",
            kind="length",
            expected=expected_distance(self.arm, self.known_distance),
            shown_unit="mm",
            other_things={} if drawn is None else {"effective length": drawn.value},
        )
        self.ask_back("pivot_to_spindle", sentence)

    def request(self, criterion: str) -> TargetRequest:
        """Return what the bench is asked for, under one criterion."""
        typed = self.cleaned_data
        innermost_mm, outermost_mm = self.groove_radii_mm()
        length, angle = typed["effective_length"], typed["offset_angle"]
        if typed["arm_kind"] == TANGENTIAL:
            length = angle = None
        return TargetRequest(
            pivot_to_spindle=typed["pivot_to_spindle"],
            criterion=criterion,
            innermost_mm=innermost_mm,
            outermost_mm=outermost_mm,
            effective_length_limits_mm=length if isinstance(length, tuple) else None,
            offset_angle_limits_deg=angle if isinstance(angle, tuple) else None,
            hold_effective_length=length if isinstance(length, Quantity) else None,
            hold_offset_angle=angle if isinstance(angle, Quantity) else None,
            peak_velocity_cm_s=typed["peak_velocity"].value,
            speed_rpm=typed["speed"].value,
            arm_kind=typed["arm_kind"],
        )
