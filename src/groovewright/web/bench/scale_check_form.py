"""What is typed when a scale is read with known weights."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from groovewright.bench.estimate.plausible import Known, doubt
from groovewright.gauges.check_weights import ACCURACY_CLASSES, CheckWeight, weight_of_class
from groovewright.gauges.scale_calibration import WeightReading
from groovewright.jobbook.models import Scale, ScaleCheck
from groovewright.jobbook.queries import current_rows
from groovewright.measurement.parsing import parse_list, parse_quantity
from groovewright.measurement.quantity import Quantity
from groovewright.measurement.units import to_canonical
from groovewright.web.intake.quantity_field import TypedField, typed_again
from groovewright.web.intake.second_thoughts import SecondThoughtsForm

LOADS = 5
SPREAD_SHARE, SPREAD_MN = 0.025, 0.5
"""How far an indication may lie from its load before it is asked back, one standard uncertainty: a scale that is a
tenth off, or 0.2 g with an empty pan, is broken rather than drifted (rule of thumb). The second in mN."""

EMPTY_PAN = ("", "empty", "empty pan", "0", "0 g")
WHEN = {ScaleCheck.When.BEFORE: "Before the readings", ScaleCheck.When.AFTER: "After the readings"}


class ScaleCheckForm(SecondThoughtsForm):
    """A scale with up to five loads; each load with what the scale showed, once or several times."""

    scale = forms.ModelChoiceField(label="Scale", queryset=Scale.objects.none(), empty_label=None)
    when = forms.ChoiceField(label="When", choices=list(WHEN.items()), widget=forms.RadioSelect)
    accuracy_class = forms.ChoiceField(
        label="Class of the weights",
        choices=[(name, f"{name} of OIML R 111") for name in ACCURACY_CLASSES],
        help_text="A weight with a certificate is typed with its own uncertainty: 2.0003 g +- 0.1 mg.",
    )
    note = forms.CharField(label="Note", max_length=1000, required=False)

    def __init__(self, data: Any = None, **options: Any) -> None:
        super().__init__(data, **options)
        self.fields["scale"].queryset = current_rows(Scale)
        self.fields["note"].widget.attrs.pop("maxlength")
        for k in range(1, LOADS + 1):
            self.fields[f"load_{k}"] = TypedField(label=f"Load {k}", example="2 g", required=False)
            # Several readings may stand in one line: its length is told when it is read.
            self.fields[f"shown_{k}"] = forms.CharField(
                label=f"Shown with load {k}",
                required=False,
                widget=forms.TextInput(
                    attrs={"autocomplete": "off", "spellcheck": "false", "placeholder": "2.01; 2.00 g"}
                ),
            )

    @property
    def rows(self) -> list[tuple[Any, Any]]:
        """Each load with what the scale showed under it."""
        return [(self[f"load_{k}"], self[f"shown_{k}"]) for k in range(1, LOADS + 1)]

    def clean(self) -> dict[str, Any]:
        """Read every line that holds something; a line left empty is no reading."""
        typed = super().clean() or {}
        readings: list[WeightReading] = []
        texts: list[str] = []
        doubts: dict[str, str] = {}
        for k in range(1, LOADS + 1):
            load, shown = typed.get(f"load_{k}", ""), typed.get(f"shown_{k}", "")
            if not shown:
                if load:
                    self.add_error(f"shown_{k}", ValidationError(f"Type what the scale showed with {load} on it."))
                continue
            weights = self._read(f"load_{k}", read_load, load, typed.get("accuracy_class", "M1"))
            indications = self._read(f"shown_{k}", read_indications, shown)
            doubts |= _doubts(f"shown_{k}", weights, indications or ())
            readings += [WeightReading(weights or (), value) for _, value in indications or ()]
            texts += [text for text, _ in indications or ()]
        # Where more than one line does not fit, weights are mixed up, and the check says so in its own words.
        if len(doubts) == 1:
            self.ask_back(*doubts.popitem())
        if not readings and not self.errors:
            self.add_error("shown_1", ValidationError("Type what the scale showed under at least two loads."))
        return typed | {"readings": readings, "texts": texts}

    def facts(self) -> dict[str, Any]:
        """Return the check as the job book keeps one."""
        return {name: self.cleaned_data[name] for name in ("scale", "when", "readings", "texts", "note")}

    def _read(self, name: str, reader: Any, *texts: str) -> Any:
        try:
            return reader(*texts)
        except ValueError as refusal:
            self.add_error(name, ValidationError(str(refusal)))
            return None


def _doubts(name: str, weights: Sequence[CheckWeight] | None, shown: Sequence[tuple[str, float]]) -> dict[str, str]:
    """Return what asks the indications of one line back, under the name of its field."""
    if weights is None or len({weight.name for weight in weights}) < len(weights):
        return {}
    load_mn = to_canonical(math.fsum(weight.mass.value for weight in weights), "g", "force")
    expected = Known(load_mn, max(SPREAD_MN, SPREAD_SHARE * load_mn), "the weights on it")
    for text, indication_mn in shown:
        indication = Quantity.exact(indication_mn, "mN")
        sentence = doubt(indication, text, name="indication", kind="force", expected=expected, shown_unit="g")
        if sentence is not None:
            return {name: sentence}
    return {}


def read_load(text: str, accuracy_class: str) -> tuple[CheckWeight, ...]:
    """Return the weights on the pan from text such as ``"2 g + 1 g"``; none for the empty pan.

    >>> [weight.name for weight in read_load("2 g + 1 g", "M1")]
    ['2 g, class M1', '1 g, class M1']
    """
    if text.strip().lower() in EMPTY_PAN:
        return ()
    return tuple(_weight(part.strip(), accuracy_class) for part in re.split(r"\+(?! ?/? ?-)", text))


def _weight(text: str, accuracy_class: str) -> CheckWeight:
    mass = parse_quantity(text, "mass", source=f"mass of check weight {text}", unit_when_missing="g", example="2 g")
    if mass.components is not None:
        return CheckWeight(typed_again(mass), mass, "its own certificate")
    return weight_of_class(
        f"{mass.value:g} g, class {accuracy_class}", nominal_g=mass.value, accuracy_class=accuracy_class
    )


def read_indications(text: str) -> list[tuple[str, float]]:
    """Return each indication as typed and in mN; a number without a unit is in g, as such scales show.

    >>> [round(value, 3) for _, value in read_indications("2.00; 2.01 g")]
    [19.613, 19.711]
    """
    shown = parse_list(text, "force", source="indication of the scale", unit_when_missing="g", example="2.01; 2.00 g")
    return [(typed_again(indication), indication.value) for indication in shown]
