"""Form fields that read a quantity as it is typed at a bench; a bare number has the unit that its field shows."""

from __future__ import annotations

from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from groovewright.measurement.formatting import split_quantity
from groovewright.measurement.parsing import ENTERED_AS, parse_number, parse_quantity, parse_range
from groovewright.measurement.quantity import Quantity
from groovewright.measurement.units import canonical_unit, from_canonical, in_unit, printed_unit

LONGEST_TYPED = 80
# On pages forces are in gram-force, as scales for styli show them; a field may show another unit.
SHOWN_UNITS = {"force": "g"}


class TypedField(forms.CharField):
    """One line of typed text; the browser shows its example and never corrects it.

    The example shows the `unit` that a bare number has here, if there is one.
    """

    def __init__(self, *, example: str, unit: str = "", **options: Any) -> None:
        if unit not in example and printed_unit(unit) not in example:
            example = f"{example} {unit}"
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
    show_unit : str, optional
        The unit that the field shows while it is empty: a bare number has it, and the limits are named in it when a
        value is refused. Without it, `shown_unit` of the kind.
    """

    def __init__(
        self,
        kind: str,
        *,
        source: str,
        lowest: float | None = None,
        highest: float | None = None,
        show_unit: str | None = None,
        **options: Any,
    ) -> None:
        self.show_unit = show_unit or shown_unit(kind)
        super().__init__(unit=self.show_unit, **options)
        self.kind, self.source = kind, source
        self.lowest, self.highest = lowest, highest

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
                unit_when_missing=self.show_unit,
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
    """Two ends of a range, lowest first, in the canonical unit of the kind; None when left empty."""

    def __init__(
        self,
        kind: str,
        *,
        lowest: float,
        highest: float,
        show_unit: str | None = None,
        **options: Any,
    ) -> None:
        self.show_unit = show_unit or shown_unit(kind)
        super().__init__(unit=self.show_unit, **options)
        self.kind, self.lowest, self.highest = kind, lowest, highest

    def clean(self, value: Any) -> tuple[float, float] | None:
        """Return both ends; ValidationError with one sentence that says what would be right."""
        typed = super().clean(value)
        if not typed:
            return None
        try:
            lower, upper = parse_range(typed, self.kind, unit_when_missing=self.show_unit, example=self.example)
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


class NumberField(TypedField):
    """A number that has no unit, or the one that stands beside its field; None when left empty.

    Parameters
    ----------
    lowest, highest : float
        Allowed values, both ends included.
    whole : bool
        True where only a whole number can be meant.
    unit_beside : str
        The unit that the page shows beside the field, which may be typed too.
    outside : str
        What a value outside the allowed ones is told, as one sentence.
    """

    def __init__(
        self, *, lowest: float, highest: float, outside: str, whole: bool = False, unit_beside: str = "", **options: Any
    ) -> None:
        super().__init__(**options)
        self.lowest, self.highest, self.outside = lowest, highest, outside
        self.whole, self.unit_beside = whole, unit_beside
        self.widget.attrs["inputmode"] = "numeric" if whole else "decimal"

    def clean(self, value: Any) -> float | None:
        """Return the number that was typed; ValidationError with one sentence that says what would be right."""
        typed = super().clean(value)
        if not typed:
            return None
        try:
            number = parse_number(typed, unit=self.unit_beside, example=self.example)
        except ValueError as refusal:
            raise ValidationError(self.outside if self.whole else str(refusal), code="unread") from refusal
        if not self.lowest <= number <= self.highest or (self.whole and not number.is_integer()):
            raise ValidationError(self.outside, code="outside")
        return int(number) if self.whole else number


def shown_unit(kind: str) -> str:
    """Return the unit in which pages show a kind, such as ``"g"`` for ``"force"``, unless a field shows another."""
    return SHOWN_UNITS.get(kind) or canonical_unit(kind)


def typed_again(quantity: Quantity | None) -> str:
    """Return the text from which a quantity can be read again: as it was typed, or else its value and uncertainty."""
    if quantity is None:
        return ""
    if quantity.how.startswith(ENTERED_AS):
        return quantity.how.removeprefix(ENTERED_AS)
    shown = in_unit(quantity, "g") if quantity.unit == "mN" else quantity
    spread = f" +- {shown.standard_uncertainty:.6g} {shown.unit}" if shown.standard_uncertainty else ""
    return f"{shown.value:.10g} {shown.unit}{spread}"


def typed_rounded(quantity: Quantity | None) -> str:
    """Return the same text, rounded as everywhere on screen where the quantity was computed and not typed.

    A form that takes this text back untouched should keep the quantity itself: the text no longer holds all of it.
    """
    if quantity is None or quantity.how.startswith(ENTERED_AS) or not quantity.standard_uncertainty:
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
