"""The places of an arc trace as they are typed, one line a place."""

from __future__ import annotations

from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from groovewright.jobbook.models import IssuedPlate, Job, Reading
from groovewright.measurement.parsing import parse_list
from groovewright.measurement.quantity import Quantity
from groovewright.web.bench.reading_form import STAGES
from groovewright.web.intake.quantity_field import QuantityField, typed_again

Kind = Reading.Kind

LONGEST_TRACE = 60
TRACE_EXAMPLE = "65   0.12 mm\n80   0.05 mm"


class TraceForm(forms.Form):
    """Where the stylus sits beside the arc, one line a place."""

    plate = forms.ModelChoiceField(
        label="Plate",
        queryset=IssuedPlate.objects.none(),
        empty_label=None,
        error_messages={"required": "Name the plate whose arc was traced."},
    )
    stage = forms.ChoiceField(label="Stage", choices=list(STAGES.items()), widget=forms.RadioSelect)
    places = forms.CharField(
        label="Groove radius and distance beside the arc, one line a place",
        widget=forms.Textarea(attrs={"rows": 9, "placeholder": TRACE_EXAMPLE, "spellcheck": "false"}),
        help_text="Away from the pivot is +. At least four places, spread over the whole groove.",
        error_messages={"required": "Write one line a place, such as: 65 0.12 mm"},
    )
    uncertainty = QuantityField(
        "length",
        label="How well one place is read",
        source="eye at the arc",
        example="0.1 mm",
        help_text="One standard uncertainty: a fifth of a line's width for a practised eye with a magnifier.",
        lowest=0.001,
        highest=5,
    )
    note = forms.CharField(label="Note", max_length=1000, required=False)

    def __init__(self, job: Job, data: Any = None, **options: Any) -> None:
        super().__init__(data, **options)
        self.job = job
        self.fields["plate"].queryset = job.plates.filter(kind="arc").order_by("-pk")
        self.fields["note"].widget.attrs.pop("maxlength")

    def clean_places(self) -> list[tuple[str, float, float]]:
        """Return text, radius and distance of each line. [mm]"""
        lines = [line.strip() for line in self.cleaned_data["places"].splitlines()]
        places = [_place(number, line) for number, line in enumerate(lines, start=1) if line]
        if len(places) < 4:
            raise ValidationError(f"An arc is traced at four places at least, and {len(places)} stand here.")
        if len(places) > LONGEST_TRACE:
            raise ValidationError(f"{len(places)} places stand here; {LONGEST_TRACE} are enough for any arc.")
        return places

    def facts(self) -> list[dict[str, Any]]:
        """Return the readings as the job book keeps them."""
        typed = self.cleaned_data
        u_mm = typed["uncertainty"].value
        traced = self.job.readings.filter(kind=Kind.ARC_TRACE, plate=typed["plate"])
        laying = 1 + max((reading.laying or 0 for reading in traced), default=0)
        first = self.job.readings.filter(kind=Kind.ARC_TRACE).count()
        return [
            {
                "kind": Kind.ARC_TRACE,
                "stage": typed["stage"],
                "text": text,
                "quantity": Quantity.measured(
                    distance_mm,
                    "mm",
                    standard_uncertainty=u_mm,
                    source=f"job {self.job.number}, distance beside the arc, reading {first + k}",
                ),
                "plate": typed["plate"],
                "radius_mm": radius_mm,
                "laying": laying,
                "note": typed["note"],
            }
            for k, (text, radius_mm, distance_mm) in enumerate(typed["places"], start=1)
        ]


def _place(number: int, line: str) -> tuple[str, float, float]:
    """Return a line of a trace with its radius and distance. [mm]"""
    try:
        numbers = parse_list(line, "length", source="line", unit_when_missing="mm", example="65 0.12 mm")
    except ValueError as refusal:
        raise ValidationError(f"Line {number}: {refusal}") from refusal
    if len(numbers) != 2:
        raise ValidationError(
            f"Line {number}, “{line[:60]}”, needs two numbers: groove radius and distance, such as 65 0.12 mm"
        )
    radius, distance = numbers
    if not 20 <= radius.value <= 200:
        raise ValidationError(f"Line {number}: a groove radius lies between 20 and 200 mm, not at {radius.value:g} mm.")
    if abs(distance.value) > 20:
        raise ValidationError(
            f"Line {number}: {distance.value:g} mm beside the arc is more than an arm of this plate can be off; the "
            f"distance stands second."
        )
    return f"{typed_again(radius)} {typed_again(distance)}", radius.value, distance.value
