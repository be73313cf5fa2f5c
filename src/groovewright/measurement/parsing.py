"""Typed text to quantities, at the edge and nowhere else. What can be read in two ways is refused."""

from __future__ import annotations

import math
import re
from typing import NamedTuple

from groovewright.measurement.quantity import Quantity
from groovewright.measurement.units import KINDS, canonical_unit, kinds_with_unit, normalised_unit, unit_factor

LONGEST_ENTRY = 60
LONGEST_LIST = 200
"""Room for twenty readings of a scale with their units."""

ENTERED_AS = "entered as "
"""What `how` of a typed quantity begins with; the entry follows, with the unit that a bare number took."""

SMALLEST, LARGEST = 1e-30, 1e30
"""Outside these a number is a slip of the keyboard, and arithmetic with it would over- or underflow."""

COVERAGE_FACTORS = (1.0, 10.0)

_PLAIN = r"(?:[0-9]+(?:[.,][0-9]+)?|[.,][0-9]+)(?:[eE][+-]?[0-9]+)?"
_FRACTION = r"(?:(?P<whole>[0-9]+) +)?(?P<upper>[0-9]+) */ *(?P<lower>[0-9]+)"
# Who types a minus on paper's terms types an en dash.
_NUMBER = re.compile(rf"(?P<sign>[+\-\u2013]?) *(?:{_FRACTION}|(?P<plain>{_PLAIN}))")
_PLUS_MINUS = re.compile(r"±|\+ ?/ ?-|\+-")
_WITHIN = re.compile(rf"\bwithin *(?:{_PLUS_MINUS.pattern})?", re.IGNORECASE)
_COVERAGE = re.compile(rf"\( *k *= *(?P<factor>{_PLAIN}) *\)$")
# 222(0.3) mm: JCGM 100, 7.2.2, third form. A bracket without a decimal sign is its second form to some readers only.
_IN_BRACKETS = re.compile(rf"(?P<number>[^()±]*[^()± ]) ?\( *(?P<spread>{_PLAIN}) *\)(?P<unit>[^()]*)")
_TO = re.compile(r" *: *| +to +|(?<=[0-9a-zA-Z%°\"]) *\u2013 *(?=[-+.,0-9])", re.IGNORECASE)
# Between two readings of a list; a number, a decimal comma and the two numbers of a mixed fraction stay whole.
_HARD_BREAK = re.compile(r"[;\r\n\t]+")
_COMMA_BREAK = re.compile(r",(?= )")
_SPACE_BREAK = re.compile(r"(?<=[0-9a-zA-Z%°\"])(?<!within) +(?=[-+\u2013]?[.,]?[0-9])(?![0-9]+ *\/)")
_LEADING_ZERO = re.compile(r"[-+]?0[0-9]")
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
        Such as ``"222 mm"``, ``"8 3/4 in"``, ``"18,1 mN"``, ``"222 +- 0.3 mm"``, ``"222 ± 0,6 mm (k=2)"``,
        ``"222(0.3) mm"`` or ``"222 mm within 0.5 mm"``. After the sign, or in brackets, stands one standard
        uncertainty, unless a coverage factor k follows. After "within" stands a bound: the value lies anywhere alike
        that far either way, which is a standard uncertainty of the bound over the root of 3 (JCGM 100, 4.3.7).
        Without any of these the uncertainty is unknown.
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
        Its `how` is `ENTERED_AS` and the entry; a number that was bare has its unit there.

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
    unit = typed.unit or typed.spread_unit or unit_when_missing
    factor = _factor(typed.value, unit, kind, text, example)
    how = ENTERED_AS + (text if typed.unit or typed.spread_unit else _with_unit(text, unit or ""))
    if typed.spread is None:
        return _without_spread(typed.value * factor, canonical_unit(kind), how)
    spread_unit = typed.spread_unit or typed.unit or unit_when_missing
    return Quantity.measured(
        typed.value * factor,
        canonical_unit(kind),
        standard_uncertainty=typed.spread * _factor(typed.spread, spread_unit, kind, text, example),
        source=source,
        rectangular=typed.rectangular,
        how=how,
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
        return _without_spread(typed.value, "1", ENTERED_AS + text)
    return Quantity.measured(
        typed.value,
        "1",
        standard_uncertainty=typed.spread,
        source=source,
        rectangular=typed.rectangular,
        how=ENTERED_AS + text,
    )


class _Typed(NamedTuple):
    """What stands in an entry: value and standard uncertainty with their units as typed; None without one."""

    value: float
    unit: str
    spread: float | None = None
    spread_unit: str = ""
    rectangular: bool = False


def _split(text: str, example: str) -> _Typed:
    entry = _clean(text, example)
    bracketed = _IN_BRACKETS.fullmatch(entry)
    if bracketed is not None:
        return _bracketed(bracketed, text, example)
    coverage = _COVERAGE.search(entry)
    body = entry[: coverage.start()] if coverage else entry
    rectangular = _WITHIN.search(body) is not None
    parts = (_WITHIN if rectangular else _PLUS_MINUS).split(body)
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
    if not rectangular:
        return _Typed(value, unit, spread / _coverage_factor(coverage, text), spread_unit)
    if coverage:
        raise ValueError(f'"{text}" gives a bound after "within", which has no k; leave k out, or write ± for within')
    return _Typed(value, unit, spread / math.sqrt(3), spread_unit, rectangular=True)


def _bracketed(found: re.Match[str], text: str, example: str) -> _Typed:
    """Return value and uncertainty of an entry such as ``"222(0.3) mm"``."""
    number, spread_text, unit = found["number"], found["spread"], found["unit"].strip()
    value, between = _number_with_unit(number, text, example)
    spread = parse_number(spread_text)
    unit = unit or between
    if between or not re.search("[.,]", spread_text):
        # By JCGM 100 it counts the last digits, 222.0(3) being 222.0 ± 0.3; many read it as 3.
        raise ValueError(
            f'"{text}" has an uncertainty in brackets that can be read in two ways; write it after ±, like '
            f"{number.removesuffix(between).strip()} ± {spread_text} {unit}".rstrip()
        )
    if not spread > 0:
        raise ValueError(f'"{text}" states an uncertainty that is not above 0; leave it out if it is not known')
    return _Typed(value, unit, spread, unit)


def _with_unit(text: str, unit: str) -> str:
    """Return a bare entry with the unit that it took, before its coverage factor if it has one."""
    entry = text.strip()
    coverage = _COVERAGE.search(entry)
    if coverage is None:
        return f"{entry} {unit}"
    return f"{entry[: coverage.start()].rstrip()} {unit} {coverage[0]}"


def _without_spread(value: float, unit: str, how: str) -> Quantity:
    return Quantity.unknown_uncertainty(value, unit, why="none was stated with the entry", how=how)


def parse_number(text: str, *, unit: str = "", example: str = "1.004") -> float:
    """Return what was typed as a number without a unit, or with the one unit that may follow it.

    ValueError as `parse_quantity` does, with `example` as what would be right.

    >>> parse_number("12,5 h", unit="h")
    12.5
    >>> parse_number("1,004")
    Traceback (most recent call last):
    ...
    ValueError: "1,004" can be 1.004 or 1004; write 1.004 or 1004
    """
    value, typed = _number_with_unit(_clean(text, example), text, example)
    if typed and typed != unit:
        raise ValueError(f'"{text}" must be a plain number such as {example}, without "{typed}" after it')
    return value


def parse_list(
    text: str, kind: str, *, source: str, unit_when_missing: str | None = None, example: str | None = None
) -> list[Quantity]:
    """Return the quantities that stand in one line.

    Parameters
    ----------
    text : str
        Such as ``"2,01; 2,02 g"``, ``"2.01 2.02"``, ``"2.01, 2.02 g"`` or one a line. A unit after the last alone
        serves all. The other parameters are those of `parse_quantity`.

    Returns
    -------
    list of Quantity
        At least one; the text of each is in its `how`.

    Raises
    ------
    ValueError
        As `parse_quantity`; also if it cannot be told where one number ends, or which unit a number has.

    Examples
    --------
    >>> [reading.value for reading in parse_list("65 0,12 mm", "length", source="eye")]
    [65.0, 0.12]
    """
    example = example or KINDS[kind].example
    if len(text) > LONGEST_LIST:
        raise ValueError(f"the line has {len(text)} characters; {LONGEST_LIST} hold twenty readings")
    parts = _parts_of_list(text, example)
    units = [typed.unit or typed.spread_unit for typed in (_split(part, example) for part in parts)]
    default = units[-1] or unit_when_missing
    if any(units[:-1]) and not all(units) and not all(unit in ("", default) for unit in units):
        raise ValueError(f'"{text}" has units after some numbers only; write one after each, or after the last alone')
    return [parse_quantity(part, kind, source=source, unit_when_missing=default, example=example) for part in parts]


def _parts_of_list(text: str, example: str) -> list[str]:
    line = text.translate(_SAME_CHARACTER)
    parts = [part.strip() for part in _HARD_BREAK.split(line) if part.strip()]
    if not parts:
        raise ValueError(f"nothing was entered; write a value like {example}")
    if len(parts) < 2:
        parts = [part.strip() for part in _COMMA_BREAK.split(line) if part.strip()]
        if len(parts) > 1 and any(_LEADING_ZERO.match(part) for part in parts[1:]):
            raise ValueError(f'"{text}" can be one number or several; part them with semicolons, like 2,01; 2,02')
    if len(parts) < 2:
        parts = [part.strip() for part in _SPACE_BREAK.split(parts[0])]
    return parts


def split_range(text: str) -> tuple[str, str] | None:
    """Return the text of both ends of a range, either of which may be empty; None if there are no two ends.

    >>> split_range("1,6:2,2 g"), split_range(":0.5 deg"), split_range("2.2 g")
    (('1,6', '2,2 g'), ('', '0.5 deg'), None)
    """
    ends = _TO.split(text.translate(_SAME_CHARACTER).strip())
    return (ends[0].strip(), ends[1].strip()) if len(ends) == 2 else None


def parse_range(
    text: str, kind: str, *, unit_when_missing: str | None = None, example: str | None = None
) -> tuple[float, float]:
    """Return both ends of a range such as ``"60.325:146.05 mm"``, in the canonical unit of its kind.

    Between the ends stands a colon, "to" or an en dash; ``"±0.5 mm"`` is ``"-0.5:0.5 mm"``. A unit stands after either
    end or both. Without any, `unit_when_missing` is meant, and without that it is refused. `example` is a right entry,
    for the refusals.

    >>> parse_range("60.325:146.05 mm", "length"), parse_range("1,6 to 2,2", "mass", unit_when_missing="g")
    ((60.325, 146.05), (1.6, 2.2))
    """
    one_end = KINDS[kind].example
    if example is None:
        example = "60.325:146.05 mm" if kind == "length" else f"two values joined by a colon, each like {one_end}"
    entry = _clean(text, example)
    either_way = _PLUS_MINUS.match(entry)
    ends = (f"-{entry[either_way.end() :].strip()}", entry[either_way.end() :]) if either_way else split_range(entry)
    if ends is None:
        raise ValueError(f'"{text}" is not a range; write its two ends with one colon between, such as {example}')
    lower, lower_unit = _number_with_unit(ends[0], text, example)
    upper, upper_unit = _number_with_unit(ends[1], text, example)
    if not (lower_unit or upper_unit or unit_when_missing):
        raise ValueError(f'"{text}" has no unit; write it like {example}')
    low = lower * _factor(lower, lower_unit or upper_unit or unit_when_missing, kind, text, one_end)
    high = upper * _factor(upper, upper_unit or lower_unit or unit_when_missing, kind, text, one_end)
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
    if re.match(r"[ '_/^\u2013-]*[0-9]", rest):
        raise ValueError(f'"{text}" has a number broken in two; write 1234 without a gap, or a fraction like 8 3/4')
    value = _value(found, text, rest)
    if not (value == 0 or SMALLEST <= abs(value) <= LARGEST):
        raise ValueError(f'"{text}" is too large or too small to be meant; write a value like {example}')
    return value, rest.strip()


def _value(found: re.Match[str], text: str, rest: str) -> float:
    sign = -1.0 if found["sign"] in ("-", "\u2013") else 1.0
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
