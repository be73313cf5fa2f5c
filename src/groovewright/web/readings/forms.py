"""What is typed when something is read."""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from groovewright.bench.estimate.plausible import doubt
from groovewright.jobbook.expected_values import expected_value
from groovewright.jobbook.gauge_uncertainty import with_gauge_uncertainty
from groovewright.jobbook.models import Gauge, Job, Reading, Scale, Stage
from groovewright.jobbook.queries import current_rows, job_record, next_reading_source
from groovewright.measurement.quantity import Quantity
from groovewright.web.intake.quantity_field import QuantityField, TypedField, typed_again
from groovewright.web.intake.second_thoughts import SecondThoughtsForm

KINDS = {
    Reading.Kind.PIVOT_TO_SPINDLE: "Pivot to spindle",
    Reading.Kind.EFFECTIVE_LENGTH: "Effective length",
    Reading.Kind.OVERHANG: "Overhang",
    Reading.Kind.TRACKING_FORCE: "Tracking force",
}
EMPTY_SCALE_MN = 0.5
"""Below this a scale shows its own zero and no arm (0.05 g: a rule of thumb). [mN]"""

LENGTHS = frozenset({Reading.Kind.EFFECTIVE_LENGTH, Reading.Kind.OVERHANG})
STAGES = {Stage.AS_FOUND: "As found", Stage.AS_LEFT: "As left"}
PLACES = {Reading.Place.OUTER: "Outer", Reading.Place.MIDDLE: "Middle", Reading.Place.INNER: "Inner"}
SURFACES = {Reading.Surface.PLATTER: "the platter", Reading.Surface.RECORD: "a record"}
EXAMPLES = {
    Reading.Kind.PIVOT_TO_SPINDLE: "222 +- 0.3 mm",
    Reading.Kind.EFFECTIVE_LENGTH: "239.3 mm",
    Reading.Kind.OVERHANG: "17.3 mm",
    Reading.Kind.TRACKING_FORCE: "1.85 g",
}


def entry_field(kind: str, source: str) -> QuantityField:
    """Return the field that reads an entry of this kind."""
    example = EXAMPLES[Reading.Kind(kind)]
    if kind == Reading.Kind.TRACKING_FORCE:
        # As the scale shows it: an unloaded scale may stand a little below 0.
        return QuantityField("force", source=source, example=example, lowest=-5, highest=200, show_unit="g")
    limits = {"lowest": -60, "highest": 60} if kind == Reading.Kind.OVERHANG else {"lowest": 100, "highest": 500}
    return QuantityField("length", source=source, example=example, **limits)


class ByHandForm(SecondThoughtsForm):
    """What every reading by hand has: its stage, its gauge, a note, and the reading that it corrects."""

    stage = forms.ChoiceField(label="Stage", choices=list(STAGES.items()), widget=forms.RadioSelect)
    gauge = forms.ModelChoiceField(
        label="Gauge",
        queryset=Gauge.objects.none(),
        required=False,
        empty_label="None of these",
        help_text="Lends its uncertainty to a reading typed without one.",
    )
    note = forms.CharField(label="Note", max_length=1000, required=False)
    corrects = forms.ModelChoiceField(queryset=Reading.objects.none(), required=False, widget=forms.HiddenInput)

    def __init__(self, job: Job, data: Any = None, **options: Any) -> None:
        super().__init__(data, **options)
        self.job = job
        self.fields["gauge"].queryset = current_rows(Gauge)
        self.fields["corrects"].queryset = job.readings.all()
        self.fields["corrects"].error_messages["invalid_choice"] = (
            "The reading to correct is not one of this job's that stand; load the page again and choose it anew."
        )
        self.fields["note"].widget.attrs.pop("maxlength")

    def clean(self) -> dict[str, Any]:
        """Tell what a reading was corrected to meanwhile; a second press corrects that one."""
        typed: dict[str, Any] = super().clean() or {}
        named = typed.get("corrects")
        if named is None or named.is_current:
            if named is not None and named.withdrawn:
                self.add_error("corrects", ValidationError(self.fields["corrects"].error_messages["invalid_choice"]))
            return typed
        now = named.current()
        if now.withdrawn:
            sentence = "Meanwhile this reading was taken back. What you typed is still here: enter it as a new reading."
            self.data = {**self.data.dict(), "corrects": ""}
        else:
            sentence = (
                f"Meanwhile this reading was corrected to {now.text}. What you typed is still here: press the same "
                "button again to correct that one."
            )
            self.data = {**self.data.dict(), "corrects": str(now.pk)}
        self.add_error("entry", ValidationError(sentence, code="changed"))
        return typed | {"corrects": now}

    def ask_back_reading(self, quantity: Quantity, typed: Mapping[str, Any]) -> None:
        """Ask the entry back if it does not fit what the job knows."""
        kind = Reading.Kind(typed["kind"])
        record = job_record(self.job)
        expected = expected_value(record, kind, typed.get("stage", ""), leaving_out=typed.get("corrects"))
        # An unloaded scale may be read on purpose.
        if expected is None or (kind == Reading.Kind.TRACKING_FORCE and abs(quantity.value) < EMPTY_SCALE_MN):
            return
        distance = None if record.choice is None else record.choice.pivot_to_spindle
        shown = {"mm": "mm", "deg": "deg"}.get(quantity.unit)
        sentence = doubt(
            quantity,
            typed["entry"],
            name=kind.label,
            kind={"mm": "length", "deg": "angle", "mN": "force"}[quantity.unit],
            expected=expected,
            shown_unit=shown or ("g" if kind == Reading.Kind.TRACKING_FORCE else "mN"),
            distance_mm=distance.value if distance is not None and kind in LENGTHS else None,
        )
        self.ask_back("entry", sentence)


class ReadingForm(ByHandForm):
    """One reading of a length or a force: what, when, where, with what, and the entry itself."""

    kind = forms.ChoiceField(label="What is read", choices=list(KINDS.items()), widget=forms.RadioSelect)
    place = forms.ChoiceField(
        label="Place on the platter", required=False, choices=list(PLACES.items()), widget=forms.RadioSelect
    )
    entry = TypedField(
        label="Reading, with its unit",
        example="1.85 g",
        help_text="As it is shown. ± and a standard uncertainty may follow, or “within” and a bound.",
    )
    scale = forms.ModelChoiceField(label="Scale", queryset=Scale.objects.none(), required=False, empty_label=None)
    platform_height = QuantityField(
        "length",
        label="Height of the stylus",
        source="platform height",
        example="1.9 mm",
        help_text="On the scale, above the platter. Empty: at record height.",
        required=False,
        lowest=0,
        highest=60,
    )
    surface = forms.ChoiceField(label="The scale stood on", required=False, choices=list(SURFACES.items()))

    def __init__(self, job: Job, data: Any = None, **options: Any) -> None:
        super().__init__(job, data, **options)
        self.fields["scale"].queryset = current_rows(Scale)
        kind = self["kind"].value()
        example = EXAMPLES.get(kind, EXAMPLES[Reading.Kind.TRACKING_FORCE])
        self.fields["entry"].widget.attrs.update({"data-next-entry": "", "placeholder": example})

    @property
    def examples(self) -> str:
        """What a good entry looks like, for each kind, for the script that shows it in the empty field."""
        return json.dumps(EXAMPLES)

    def clean(self) -> dict[str, Any]:
        """Read the entry as its kind asks, and ask for what a force needs besides."""
        typed = super().clean() or {}
        kind = typed.get("kind")
        if kind is None:
            return typed
        if "entry" in typed:
            self._read_entry(typed, kind)
        if kind == Reading.Kind.TRACKING_FORCE:
            self._need_place_and_scale(typed)
        return typed

    def facts(self) -> dict[str, Any]:
        """Return the reading as the job book keeps one."""
        typed = self.cleaned_data
        common = {name: typed[name] for name in ("kind", "stage", "quantity", "note", "corrects")}
        common["text"] = typed["entry"]
        if typed["kind"] != Reading.Kind.TRACKING_FORCE:
            return common | {"gauge": typed["gauge"]}
        return common | {
            "place": typed["place"],
            "scale": typed["scale"],
            "platform_height": typed["platform_height"],
            "surface": typed["surface"] or Reading.Surface.PLATTER,
        }

    def _read_entry(self, typed: dict[str, Any], kind: str) -> None:
        try:
            quantity: Quantity = entry_field(kind, next_reading_source(self.job, kind)).clean(typed["entry"])
        except ValidationError as refusal:
            self.add_error("entry", refusal)
            return
        # The record keeps the unit that a bare number took.
        typed["entry"] = typed_again(quantity)
        self.ask_back_reading(quantity, typed)
        typed["quantity"] = with_gauge_uncertainty(quantity, typed.get("gauge"))

    def _need_place_and_scale(self, typed: dict[str, Any]) -> None:
        if not typed.get("place"):
            self.add_error("place", ValidationError("Say where on the platter the force was read."))
        if typed.get("scale") is None and "scale" not in self.errors:
            sentence = "Name the scale: its check with known weights is what corrects the reading."
            self.add_error("scale", ValidationError(sentence))


class WithdrawForm(forms.Form):
    """Why a reading, a check or a fault is taken back."""

    note = forms.CharField(label="Why", max_length=1000, error_messages={"required": "Say why; the record keeps both."})
