"""Which two visits of a deck stand side by side."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from groovewright.jobbook.queries import DeckVisit
from groovewright.web.visits.shown import on


class ComparisonForm(forms.Form):
    """Two visits of one deck, the last two unless others are picked."""

    earlier = forms.TypedChoiceField(label="As left at", coerce=int)
    later = forms.TypedChoiceField(label="As found at", coerce=int)

    def __init__(self, visits: Sequence[DeckVisit], data: Any) -> None:
        before, last = (one.job.number for one in visits[-2:])
        picked = {"earlier": data.get("earlier", str(before)), "later": data.get("later", str(last))}
        super().__init__(picked)
        self.visits = {one.job.number: one for one in visits}
        names = [(number, f"{one.visit.name.capitalize()}, {on(one.visit.on)}") for number, one in self.visits.items()]
        for name, of in (("earlier", names[:-1]), ("later", names[1:])):
            field = self.fields[name]
            # Any visit is understood, so that a wrong one is told from an unknown one; only fitting ones are offered.
            field.choices = names
            # The newest first, as in the list below.
            field.widget.choices = of[::-1]
            field.error_messages["required"] = "Pick a visit."
            field.error_messages["invalid_choice"] = "This deck had no such visit; pick one of the list."

    def clean(self) -> dict[str, Any]:
        """Refuse two visits that are not one after the other."""
        typed = super().clean() or {}
        if len(typed) < 2:
            return typed
        order, earlier, later = list(self.visits), typed["earlier"], typed["later"]
        if earlier == later:
            raise ValidationError(f"Job {later} is picked twice; pick two different visits.")
        if order.index(later) < order.index(earlier):
            raise ValidationError(f"Job {later} came before job {earlier}; swap the two.")
        return typed

    @property
    def picked(self) -> tuple[DeckVisit, ...]:
        """The two visits, and between them those that lie between, oldest first."""
        order = list(self.visits)
        first, last = order.index(self.cleaned_data["earlier"]), order.index(self.cleaned_data["later"])
        return tuple(self.visits[number] for number in order[first : last + 1])
