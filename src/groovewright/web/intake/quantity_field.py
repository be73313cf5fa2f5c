"""Form fields that read a quantity as it is typed at a bench, unit included."""

from __future__ import annotations

from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from groovewright.measurement.formatting import split_quantity
from groovewright.measurement.parsing import parse_quantity, parse_range
from groovewright.measurement.quantity import Quantity
from groovewright.measurement.units import canonical_unit, from_canonical, in_unit

LONGEST_TYPED = 80
# What `parse_quantity` writes before the typed text.
AS_TYPED = "entered as "


class TypedField(forms.CharField):
    """One line of typed text; the browser shows its example and never corrects it."""

    def __init__(self, *, example: str, **options: Any) -> None:
        options.setdefault("error_messages", {"required": f"Nothing was typed; write it like {example}."})
        super().__init__(max_length=LONGEST_TYPED, **options)
        self.error_messages["max_length"] = (
            f"The entry has %(show_value)d characters; at most {LONGEST_TYPED} characters are read here."
        )
        # The browser would cut a longer entry without a word; the form says so instead.
        self.widget.attrs.pop("maxlength", None)
        self.example = example
        self.widget.attrs.update(
            {"placeholder": example, "autocomplete": "off", "spellcheck": "false", "class": "typed-quantity"}
        )


class QuantityField(TypedField):
    """A quantity in the canonical unit of its kind; None when the field may be and was left empty.

    Parameters
    ----------
    kind : str
        Kind of quantity in the table of units, for example ``"force"``.
    source : str
        Label of the error that the typed uncertainty stands for.
    lowest, highest : float, optional
        Allowed values, both ends included. [canonical unit of the kind]
    unit_when_missing : str, optional
        The unit that a bare number gets; without it a bare number is refused.
    show_unit : str, optional
        The unit in which the limits are named when a value is refused.
    """

    def __init__(
        self,
        kind: str,
        *,
        source: str,
        lowest: float | None = None,
        highest: float | None = None,
        unit_when_missing: str | None = None,
        show_unit: str | None = None,
        **options: Any,
    ) -> None:
        super().__init__(**options)
        self.kind, self.source, self.unit_when_missing = kind, source, unit_when_missing
        self.lowest, self.highest = lowest, highest
        self.show_unit = show_unit or canonical_unit(kind)

    def clean(self, value: Any) -> Quantity | None:
        """Return the quantity that was typed; ValidationError with one sentence that says what would be right."""
        typed = super().clean(value)
        if not typed:
            return None
        try:
            quantity = parse_quantity(
                typed,
                self.kind,
                source=self.source,
                unit_when_missing=self.unit_when_missing,
                example=self.example,
            )
        except ValueError as refusal:
            raise ValidationError(str(refusal), code="unread") from refusal
        self._refuse_outside(typed, quantity)
        return quantity

    def _refuse_outside(self, typed: str, quantity: Quantity) -> None:
        too_low = self.lowest is not None and quantity.value < self.lowest
        too_high = self.highest is not None and quantity.value > self.highest
        if not (too_low or too_high):
            return
        allowed = allowed_sentence(self.lowest, self.highest, kind=self.kind, unit=self.show_unit)
        raise ValidationError(
            "%(typed)s is outside what can be right here: %(allowed)s. Check the number and its unit.",
            code="outside",
            params={"typed": typed, "allowed": allowed},
        )


class RangeField(TypedField):
    """Two ends of a range, lowest first, in the canonical unit of the kind; None when left empty.

    With `unit_needed` a range without any unit is refused: for a force it could be mN or g.
    """

    def __init__(
        self,
        kind: str,
        *,
        lowest: float,
        highest: float,
        show_unit: str | None = None,
        unit_needed: bool = False,
        **options: Any,
    ) -> None:
        super().__init__(**options)
        self.kind, self.lowest, self.highest, self.unit_needed = kind, lowest, highest, unit_needed
        self.show_unit = show_unit or canonical_unit(kind)

    def clean(self, value: Any) -> tuple[float, float] | None:
        """Return both ends; ValidationError with one sentence that says what would be right."""
        typed = super().clean(value)
        if not typed:
            return None
        if self.unit_needed and not any(character.isalpha() for character in typed):
            raise ValidationError(
                "%(typed)s has no unit; write it like %(example)s.",
                code="unread",
                params={"typed": typed, "example": self.example},
            )
        try:
            lower, upper = parse_range(typed, self.kind, example=self.example)
        except ValueError as refusal:
            raise ValidationError(str(refusal), code="unread") from refusal
        if lower < self.lowest or upper > self.highest:
            allowed = allowed_sentence(self.lowest, self.highest, kind=self.kind, unit=self.show_unit)
            raise ValidationError(
                "%(typed)s is outside what can be right here: %(allowed)s. Check the numbers and their unit.",
                code="outside",
                params={"typed": typed, "allowed": allowed},
            )
        return lower, upper


def typed_again(quantity: Quantity | None) -> str:
    """Return the text from which a quantity can be read again: as it was typed, or else its value and uncertainty."""
    if quantity is None:
        return ""
    if quantity.how.startswith(AS_TYPED):
        return quantity.how.removeprefix(AS_TYPED)
    shown = in_unit(quantity, "g") if quantity.unit == "mN" else quantity
    spread = f" +- {shown.standard_uncertainty:.6g} {shown.unit}" if shown.standard_uncertainty else ""
    return f"{shown.value:.10g} {shown.unit}{spread}"


def typed_rounded(quantity: Quantity | None) -> str:
    """Return the same text, rounded as everywhere on screen where the quantity was computed and not typed.

    A form that takes this text back untouched should keep the quantity itself: the text no longer holds all of it.
    """
    if quantity is None or quantity.how.startswith(AS_TYPED) or not quantity.standard_uncertainty:
        return typed_again(quantity)
    value, uncertainty, _ = split_quantity(quantity)
    return f"{value} {quantity.unit} +- {uncertainty} {quantity.unit}"


def allowed_sentence(lowest: float | None, highest: float | None, *, kind: str, unit: str) -> str:
    """Return the allowed values in words, for example ``"1 g to 100 g"``."""
    ends = [None if end is None else f"{from_canonical(end, unit, kind):.4g} {unit}" for end in (lowest, highest)]
    if ends[0] is None:
        return f"at most {ends[1]}"
    if ends[1] is None:
        return f"at least {ends[0]}"
    return f"{ends[0]} to {ends[1]}"
