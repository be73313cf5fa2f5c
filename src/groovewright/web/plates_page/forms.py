"""What is typed on the plate page."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django import forms

from groovewright.bench.estimate.plausible import Usual, doubt
from groovewright.jobbook.job_facts import targets_of
from groovewright.jobbook.models import IssuedPlate, TargetChoice
from groovewright.plates.paper import PAPERS
from groovewright.plates.plate import PlateRequest
from groovewright.tonearm.criteria import CRITERIA
from groovewright.web.intake.quantity_field import QuantityField, typed_again
from groovewright.web.intake.second_thoughts import SecondThoughtsForm

KINDS = {
    "arc": "Arc, to trace and to align on this deck",
    "two-null": "Two nulls, to align only",
    "cut": "Arc for cutting, by laser or knife",
}
NO_PLATE = (
    "A tangential arm traces no arc and has no null radius, so no kind of plate serves it. "
    "Go on with its tracking force."
)
FIRST_VALUES = {
    "kind": "arc",
    "paper": "A4",
    "fan_half_width": "2 mm",
    "fan_step": "0.5 mm",
    "spindle_clearance": "0.05 mm",
}


def starting_values(plates: Sequence[IssuedPlate]) -> dict[str, str]:
    """Return the text of every field: as the last plate of the job was asked for, if there is one."""
    if not plates:
        return FIRST_VALUES
    asked = plates[-1].request
    return {
        "kind": plates[-1].kind,
        "paper": plates[-1].paper,
        "fan_half_width": f"{asked['fan_half_width_mm']:g} mm",
        "fan_step": f"{asked['fan_step_mm']:g} mm",
        "spindle_clearance": f"{asked['spindle_clearance_mm']:g} mm",
    }


class PlateForm(forms.Form):
    """Which plate to draw for the targets that stand."""

    kind = forms.ChoiceField(label="Plate", choices=list(KINDS.items()), widget=forms.RadioSelect)
    paper = forms.ChoiceField(label="Paper", choices=[(name, name) for name in PAPERS])
    fan_half_width = QuantityField(
        "length",
        label="Arcs to either side",
        source="fan as asked for",
        example="2 mm",
        help_text="For pivots that stand so much nearer or farther.",
        lowest=0,
        highest=20,
    )
    fan_step = QuantityField(
        "length",
        label="Step between arcs",
        source="fan as asked for",
        example="0.5 mm",
        lowest=0.05,
        highest=20,
    )
    spindle_clearance = QuantityField(
        "length",
        label="Clearance of the spindle hole",
        source="clearance as asked for",
        example="0.05 mm",
        help_text="Added to the 7.24 mm hole of a record.",
        lowest=0,
        highest=1,
    )

    def request(self, choice: TargetChoice) -> PlateRequest:
        """Return the plate to draw; ValueError in one sentence if it cannot be."""
        typed, geometry = self.cleaned_data, targets_of(choice).geometry
        if geometry is None:
            raise ValueError(NO_PLATE)
        return PlateRequest(
            kind=typed["kind"],
            geometry=geometry,
            innermost_mm=choice.innermost_mm,
            outermost_mm=choice.outermost_mm,
            criterion_label=CRITERIA[choice.criterion].label,
            paper=typed["paper"],
            fan_half_width_mm=typed["fan_half_width"].value,
            fan_step_mm=typed["fan_step"].value,
            spindle_clearance_mm=typed["spindle_clearance"].value,
        )


USUAL_BAR = Usual(95.0, 105.0)
"""Printers that are told to fit a page to the paper make it 3 to 5 % smaller: a rule of thumb. [mm]"""
FARTHEST_BAR = Usual(90.0, 110.0)
"""Up to 10 % can be corrected. [mm]"""


class PrintCheckForm(SecondThoughtsForm):
    """What the two check bars measure on the print."""

    bar_x = QuantityField(
        "length",
        label="Bar x, across",
        source="bar x",
        example="100.0 mm +- 0.1 mm",
        lowest=50,
        highest=200,
    )
    bar_y = QuantityField(
        "length",
        label="Bar y, up",
        source="bar y",
        example="100.0 mm +- 0.1 mm",
        lowest=50,
        highest=200,
    )

    def __init__(
        self,
        data: Any,
        *,
        plate_number: str,
        sources: tuple[str, str] = ("bar x", "bar y"),
        initial: dict[str, str] | None = None,
    ) -> None:
        super().__init__(data, auto_id=f"id_{plate_number}_%s", initial=initial)
        self.fields["bar_x"].source, self.fields["bar_y"].source = sources

    def clean(self) -> dict[str, Any]:
        """Ask back a bar that no printer makes."""
        typed = super().clean() or {}
        for name in ("bar_x", "bar_y"):
            bar = typed.get(name)
            # What is farther off is refused with its own words when the plate would be corrected.
            if bar is not None and FARTHEST_BAR.lowest <= bar.value <= FARTHEST_BAR.highest:
                sentence = doubt(bar, typed_again(bar), name="bar", kind="length", expected=USUAL_BAR, shown_unit="mm")
                self.ask_back(name, sentence)
        return typed
