"""Quantities as text: the digits that the uncertainty carries (JCGM 100, 7.2.6), none that no bench can set."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from decimal import ROUND_CEILING, ROUND_HALF_UP, Context, Decimal
from types import MappingProxyType

from groovewright.measurement.coverage import coverage_interval
from groovewright.measurement.parsing import ENTERED_AS
from groovewright.measurement.quantity import Quantity
from groovewright.measurement.units import from_canonical, in_unit, kinds_with_unit, normalised_unit, printed_unit

SIGNIFICANT_DIGITS = 2
"""Of an uncertainty: two are enough (JCGM 100:2008, 7.2.6)."""

MOST_UNDERSTATED = Decimal("0.04")
"""Rounding may take this share off an uncertainty; beyond it, the uncertainty is rounded up."""

FINEST_SHOWN: Mapping[str, int] = MappingProxyType(
    {
        # A vernier, and a printed line under a magnifier, read to 0.01 mm at best.
        "mm": -2,
        # 0.01 degree is 2 micrometres over the width of a cartridge: less than any screw sets.
        "deg": -2,
        # The last step of the finest scales for styli is 0.001 g, which is 0.01 mN.
        "mN": -2,
        # A resonance is as wide as several hertz; nobody moves one by a tenth.
        "Hz": -1,
        # One part in a million: what a good clock holds a recording to.
        "%": -4,
        # A hundredth of a decibel is a tenth of a percent, the tolerance of the best resistors.
        "dB": -2,
        # 33.333 rpm tells a third from 33.33.
        "rpm": -3,
        # 0.0001 of a check bar of 100 mm is 0.01 mm.
        "1": -4,
        # A coupling of a length or a force to a move is known to a percent, and is nowhere larger than 1.
        "mN/mm": -3,
        "um/mN": -1,
        "cm/s": -2,
        "ms": -2,
        "s": -3,
    }
)
"""Power of ten of the last digit that is shown of each unit, however small the uncertainty. JSON keeps all digits.

In other units of a kind it is the nearest power of ten; masses have none, for check weights are certified to 0.01 mg.
"""

MOST_DIGITS = 6
"""Of a value in a unit that the table does not hold, where its uncertainty is smaller still."""

DIGITS_WITHOUT_UNCERTAINTY = 4
"""Of a computed value whose uncertainty is not known: 222 mm give 239.3 mm, whose fourth digit nobody vouches for."""

LEADING_ZEROS, LONGEST_WHOLE = 6, 12
"""A number without an uncertainty that needs more of these is written with a power of ten."""

_TYPED = re.compile(rf"{ENTERED_AS}[-+\u2212\u2013]?[0-9]*(?:[.,](?P<decimals>[0-9]+))?(?P<unit>[^0-9]*)")

# Wide enough for the digits between any two floats.
_WIDE = Context(prec=700)


def rounded_uncertainty(uncertainty: float, finest: int | None = None) -> Decimal:
    """Return a standard uncertainty above 0 rounded to two significant digits, or to the power of ten `finest`.

    To the nearest, but up where the nearest would understate it by more than 4 %: 10.47 becomes 11 and 28.05
    becomes 28, the two examples of the clause.

    References
    ----------
    .. [1] JCGM 100:2008, 7.2.6.

    >>> str(rounded_uncertainty(10.47)), str(rounded_uncertainty(28.05)), str(rounded_uncertainty(0.0004, -2))
    ('11', '28', '0.01')
    """
    exact = Decimal(repr(float(uncertainty)))
    if not exact > 0:
        raise ValueError(f"an uncertainty to be rounded must be above 0, not {uncertainty}")
    last_digit = exact.adjusted() - SIGNIFICANT_DIGITS + 1
    if finest is not None:
        last_digit = max(last_digit, finest)
    rounded = _quantized(exact, last_digit, ROUND_HALF_UP)
    if exact - rounded > MOST_UNDERSTATED * exact:
        rounded = _quantized(exact, last_digit, ROUND_CEILING)
    # 0.0996 becomes 0.10, not 0.100.
    enough = rounded.adjusted() - SIGNIFICANT_DIGITS + 1
    return rounded if enough <= last_digit else _quantized(rounded, enough, ROUND_HALF_UP)


def format_number(value: float, uncertainty: float | None, *, unit: str = "") -> str:
    """Return a value rounded to the last digit of its rounded uncertainty, no finer than its unit is shown.

    Without an uncertainty, or with one of 0, at most four significant digits are given and trailing zeros left out;
    where that would take a long row of zeros, a power of ten is written, as `parse_quantity` reads it.

    >>> format_number(222.0049, 0.3), format_number(239.29613, None), format_number(2.30145e-16, None)
    ('222.00', '239.3', '2.301e-16')
    >>> format_number(8.11867, None, unit="Hz"), format_number(-0.0177634, 0.0004, unit="mm")
    ('8.1', '-0.02')
    """
    finest = FINEST_SHOWN.get(unit)
    if not uncertainty:
        return _with_few_digits(Decimal(f"{value:.{DIGITS_WITHOUT_UNCERTAINTY}g}"), finest)
    rounded = rounded_uncertainty(uncertainty, _finest_of(value, finest))
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
    printed = printed_unit(shown.unit)
    finest = finest_shown(quantity.unit, shown.unit)
    uncertainty = shown.standard_uncertainty
    exact = Decimal(repr(float(shown.value)))
    if uncertainty is None:
        return _without_uncertainty(shown, exact, finest), None, printed
    if not uncertainty:
        # One digit more, for numbers that are so by definition: a groove ends at 60.325 mm.
        return (
            _with_few_digits(Decimal(f"{exact:.{MOST_DIGITS}g}"), None if finest is None else finest - 1),
            "0",
            printed,
        )
    rounded = rounded_uncertainty(uncertainty, _finest_of(shown.value, finest))
    return _plain(_quantized(exact, _last_digit(rounded), ROUND_HALF_UP)), _plain(rounded), printed


def format_interval(quantity: Quantity, *, unit: str | None = None) -> str:
    """Return the 95 % interval of a quantity in the digits of the quantity; empty without an uncertainty.

    >>> format_interval(Quantity.measured(222, "mm", standard_uncertainty=0.3, source="rule"))
    '221.41 to 222.59 mm'
    """
    shown = quantity if unit is None else in_unit(quantity, unit)
    if not shown.standard_uncertainty:
        return ""
    finest = _finest_of(shown.value, finest_shown(quantity.unit, shown.unit))
    last_digit = _last_digit(rounded_uncertainty(shown.standard_uncertainty, finest))
    low, high = (
        _plain(_quantized(Decimal(repr(float(end))), last_digit, ROUND_HALF_UP)) for end in coverage_interval(shown)
    )
    return f"{low} to {_joined(high, printed_unit(shown.unit))}"


def format_chosen(value: float, unit: str, *, shown_unit: str | None = None) -> str:
    """Return a number that was chosen or worked out as an aim or a limit, without its unit: at most four digits.

    >>> format_chosen(19.6133, "mN", shown_unit="g"), format_chosen(-0.5, "deg"), format_chosen(15.69064, "mN")
    ('2', '-0.5', '15.69')
    """
    shown = in_unit(Quantity.exact(value, unit), shown_unit or unit)
    return _with_few_digits(Decimal(f"{shown.value:.{DIGITS_WITHOUT_UNCERTAINTY}g}"), finest_shown(unit, shown.unit))


def format_uncertainty(uncertainty: float, unit: str, *, shown_unit: str | None = None) -> str:
    """Return a standard uncertainty above 0, without its value, as text with its unit.

    >>> format_uncertainty(0.1234, "mN", shown_unit="g"), format_uncertainty(0.0004, "deg")
    ('0.013 g', '0.01°')
    """
    shown = in_unit(Quantity.exact(uncertainty, unit), shown_unit or unit)
    rounded = rounded_uncertainty(shown.value, _finest_of(0.0, finest_shown(unit, shown.unit)))
    return _joined(_plain(rounded), printed_unit(shown.unit))


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
    '2 g (19.613 mN; exact)'
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


def finest_shown(unit: str, shown_unit: str) -> int | None:
    """Return the power of ten of the last digit that is shown of a quantity; None where the table has none."""
    if unit == shown_unit or unit not in FINEST_SHOWN:
        return FINEST_SHOWN.get(unit)
    common = [kind.name for kind in kinds_with_unit(unit) if normalised_unit(shown_unit) in kind.factors]
    return round(FINEST_SHOWN[unit] + math.log10(from_canonical(1.0, shown_unit, common[0])))


def _finest_of(value: float, finest: int | None) -> int | None:
    """Return the same, or what leaves a value its most digits where the table has none."""
    if finest is not None or not value:
        return finest
    return math.floor(math.log10(abs(value))) + 1 - MOST_DIGITS


def _without_uncertainty(shown: Quantity, exact: Decimal, finest: int | None) -> str:
    """Return a value of unknown uncertainty: with the digits that were typed in this unit, or else with few."""
    typed = _TYPED.fullmatch(shown.how)
    if typed is None or normalised_unit(typed["unit"]) not in (shown.unit, printed_unit(shown.unit)):
        return _with_few_digits(Decimal(f"{shown.value:.{DIGITS_WITHOUT_UNCERTAINTY}g}"), finest)
    last_digit = -len(typed["decimals"] or "")
    return _plain(_quantized(exact, last_digit if finest is None else max(last_digit, finest), ROUND_HALF_UP))


def _with_few_digits(number: Decimal, finest: int | None) -> str:
    if finest is not None and _last_digit(number) < finest:
        number = _quantized(number, finest, ROUND_HALF_UP)
    if number == 0 or -LEADING_ZEROS <= number.adjusted() < LONGEST_WHOLE:
        return _plain(number, trim=True)
    power = number.adjusted()
    return f"{_plain(number.scaleb(-power), trim=True)}e{power}"


def _plain(number: Decimal, *, trim: bool = False) -> str:
    text = f"{number:f}"
    if trim and "." in text:
        text = text.rstrip("0").rstrip(".")
    return text.lstrip("-") if number == 0 else text
