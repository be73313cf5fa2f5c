"""What is typed at the bench: a reading by hand, a move that was made, and the places of an arc trace."""

from __future__ import annotations

import json
from dataclasses import fields
from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from groovewright.bench.moves.hands import Hands
from groovewright.jobbook.gauge_uncertainty import with_gauge_uncertainty
from groovewright.jobbook.models import IssuedPlate, Job, Reading, Stage
from groovewright.jobbook.queries import JobRecord, next_reading_source
from groovewright.jobbook.reading_kinds import AT_A_RADIUS
from groovewright.measurement.parsing import parse_coefficient, parse_list
from groovewright.measurement.quantity import Quantity
from groovewright.tonearm.arm_state import Adjustments
from groovewright.web.intake.quantity_field import QuantityField, TypedField, typed_again
from groovewright.web.readings.bench_kinds import BENCH_KINDS, GROUPS
from groovewright.web.readings.forms import STAGES, ByHandForm

Kind = Reading.Kind

ANGLES: dict[str, tuple[float, float, str]] = {
    Kind.ZENITH_ERROR: (-20, 20, "0.4 +- 0.2 deg"),
    Kind.NULL_ANGLE: (-20, 20, "0.3 +- 0.2 deg"),
    Kind.OFFSET_ANGLE: (0, 60, "23 +- 0.3 deg"),
    Kind.AZIMUTH_ROTATION: (-45, 45, "-0.6 +- 0.2 deg"),
    Kind.STYLUS_RAKE_ANGLE: (60, 120, "91.5 +- 0.5 deg"),
    Kind.VERTICAL_TRACKING_ANGLE: (0, 60, "22 +- 0.5 deg"),
    Kind.VERTICAL_TRACKING_ANGLE_ERROR: (-30, 30, "0.8 +- 0.4 deg"),
}
"""Lowest and highest that can be right, and an example."""

FORCE_EXAMPLE = "1.4 +- 0.2 mN"
COEFFICIENT_EXAMPLE = "0.3 +- 0.05"
EXAMPLES = {kind: ANGLES[kind][2] if kind in ANGLES else FORCE_EXAMPLE for kind in BENCH_KINDS} | {
    Kind.FRICTION_COEFFICIENT: COEFFICIENT_EXAMPLE
}


class CoefficientField(TypedField):
    """A number without a unit, and its uncertainty where one is known."""

    def __init__(self, *, source: str, **options: Any) -> None:
        super().__init__(example=COEFFICIENT_EXAMPLE, **options)
        self.source = source

    def clean(self, value: Any) -> Quantity | None:
        """Return the coefficient; ValidationError with one sentence that says what would be right."""
        typed = super().clean(value)
        try:
            quantity = parse_coefficient(typed, source=self.source, example=self.example)
        except ValueError as refusal:
            raise ValidationError(str(refusal), code="unread") from refusal
        if not 0 < quantity.value <= 2:
            raise ValidationError(
                f"A friction coefficient of {quantity.value:g} cannot be right here: above 0 and at most 2.",
                code="outside",
            )
        return quantity


def entry_field(kind: str, source: str) -> TypedField:
    """Return the field that reads an entry of this kind."""
    if kind == Kind.FRICTION_COEFFICIENT:
        return CoefficientField(source=source)
    if kind in ANGLES:
        lowest, highest, example = ANGLES[kind]
        return QuantityField("angle", source=source, example=example, lowest=lowest, highest=highest)
    return QuantityField("force", source=source, example=FORCE_EXAMPLE, lowest=-50, highest=50, show_unit="mN")


class BenchReadingForm(ByHandForm):
    """One reading of an angle or of the side force."""

    kind = forms.ChoiceField(label="What is read", choices=[(title, list(of.items())) for title, of in GROUPS.items()])
    entry = TypedField(
        label="Reading, with its unit",
        example=EXAMPLES[Kind.ZENITH_ERROR],
        help_text="± and a standard uncertainty may follow; without one the reading cannot be weighted.",
    )
    radius = QuantityField(
        "length",
        label="Groove radius",
        source="groove radius",
        example="66 mm",
        help_text="Needed by a null check. A side force holds in the middle of the groove without one.",
        required=False,
        lowest=20,
        highest=200,
    )

    def __init__(self, job: Job, data: Any = None, **options: Any) -> None:
        super().__init__(job, data, **options)
        kind = self["kind"].value()
        self.fields["entry"].widget.attrs.update({"placeholder": EXAMPLES.get(kind, EXAMPLES[Kind.ZENITH_ERROR])})

    @property
    def examples(self) -> str:
        """What a good entry looks like, for each kind, for the script that shows it in the empty field."""
        return json.dumps(EXAMPLES)

    def clean(self) -> dict[str, Any]:
        """Read the entry as its kind asks."""
        typed = super().clean() or {}
        kind = typed.get("kind")
        if kind is None:
            return typed
        if "entry" in typed:
            self._read_entry(typed, kind)
        if kind == Kind.NULL_ANGLE and typed.get("radius") is None and "radius" not in self.errors:
            self.add_error("radius", "Say at which groove radius the angle was read, such as 66 mm.")
        if kind not in AT_A_RADIUS and typed.get("radius") is not None:
            sentence = f"The {Reading.Kind(kind).label} is the same at every groove radius; leave this empty."
            self.add_error("radius", sentence)
        return typed

    def _read_entry(self, typed: dict[str, Any], kind: str) -> None:
        try:
            quantity = entry_field(kind, next_reading_source(self.job, kind)).clean(typed["entry"])
        except ValidationError as refusal:
            self.add_error("entry", refusal)
            return
        # The record keeps the unit that a bare number took.
        typed["entry"] = typed_again(quantity)
        self.ask_back_reading(quantity, typed)
        typed["quantity"] = with_gauge_uncertainty(quantity, typed.get("gauge"))

    def facts(self) -> dict[str, Any]:
        """Return the reading as the job book keeps one."""
        typed = self.cleaned_data
        radius = typed["radius"]
        return {
            "kind": typed["kind"],
            "stage": typed["stage"],
            "text": typed["entry"],
            "quantity": typed["quantity"],
            "gauge": typed["gauge"],
            "note": typed["note"],
            "corrects": typed["corrects"],
            "radius_mm": None if radius is None else radius.value,
        }


def _move_field(kind: str, label: str, example: str, help_text: str, reach: float) -> QuantityField:
    unit = {"length": "mm", "angle": "deg", "force": "mN"}[kind]
    return QuantityField(
        kind,
        label=label,
        source="the hand",
        example=example,
        help_text=help_text,
        required=False,
        lowest=-reach,
        highest=reach,
        show_unit=unit,
    )


class MoveForm(forms.Form):
    """What was moved, and how far."""

    slide_mm = _move_field("length", "Cartridge slid", "0.4 mm", "Forward is +.", 30)
    turn_deg = _move_field("angle", "Cartridge turned", "0.5 deg", "Inward is +.", 30)
    base_position_mm = _move_field("length", "Arm base moved", "0.5 mm", "Away from the spindle is +.", 60)
    arm_height_mm = _move_field("length", "Arm height", "1 mm", "Up is +.", 40)
    counterweight_mm = _move_field("length", "Counterweight", "0.5 mm", "Toward the pivot is +: more force.", 60)
    compensation_mn = _move_field("force", "Side-force compensation", "0.4 mN", "More is +.", 50)
    roll_deg = _move_field("angle", "Cartridge rolled", "0.5 deg", "In the sense of the azimuth is +.", 30)
    note = forms.CharField(label="Note", max_length=1000, required=False)

    def __init__(self, data: Any = None, **options: Any) -> None:
        # Beside the form of a reading, which has a note too.
        super().__init__(data, auto_id="move_%s", **options)
        self.fields["note"].widget.attrs.pop("maxlength")

    @property
    def amounts(self) -> list[forms.BoundField]:
        """The fields of the seven adjusters."""
        return [self[field.name] for field in fields(Adjustments)]

    def clean(self) -> dict[str, Any]:
        """Refuse a move of nothing."""
        typed = super().clean() or {}
        names = [field.name for field in fields(Adjustments)]
        moved = any(typed.get(name) is not None and typed[name].value for name in names)
        if not moved and not any(name in self.errors for name in names):
            raise ValidationError("Say what was moved: write an amount beside at least one adjuster.")
        return typed

    def facts(self, *, as_asked: str) -> dict[str, Any]:
        """Return the move as the job book keeps one; where no uncertainty was typed, the usual one of a careful hand.

        `as_asked` are the words of the proposal, empty where something else was done.
        """
        typed = {field.name: self.cleaned_data.get(field.name) for field in fields(Adjustments)}
        amounts = Adjustments(**{name: 0.0 if q is None else q.value for name, q in typed.items()})
        usual = Hands().uncertainty(amounts)
        known = {name: q.standard_uncertainty for name, q in typed.items() if q is not None and q.standard_uncertainty}
        uncertainties = Adjustments(**{name: known.get(name, getattr(usual, name)) for name in typed})
        return {
            "amounts": amounts,
            "uncertainties": uncertainties,
            "note": self.cleaned_data["note"],
            "text": as_asked,
        }


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


def likely_stage(record: JobRecord) -> str:
    """Return the stage of the next reading: as found until something was moved or read as left."""
    left = bool(record.adjustments) or any(reading.stage == Stage.AS_LEFT for reading in record.readings)
    return Stage.AS_LEFT if left else Stage.AS_FOUND
