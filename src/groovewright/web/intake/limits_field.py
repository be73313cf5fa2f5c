"""Form fields for plain values and for limits: what the record keeps of them are numbers without an uncertainty."""

from __future__ import annotations

from typing import Any

from django.core.exceptions import ValidationError

from groovewright.measurement.parsing import split_range
from groovewright.measurement.units import from_canonical
from groovewright.web.intake.quantity_field import QuantityField, RangeField, shown_unit

FIXED = "fixed"


class ValueField(QuantityField):
    """A number in the canonical unit of its kind; None when left empty."""

    def __init__(self, kind: str, **options: Any) -> None:
        super().__init__(kind, source="as typed", required=False, **options)

    def clean(self, value: Any) -> float | None:
        """Return the number that was typed; ValidationError with one sentence that says what would be right."""
        quantity = super().clean(value)
        if quantity is None:
            return None
        if quantity.standard_uncertainty is not None:
            raise ValidationError(
                "No uncertainty is kept here; write the value alone, like %(example)s.",
                code="unread",
                params={"example": self.example},
            )
        return quantity.value


class LimitsField(RangeField):
    """Lower and upper limit, one of which may be left out: ``-0.5:0.5 deg`` or ``:0.5 deg``; None when left empty."""

    def __init__(self, kind: str, *, lowest: float, highest: float, **options: Any) -> None:
        super().__init__(kind, lowest=lowest, highest=highest, required=False, **options)
        self.one_end = ValueField(kind, lowest=lowest, highest=highest, example=self.example, show_unit=self.show_unit)

    def clean(self, value: Any) -> tuple[float | None, float | None] | None:
        """Return both limits; ValidationError with one sentence that says what would be right."""
        lower, upper = split_range(str(value or "")) or ("", "")
        if lower and not upper:
            return self.one_end.clean(lower), None
        if upper and not lower:
            return None, self.one_end.clean(upper)
        return super().clean(value)


class ReachField(LimitsField):
    """How far an adjuster goes either way from where it stands, or that it is fixed; None when left empty."""

    def clean(self, value: Any) -> tuple[float, float] | None:
        """Return lowest and highest; ValidationError with one sentence that says what would be right."""
        if str(value or "").strip().lower() == FIXED:
            return 0.0, 0.0
        limits = super().clean(value)
        if limits is None:
            return None
        lowest, highest = limits
        if lowest is None or highest is None:
            raise ValidationError(
                "%(typed)s leaves one end out; write both, like %(example)s.",
                code="unread",
                params={"typed": value, "example": self.example},
            )
        if not lowest <= 0 <= highest:
            raise ValidationError(
                "%(typed)s leaves out 0, where it stands now; write how far it goes either way, like %(example)s.",
                code="outside",
                params={"typed": value, "example": self.example},
            )
        return lowest, highest


def typed_value(value: float | None, kind: str) -> str:
    """Return the text from which a number can be read again.

    >>> typed_value(92.5, "angle"), typed_value(19.6133, "force"), typed_value(None, "angle")
    ('92.5 deg', '2 g', '')
    """
    if value is None:
        return ""
    return f"{_number(value, shown_unit(kind), kind)} {shown_unit(kind)}"


def typed_limits(lower: float | None, upper: float | None, kind: str, *, unit: str | None = None) -> str:
    """Return the text from which limits can be read again, one of which may be missing; in `unit` or the shown one.

    >>> typed_limits(-0.5, 0.5, "angle"), typed_limits(None, 0.5, "angle"), typed_limits(None, None, "angle")
    ('-0.5:0.5 deg', ':0.5 deg', '')
    """
    if lower is None and upper is None:
        return ""
    unit = unit or shown_unit(kind)
    ends = ["" if end is None else _number(end, unit, kind) for end in (lower, upper)]
    # A unit after the last number serves both.
    return f"{':'.join(ends)} {unit}" if upper is not None else f"{ends[0]} {unit}:"


def typed_reach(limits: tuple[float, float] | None, kind: str, *, unit: str | None = None) -> str:
    """Return the text from which an adjuster's way can be read again, in `unit` or the one that is shown.

    >>> typed_reach((-2.0, 3.0), "length"), typed_reach((0.0, 0.0), "length"), typed_reach(None, "length")
    ('-2:3 mm', 'fixed', '')
    """
    if limits is None:
        return ""
    return FIXED if limits == (0.0, 0.0) else typed_limits(*limits, kind, unit=unit)


def unbroken(text: str) -> str:
    """Return words that stay on one line together, for a value and its unit in a hint."""
    return text.replace(" ", "\N{NO-BREAK SPACE}")


def _number(value: float, unit: str, kind: str) -> str:
    return f"{from_canonical(value, unit, kind):.9g}"
