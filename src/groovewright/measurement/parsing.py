"""Typed text to quantities, at the edge and nowhere else. What can be read in two ways is refused."""

from __future__ import annotations

import math
import re
from typing import NamedTuple

from groovewright.measurement.quantity import Quantity
from groovewright.measurement.units import KINDS, canonical_unit, kinds_with_unit, normalised_unit, unit_factor

LONGEST_ENTRY = 60

SMALLEST, LARGEST = 1e-30, 1e30
"""Outside these a number is a slip of the keyboard, and arithmetic with it would over- or underflow."""

COVERAGE_FACTORS = (1.0, 10.0)

_PLAIN = r"(?:[0-9]+(?:[.,][0-9]+)?|[.,][0-9]+)(?:[eE][+-]?[0-9]+)?"
_FRACTION = r"(?:(?P<whole>[0-9]+) +)?(?P<upper>[0-9]+) */ *(?P<lower>[0-9]+)"
_NUMBER = re.compile(rf"(?P<sign>[+-]?) *(?:{_FRACTION}|(?P<plain>{_PLAIN}))")
_PLUS_MINUS = re.compile(r"±|\+ ?/ ?-|\+-")
_COVERAGE = re.compile(rf"\( *k *= *(?P<factor>{_PLAIN}) *\)$")
# One to three digits, a comma and three digits: a decimal to some readers, thousands to others.
_COMMA_IN_DOUBT = re.compile(r"[1-9][0-9]{0,2},[0-9]{3}")

_VULGAR = {"¼": "1/4", "½": "1/2", "¾": "3/4", "⅓": "1/3", "⅔": "2/3", "⅛": "1/8", "⅜": "3/8", "⅝": "5/8", "⅞": "7/8"}
_SAME_CHARACTER = str.maketrans(
    {"\N{MINUS SIGN}": "-", "\N{NO-BREAK SPACE}": " ", "\N{NARROW NO-BREAK SPACE}": " ", "\N{THIN SPACE}": " "}
    | {sign: f" {spelled}" for sign, spelled in _VULGAR.items()}
)


def parse_quantity(
    text: str, kind: str, *, source: str, unit_when_missing: str | None = None, example: str | None = None
) -> Quantity:
    """Return what was typed as a quantity in the canonical unit of its kind.

    Parameters
    ----------
    text : str
        Such as ``"222 mm"``, ``"8 3/4 in"``, ``"18,1 mN"``, ``"222 mm +- 0.3 mm"`` or ``"222 ± 0,6 mm (k=2)"``.
        After the sign stands one standard uncertainty, unless a coverage factor k follows. Without the sign the
        uncertainty is unknown.
    kind : str
        A key of `groovewright.measurement.units.KINDS`.
    source : str
        Label of the cause of the uncertainty, such as the rule that was used.
    unit_when_missing : str, optional
        Unit of a bare number. Without it a bare number is refused.
    example : str, optional
        What would be a right entry here, for the refusals; without it one of the kind.

    Returns
    -------
    Quantity

    Raises
    ------
    ValueError
        If the text is not wholly such an entry or can be read in two ways. The message is one sentence that says
        what was wrong and what would be right.

    Examples
    --------
    >>> parse_quantity("8 3/4 in", "length", source="rule").value
    222.25
    >>> parse_quantity("222 mm +- 0.6 mm (k=2)", "length", source="rule").standard_uncertainty
    0.3
    """
    example = example or KINDS[kind].example
    typed = _split(text, example)
    factor = _factor(typed.value, typed.unit or typed.spread_unit or unit_when_missing, kind, text, example)
    if typed.spread is None:
        return _without_spread(typed.value * factor, canonical_unit(kind), text)
    spread_unit = typed.spread_unit or typed.unit or unit_when_missing
    return Quantity.measured(
        typed.value * factor,
        canonical_unit(kind),
        standard_uncertainty=typed.spread * _factor(typed.spread, spread_unit, kind, text, example),
        source=source,
        how=f"entered as {text}",
    )


def parse_coefficient(text: str, *, source: str, example: str = "0.3 +- 0.05") -> Quantity:
    """Return what was typed as a quantity without a unit, such as ``"0.3 ± 0.05"``; otherwise as `parse_quantity`.

    >>> parse_coefficient("0.3 +- 0.1 (k=2)", source="friction").standard_uncertainty
    0.05
    """
    typed = _split(text, example)
    unit = typed.unit or typed.spread_unit
    if unit:
        raise ValueError(f'"{text}" must have no unit, but "{unit}" stands in it; write it like {example}')
    if typed.spread is None:
        return _without_spread(typed.value, "1", text)
    return Quantity.measured(
        typed.value, "1", standard_uncertainty=typed.spread, source=source, how=f"entered as {text}"
    )


class _Typed(NamedTuple):
    """What stands in an entry: value and standard uncertainty with their units as typed; None without one."""

    value: float
    unit: str
    spread: float | None = None
    spread_unit: str = ""


def _split(text: str, example: str) -> _Typed:
    entry = _clean(text, example)
    coverage = _COVERAGE.search(entry)
    body = entry[: coverage.start()] if coverage else entry
    parts = _PLUS_MINUS.split(body)
    if len(parts) > 2:
        raise ValueError(f'"{text}" has more than one ±; write one value, one ± and one uncertainty')
    value, unit = _number_with_unit(parts[0], text, example)
    if len(parts) == 1:
        if coverage:
            raise ValueError(
                f'"{text}" has a coverage factor but no uncertainty; write ± and the uncertainty before it'
            )
        return _Typed(value, unit)
    spread, spread_unit = _number_with_unit(parts[1], text, example)
    if not spread > 0:
        raise ValueError(f'"{text}" states an uncertainty that is not above 0; leave it out if it is not known')
    return _Typed(value, unit, spread / _coverage_factor(coverage, text), spread_unit)


def _without_spread(value: float, unit: str, text: str) -> Quantity:
    why = "none was stated with the entry"
    return Quantity.unknown_uncertainty(value, unit, why=why, how=f"entered as {text}")


def parse_number(text: str) -> float:
    """Return what was typed as a number without a unit; ValueError as `parse_quantity` does.

    >>> parse_number("1,004")
    Traceback (most recent call last):
    ...
    ValueError: "1,004" can be 1.004 or 1004; write 1.004 or 1004
    """
    entry = _clean(text, "1.004")
    value, unit = _number_with_unit(entry, text, "1.004")
    if unit:
        raise ValueError(f'"{text}" must be a plain number such as 1.004, without "{unit}" after it')
    return value


def parse_range(text: str, kind: str, *, example: str | None = None) -> tuple[float, float]:
    """Return both ends of a range such as ``"60.325:146.05"``, in the canonical unit of its kind.

    Units are optional and stand after either end or both; without any the canonical unit is meant. `example` is a
    right entry, for the refusals.

    >>> parse_range("60.325:146.05 mm", "length")
    (60.325, 146.05)
    """
    one_end = KINDS[kind].example
    if example is None:
        example = "60.325:146.05" if kind == "length" else f"two values joined by a colon, each like {one_end}"
    entry = _clean(text, example)
    ends = entry.split(":")
    if len(ends) != 2:
        raise ValueError(f'"{text}" is not a range; write its two ends with one colon between, such as {example}')
    lower, lower_unit = _number_with_unit(ends[0], text, example)
    upper, upper_unit = _number_with_unit(ends[1], text, example)
    default = canonical_unit(kind)
    low = lower * _factor(lower, lower_unit or upper_unit or default, kind, text, one_end)
    high = upper * _factor(upper, upper_unit or lower_unit or default, kind, text, one_end)
    if not low < high:
        raise ValueError(f'"{text}" must have its smaller end first, such as {example}')
    return low, high


def _clean(text: str, example: str) -> str:
    if len(text) > LONGEST_ENTRY:
        raise ValueError(
            f"the entry is {len(text)} characters long; at most {LONGEST_ENTRY} can be a value like {example}"
        )
    if any(character.isdigit() and not character.isascii() for character in text):
        raise ValueError(f'"{text}" holds digits other than 0 to 9; write it like {example}')
    entry = text.translate(_SAME_CHARACTER).strip(" \t\r\n")
    if not entry:
        raise ValueError(f"nothing was entered; write a value like {example}")
    if not entry.isprintable():
        raise ValueError(f"the entry holds characters that cannot be seen; write a value like {example}")
    return entry


def _number_with_unit(part: str, text: str, example: str) -> tuple[float, str]:
    part = part.strip()
    found = _NUMBER.match(part)
    if found is None:
        raise ValueError(f'"{text}" does not have a number where one is needed; write it like {example}')
    rest = part[found.end() :]
    if rest[:1] and rest[0] in ".,":
        raise ValueError(
            f'"{text}" has a point or comma too many; write one decimal sign and no thousands, like {example}'
        )
    if re.match(r"[ '_/^-]*[0-9]", rest):
        raise ValueError(f'"{text}" has a number broken in two; write 1234 without a gap, or a fraction like 8 3/4')
    value = _value(found, text, rest)
    if not (value == 0 or SMALLEST <= abs(value) <= LARGEST):
        raise ValueError(f'"{text}" is too large or too small to be meant; write a value like {example}')
    return value, rest.strip()


def _value(found: re.Match[str], text: str, rest: str) -> float:
    sign = -1.0 if found["sign"] == "-" else 1.0
    plain = found["plain"]
    if plain is not None:
        if _COMMA_IN_DOUBT.fullmatch(plain):
            as_decimal, as_thousands = plain.replace(",", "."), plain.replace(",", "")
            raise ValueError(
                f'"{text}" can be {as_decimal} or {as_thousands}; write {as_decimal}{rest} or {as_thousands}{rest}'
            )
        value = sign * float(plain.replace(",", "."))
        # A number that is not 0 must not become 0 by underflow.
        return value if value or not re.search("[1-9]", plain.lower().split("e")[0]) else math.inf
    whole, upper, lower = int(found["whole"] or 0), int(found["upper"]), int(found["lower"])
    if lower == 0 or (found["whole"] is not None and upper >= lower):
        raise ValueError(f'"{text}" has a fraction that cannot be meant; write one below 1 after the whole, like 8 3/4')
    return sign * (whole + upper / lower)


def _factor(value: float, unit: str | None, kind: str, text: str, example: str) -> float:
    wanted = KINDS[kind]
    if unit is None:
        raise ValueError(f'"{text}" has no unit; write it like {example}')
    if normalised_unit(unit) not in wanted.factors and (others := kinds_with_unit(unit)):
        named = " or ".join(other.described for other in others)
        raise ValueError(f"{value:g} {unit} is {named}; {wanted.described} such as {example} is needed here")
    return unit_factor(unit, kind)


def _coverage_factor(found: re.Match[str] | None, text: str) -> float:
    if found is None:
        return 1.0
    factor = parse_number(found["factor"])
    smallest, largest = COVERAGE_FACTORS
    if not smallest <= factor <= largest:
        raise ValueError(f'"{text}" has a coverage factor k of {factor:g}; k lies between {smallest:g} and {largest:g}')
    return factor
