"""What is typed when something was moved."""

from __future__ import annotations

from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from groovewright.bench.moves.hands import Hands
from groovewright.bench.moves.next_step import ProposedMove
from groovewright.tonearm.adjusters import ADJUSTER_TABLE
from groovewright.tonearm.arm_state import ADJUSTERS, Adjustments
from groovewright.web.intake.quantity_field import QuantityField

KIND_OF_UNIT = {"mm": "length", "deg": "angle", "mN": "force"}


class MoveForm(forms.Form):
    """What was moved, and how far; a box says that an adjuster was moved by an amount that nobody knows."""

    note = forms.CharField(label="Note", max_length=1000, required=False)

    def __init__(self, data: Any = None, **options: Any) -> None:
        # Beside the form of a reading, which has a note too.
        super().__init__(data, auto_id="move_%s", **options)
        for name, of in ADJUSTER_TABLE.items():
            self.fields[name] = QuantityField(
                KIND_OF_UNIT[of.unit],
                label=f"{of.positive[0].upper()}{of.positive[1:]}",
                source="the hand",
                example=f"{5 * of.repeatability:g} {of.unit}",
                help_text=f"{of.sense}.",
                required=False,
                lowest=-of.max_travel,
                highest=of.max_travel,
                show_unit=of.unit,
            )
            self.fields[f"unknown_{name}"] = forms.BooleanField(label="not known", required=False)
        self.fields["note"].widget.attrs.pop("maxlength")

    @property
    def amounts(self) -> list[tuple[str, forms.BoundField, forms.BoundField]]:
        """Each adjuster with its amount, and the box that says that this is not known."""
        return [(name, self[name], self[f"unknown_{name}"]) for name in ADJUSTERS]

    def clean(self) -> dict[str, Any]:
        """Refuse a move of nothing, and an amount that is both typed and not known."""
        typed = super().clean() or {}
        for name in ADJUSTERS:
            if typed.get(f"unknown_{name}") and typed.get(name) is not None:
                self.add_error(name, "An amount is typed, and the box says that it is not known: keep one of the two.")
        moved = any(typed.get(f"unknown_{name}") or (typed.get(name) and typed[name].value) for name in ADJUSTERS)
        if not moved and not self.errors:
            raise ValidationError(
                "Say what was moved: an amount beside at least one adjuster, or that it is not known."
            )
        return typed

    def facts(self, *, proposed: ProposedMove | None) -> dict[str, Any]:
        """Return the move as the job book keeps one; where no uncertainty was typed, the usual one of a careful hand.

        A move made just as proposed keeps the words of the proposal.
        """
        typed = {name: self.cleaned_data.get(name) for name in ADJUSTERS}
        unknown = frozenset(name for name in ADJUSTERS if self.cleaned_data[f"unknown_{name}"])
        amounts = Adjustments(**{name: 0.0 if q is None else q.value for name, q in typed.items()})
        usual = Hands().uncertainty(amounts)
        known = {name: q.standard_uncertainty for name, q in typed.items() if q is not None and q.standard_uncertainty}
        asked = {} if proposed is None else proposed_amounts(proposed)
        as_asked = bool(asked) and asked == {name: self[name].data.strip() for name in ADJUSTERS if self[name].data}
        return {
            "amounts": amounts,
            "uncertainties": Adjustments(**{name: known.get(name, getattr(usual, name)) for name in typed}),
            "unknown": unknown,
            "note": self.cleaned_data["note"],
            # What it disturbs was said then; the record keeps what was done.
            "text": instruction_of(proposed) if proposed is not None and as_asked and not unknown else "",
        }


def proposed_amounts(move: ProposedMove) -> dict[str, str]:
    """Return the amounts of the proposed move as they would be typed."""
    return {
        name: f"{amount:.2f} {of.unit}"
        for name, of in ADJUSTER_TABLE.items()
        if (amount := getattr(move.amounts, name))
    }


def instruction_of(move: ProposedMove) -> str:
    """Return what a proposal asks for, without what it disturbs."""
    return f"{move.sentence.partition(';')[0].rstrip('.')}."
