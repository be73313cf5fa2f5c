"""Quantities as text, rounded as JCGM 100 clause 7.2.6 asks."""

from __future__ import annotations

from decimal import ROUND_CEILING, ROUND_HALF_UP, Context, Decimal

from groovewright.measurement.quantity import Quantity
from groovewright.measurement.units import in_unit, printed_unit

SIGNIFICANT_DIGITS = 2

MOST_UNDERSTATED = Decimal("0.04")
"""Rounding may take this share off an uncertainty; beyond it, the uncertainty is rounded up."""

DIGITS_WITHOUT_UNCERTAINTY = 6

LEADING_ZEROS, LONGEST_WHOLE = 6, 12
"""A number without an uncertainty that needs more of these is written with a power of ten."""

# Wide enough for the digits between any two floats.
_WIDE = Context(prec=700)


def rounded_uncertainty(uncertainty: float) -> Decimal:
    """Return a standard uncertainty above 0 rounded to two significant digits.

    To the nearest, but up where the nearest would understate it by more than 4 %: 10.47 becomes 11 and 28.05
    becomes 28, the two examples of the clause.

    References
    ----------
    .. [1] JCGM 100:2008, 7.2.6.

    >>> str(rounded_uncertainty(10.47)), str(rounded_uncertainty(28.05))
    ('11', '28')
    """
    exact = Decimal(repr(float(uncertainty)))
    if not exact > 0:
        raise ValueError(f"an uncertainty to be rounded must be above 0, not {uncertainty}")
    last_digit = exact.adjusted() - SIGNIFICANT_DIGITS + 1
    rounded = _quantized(exact, last_digit, ROUND_HALF_UP)
    if exact - rounded > MOST_UNDERSTATED * exact:
        rounded = _quantized(exact, last_digit, ROUND_CEILING)
    # 0.0996 becomes 0.10, not 0.100.
    return rounded if rounded.adjusted() == exact.adjusted() else _quantized(rounded, last_digit + 1, ROUND_HALF_UP)


def format_number(value: float, uncertainty: float | None) -> str:
    """Return a value rounded to the last digit of its rounded uncertainty.

    Without an uncertainty, or with one of 0, six significant digits are given and trailing zeros left out; where that
    would take a long row of zeros, a power of ten is written, as `parse_quantity` reads it.

    >>> format_number(222.0049, 0.3), format_number(239.29613, None), format_number(2.30145e-16, None)
    ('222.00', '239.296', '2.30145e-16')
    """
    if not uncertainty:
        return _with_few_digits(Decimal(f"{value:.{DIGITS_WITHOUT_UNCERTAINTY}g}"))
    rounded = rounded_uncertainty(uncertainty)
    return _plain(_quantized(Decimal(repr(float(value))), _last_digit(rounded), ROUND_HALF_UP))


def split_quantity(quantity: Quantity, unit: str | None = None) -> tuple[str, str | None, str]:
    """Return value, standard uncertainty and unit as text.

    Parameters
    ----------
    quantity : Quantity
    unit : str, optional
        Another unit of the same kind to print in.

    Returns
    -------
    tuple of str, str or None, str
        The uncertainty is None if unknown and ``"0"`` if the quantity is exact.
    """
    shown = quantity if unit is None else in_unit(quantity, unit)
    uncertainty = shown.standard_uncertainty
    value_text = format_number(shown.value, uncertainty)
    if uncertainty is None:
        return value_text, None, printed_unit(shown.unit)
    return value_text, _plain(rounded_uncertainty(uncertainty)) if uncertainty else "0", printed_unit(shown.unit)


def format_quantity(quantity: Quantity, *, unit: str | None = None) -> str:
    """Return a quantity as one line of text, with its standard uncertainty or the remark that none is known.

    >>> format_quantity(Quantity.measured(222, "mm", standard_uncertainty=0.3, source="rule"))
    '222.00 mm ± 0.30 mm'
    >>> format_quantity(Quantity.exact(23, "deg"))
    '23° (exact)'
    """
    value_text, uncertainty_text, printed = split_quantity(quantity, unit)
    value = _joined(value_text, printed)
    if uncertainty_text is None:
        return f"{value} (uncertainty not known)"
    return f"{value} (exact)" if uncertainty_text == "0" else f"{value} ± {_joined(uncertainty_text, printed)}"


def format_force(quantity: Quantity) -> str:
    """Return a force in grams-force, as scales for styli read, with millinewtons beside it.

    >>> format_force(Quantity.measured(18.142, "mN", standard_uncertainty=0.118, source="scale"))
    '1.850 g ± 0.012 g (18.14 mN)'
    >>> format_force(Quantity.exact(19.6133, "mN"))
    '2 g (19.6133 mN; exact)'
    """
    millinewtons, _, unit = split_quantity(quantity, "mN")
    grams, remark, end = format_quantity(quantity, unit="g").partition(" (")
    return f"{grams} ({millinewtons} {unit}{'; ' if remark else ')'}{end}"


def _joined(number: str, unit: str) -> str:
    return f"{number}{unit}" if unit in ("", "°") else f"{number} {unit}"


def _last_digit(number: Decimal) -> int:
    return int(number.as_tuple().exponent)


def _quantized(number: Decimal, last_digit: int, rounding: str) -> Decimal:
    return number.quantize(Decimal(1).scaleb(last_digit), rounding=rounding, context=_WIDE)


def _with_few_digits(number: Decimal) -> str:
    if number == 0 or -LEADING_ZEROS <= number.adjusted() < LONGEST_WHOLE:
        return _plain(number, trim=True)
    power = number.adjusted()
    return f"{_plain(number.scaleb(-power), trim=True)}e{power}"


def _plain(number: Decimal, *, trim: bool = False) -> str:
    text = f"{number:f}"
    if trim and "." in text:
        text = text.rstrip("0").rstrip(".")
    return text.lstrip("-") if number == 0 else text
