"""Which grooves are played: one of the known ranges, or radii of one's own."""

from __future__ import annotations

from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from groovewright.tonearm.groove_ranges import GROOVE_RANGES, groove_range
from groovewright.tonearm.input_ranges import GROOVE_RADIUS
from groovewright.web.intake.quantity_field import RangeField

OWN_RANGE = "own"


def groove_choices() -> list[tuple[str, Any]]:
    """Return the choices of a groove range, grouped by disc, with the radii of each."""
    groups: dict[str, list[tuple[str, str]]] = {}
    for entry in GROOVE_RANGES:
        radii = f"{entry.innermost_mm:g} to {entry.outermost_mm:g}"
        groups.setdefault(entry.disc, []).append((f"{entry.disc}|{entry.standard}", f"{entry.standard} ({radii})"))
    return [*groups.items(), (OWN_RANGE, "Own radii")]


class GrooveForm(forms.Form):
    """The part of a form that names a groove range."""

    groove = forms.ChoiceField(label="Groove range", choices=groove_choices)
    own_range = RangeField(
        "length",
        label="Own radii",
        example="60.325:146.05 mm",
        help_text="Innermost and outermost groove radius.",
        required=False,
        **GROOVE_RADIUS.ends,
    )

    def clean(self) -> dict[str, Any]:
        """Refuse own radii that were announced but not given."""
        cleaned = super().clean() or {}
        if cleaned.get("groove") == OWN_RANGE and "own_range" in cleaned and cleaned["own_range"] is None:
            self.add_error("own_range", ValidationError("Own radii were chosen; write them like 60.325:146.05 mm."))
        return cleaned

    def groove_radii_mm(self) -> tuple[float, float]:
        """Return innermost and outermost radius of a form without errors. [mm]"""
        groove = self.cleaned_data["groove"]
        if groove == OWN_RANGE:
            innermost_mm, outermost_mm = self.cleaned_data["own_range"]
            return innermost_mm, outermost_mm
        disc, standard = groove.split("|")
        entry = groove_range(disc, standard)
        return entry.innermost_mm, entry.outermost_mm
