"""What is typed when something is read, and why something is withdrawn."""

from __future__ import annotations

import re
from collections.abc import Mapping
from functools import cached_property
from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from groovewright.bench.estimate.plausible import doubt
from groovewright.jobbook.expected_values import expected_value
from groovewright.jobbook.gauge_uncertainty import with_gauge_uncertainty
from groovewright.jobbook.models import Gauge, Job, Reading, Scale, Stage
from groovewright.jobbook.queries import JobRecord, current_rows, job_record, next_reading_source
from groovewright.jobbook.reading_kinds import AT_A_RADIUS
from groovewright.measurement.parsing import parse_coefficient
from groovewright.measurement.quantity import Quantity
from groovewright.tonearm.input_ranges import GROOVE_RADIUS, STYLUS_HEIGHT
from groovewright.web.bench.kinds import KINDS, ReadingKind
from groovewright.web.intake.quantity_field import QuantityField, TypedField, typed_again
from groovewright.web.intake.second_thoughts import SecondThoughtsForm

STAGES = {Stage.AS_FOUND: "As found", Stage.AS_LEFT: "As left"}
PLACES = {Reading.Place.OUTER: "Outer", Reading.Place.MIDDLE: "Middle", Reading.Place.INNER: "Inner"}
SURFACES = {Reading.Surface.PLATTER: "the platter", Reading.Surface.RECORD: "a record"}

EMPTY_SCALE_MN = 0.5
"""Below this a scale shows its own zero and no arm (0.05 g: a rule of thumb). [mN]"""

LENGTHS = frozenset({Reading.Kind.EFFECTIVE_LENGTH, Reading.Kind.OVERHANG})

MAX_REPEATS = 12
"""More in one entry is a slip; a reading repeated a dozen times gains hardly anything by another."""

MAX_ENTRY = 400
"""Letters of an entry: a dozen readings with their uncertainties."""


class CoefficientField(TypedField):
    """A number without a unit, and its uncertainty where one is known."""

    def __init__(self, *, source: str, of: ReadingKind) -> None:
        super().__init__(example=of.example)
        self.source, self.of = source, of

    def clean(self, value: Any) -> Quantity | None:
        """Return the coefficient; ValidationError with one sentence that says what would be right."""
        typed = super().clean(value)
        try:
            quantity = parse_coefficient(typed, source=self.source, example=self.example)
        except ValueError as refusal:
            raise ValidationError(str(refusal), code="unread") from refusal
        if not 0 < quantity.value <= self.of.range.highest:
            raise ValidationError(
                f"A friction coefficient of {quantity.value:g} cannot be right here: above 0 and at most 2.",
                code="outside",
            )
        return quantity


def field_of(of: ReadingKind, source: str) -> TypedField:
    """Return the field that reads one entry of a kind."""
    if of.quantity == "coefficient":
        return CoefficientField(source=source, of=of)
    return QuantityField(
        of.quantity,
        source=source,
        example=of.example,
        **of.range.ends,
        show_unit=of.unit,
    )


class ReadingForm(SecondThoughtsForm):
    """One reading of one kind, or several of the same; it has the fields that its kind needs.

    Parameters
    ----------
    kind : str
        Of `KINDS`.
    """

    kind = forms.ChoiceField(choices=[(kind, kind) for kind in KINDS], widget=forms.HiddenInput)
    stage = forms.ChoiceField(label="Stage", choices=list(STAGES.items()), widget=forms.RadioSelect)
    radius = QuantityField(
        "length",
        label="Groove radius",
        source="groove radius",
        example="66 mm",
        required=False,
        **GROOVE_RADIUS.ends,
    )
    place = forms.ChoiceField(
        label="Place on the platter", required=False, choices=list(PLACES.items()), widget=forms.RadioSelect
    )
    entry = forms.CharField(
        label="Reading",
        strip=True,
        widget=forms.TextInput(attrs={"autocomplete": "off", "spellcheck": "false", "class": "typed-quantity"}),
    )
    scale = forms.ModelChoiceField(label="Scale", queryset=Scale.objects.none(), required=False, empty_label=None)
    platform_height = QuantityField(
        "length",
        label="Height of the stylus",
        source="platform height",
        example="1.9 mm",
        help_text="On the scale, above the platter. Empty: at record height.",
        required=False,
        **STYLUS_HEIGHT.ends,
    )
    surface = forms.ChoiceField(label="The scale was on", required=False, choices=list(SURFACES.items()))
    gauge = forms.ModelChoiceField(
        label="Gauge (lends its uncertainty)",
        queryset=Gauge.objects.none(),
        required=False,
        empty_label="None of these",
    )
    note = forms.CharField(label="Note", max_length=1000, required=False)
    corrects = forms.ModelChoiceField(queryset=Reading.objects.none(), required=False, widget=forms.HiddenInput)

    def __init__(self, job: Job, kind: str, data: Any = None, *, initial: dict[str, Any] | None = None) -> None:
        super().__init__(data, initial={**(initial or {}), "kind": kind})
        self.job, self.of = job, KINDS[kind]
        unused = {"gauge"} if self.of.needs_scale else {"place", "scale", "platform_height", "surface"}
        unused |= set() if kind in AT_A_RADIUS else {"radius"}
        for name in unused:
            del self.fields[name]
        querysets = {
            "gauge": current_rows(Gauge),
            "scale": current_rows(Scale),
            "corrects": job.readings.all(),
        }
        for name, rows in querysets.items():
            if name in self.fields:
                self.fields[name].queryset = rows
        self.fields["corrects"].error_messages["invalid_choice"] = (
            "The reading to correct is not one of this job's that hold; load the page again and choose it anew."
        )
        self.fields["note"].widget.attrs.pop("maxlength")
        example = field_of(self.of, "example").example
        self.fields["entry"].widget.attrs["placeholder"] = example
        self.fields["entry"].error_messages["required"] = f"Nothing was typed; write it like {example}."
        if kind != Reading.Kind.NULL_ANGLE and "radius" in self.fields:
            self.fields["radius"].help_text = "Empty: in the middle of the groove."

    def clean_entry(self) -> list[tuple[str, Quantity]]:
        """Return each reading as typed and as a quantity; several are typed with a semicolon between them."""
        typed = self.cleaned_data["entry"]
        if len(typed) > MAX_ENTRY:
            raise ValidationError(f"The entry has {len(typed)} characters; at most {MAX_ENTRY} are read here.")
        texts = [part.strip() for part in re.split(r"[;\n]", typed) if part.strip()]
        if len(texts) > MAX_REPEATS:
            raise ValidationError(f"{len(texts)} readings are in the entry; enter at most {MAX_REPEATS} at a time.")
        # Each reading has an error of its own, so each has a source of its own.
        source = next_reading_source(self.job, self.of.kind)
        sources = [source, *(f"{source}, repeat {k}" for k in range(2, len(texts) + 1))]
        quantities = [field_of(self.of, own).clean(text) for text, own in zip(texts, sources, strict=False)]
        # The record keeps the unit that a bare number took.
        return [(typed_again(quantity), quantity) for quantity in quantities]

    def clean(self) -> dict[str, Any]:
        """Ask for what the kind needs besides."""
        typed = self._correcting_what_holds(super().clean() or {})
        if self.of.kind == Reading.Kind.NULL_ANGLE and typed.get("radius") is None and "radius" not in self.errors:
            self.add_error("radius", "Say at which groove radius the angle was read, such as 66 mm.")
        if self.of.needs_scale and not typed.get("place") and "place" not in self.errors:
            self.add_error("place", "Say where on the platter the force was read.")
        if self.of.needs_scale and typed.get("scale") is None and "scale" not in self.errors:
            self.add_error("scale", "Name the scale: its check with known weights is what corrects the reading.")
        if typed.get("corrects") is not None and len(typed.get("entry", ())) > 1:
            self.add_error("entry", "A correction is one reading; type the one that is right.")
        self._ask_back(typed)
        return typed

    def _correcting_what_holds(self, typed: dict[str, Any]) -> dict[str, Any]:
        """Tell what a reading was corrected to meanwhile; a second press corrects that one."""
        named = typed.get("corrects")
        if named is None or named.is_current:
            if named is not None and named.withdrawn:
                self.add_error("corrects", ValidationError(self.fields["corrects"].error_messages["invalid_choice"]))
            return typed
        now = named.current()
        if now.withdrawn:
            sentence = "Meanwhile this reading was taken back. What you typed is still here: enter it as a new reading."
        else:
            sentence = (
                f"Meanwhile this reading was corrected to {now.text}. What you typed is still here: press the same "
                "button again to correct that one."
            )
        self.data = {**self.data.dict(), "corrects": "" if now.withdrawn else str(now.pk)}
        self.add_error("entry", ValidationError(sentence, code="changed"))
        return typed | {"corrects": now}

    @cached_property
    def record(self) -> JobRecord:
        """What the job holds before this entry."""
        return job_record(self.job)

    def _ask_back(self, typed: Mapping[str, Any]) -> None:
        """Ask an entry back of which one reading does not fit what the job knows."""
        kind, record = Reading.Kind(self.of.kind), self.record
        expected = expected_value(record, kind, typed.get("stage", ""), leaving_out=typed.get("corrects"))
        if expected is None:
            return
        distance = None if record.choice is None else record.choice.pivot_to_spindle
        for text, quantity in typed.get("entry", ()):
            # An unloaded scale may be read on purpose.
            if self.of.needs_scale and abs(quantity.value) < EMPTY_SCALE_MN:
                continue
            sentence = doubt(
                quantity,
                text,
                name=kind.label,
                kind=self.of.quantity,
                expected=expected,
                shown_unit=self.of.unit,
                distance_mm=distance.value if distance is not None and kind in LENGTHS else None,
            )
            self.ask_back("entry", sentence)

    def facts(self) -> list[dict[str, Any]]:
        """Return each reading as the job book keeps one."""
        typed = self.cleaned_data
        common = {name: typed[name] for name in ("stage", "note", "corrects")} | {"kind": self.of.kind}
        if self.of.needs_scale:
            common |= {name: typed[name] for name in ("place", "scale", "platform_height")}
            common["surface"] = typed["surface"] or Reading.Surface.PLATTER
        else:
            common["gauge"] = typed["gauge"]
        if typed.get("radius") is not None:
            common["radius_mm"] = typed["radius"].value
        return [
            common | {"text": text, "quantity": with_gauge_uncertainty(quantity, common.get("gauge"))}
            for text, quantity in typed["entry"]
        ]


class WithdrawForm(forms.Form):
    """Why a reading, a move or a fault is taken back."""

    note = forms.CharField(label="Why", max_length=1000, error_messages={"required": "Say why; the record keeps both."})


class FaultForm(forms.Form):
    """Something found faulty that setting up cannot cure."""

    text = forms.CharField(
        label="Fault",
        max_length=2000,
        widget=forms.Textarea(attrs={"rows": 2}),
        help_text="A plain sentence, as the owner will read it in the report.",
        error_messages={"required": "Say what is faulty."},
    )
    found = forms.ChoiceField(label="Found", choices=list(STAGES.items()), widget=forms.RadioSelect)
