"""Second thoughts: whether a value that was typed fits what is known, and what was probably meant where it doesn't."""

from __future__ import annotations

import itertools
import math
import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from groovewright.measurement.formatting import format_chosen
from groovewright.measurement.parsing import parse_quantity
from groovewright.measurement.quantity import Quantity
from groovewright.measurement.units import KINDS, printed_unit

MAX_SIGMAS = 4.0
"""A value farther from what is known is asked back: chance alone goes so far once in 16,000 readings."""

MAX_SUGGESTIONS = 3
"""More would be read by nobody."""

_NUMBER_AND_UNIT = re.compile(
    r"(?P<sign>[-+\u2212\u2013]?)\s*(?P<number>[0-9]+(?:[.,][0-9]+)?)\s*(?P<unit>[^0-9\s(±+][^0-9\s(±+]*)"
)


@dataclass(frozen=True, slots=True)
class Known:
    """What is known of a value before it is typed.

    Parameters
    ----------
    value, standard_uncertainty : float
        Both in the canonical unit of the kind; the uncertainty says how far the deck may differ, and is above 0.
    basis : str
        Where it is known from, as a message says it: "the target", "the maker's drawing".
    """

    value: float
    standard_uncertainty: float
    basis: str

    def __post_init__(self) -> None:
        if not self.standard_uncertainty > 0:
            raise ValueError(f"what is known needs an uncertainty above 0, not {self.standard_uncertainty}")


@dataclass(frozen=True, slots=True)
class Usual:
    """What a value usually is where nothing is known of this deck: from lowest to highest, in the canonical unit."""

    lowest: float
    highest: float

    def __post_init__(self) -> None:
        if not self.lowest < self.highest:
            raise ValueError(f"a usual range has its smaller end first, not {self.lowest} to {self.highest}")


def doubt(
    typed: Quantity,
    text: str,
    *,
    name: str,
    kind: str,
    expected: Known | Usual,
    shown_unit: str,
    other_things: Mapping[str, float] | None = None,
    distance_mm: float | None = None,
) -> str | None:
    """Return a sentence that asks a value back, or None where it fits what is known.

    Parameters
    ----------
    typed : Quantity
        The value in the canonical unit of its kind.
    text : str
        As it was typed, with its unit.
    name : str
        What it is, such as ``"effective length"``.
    kind : str
        Kind of quantity in the table of units.
    expected : Known or Usual
        What is known of it.
    shown_unit : str
        The unit in which the sentence gives values.
    other_things : mapping of str to float, optional
        What else could have been read in its place, such as the overhang for a length. [canonical unit]
    distance_mm : float, optional
        The pivot-to-spindle distance, where an overhang may have been typed for a length or the other way. [mm]

    Returns
    -------
    str or None

    Examples
    --------
    >>> length = parse_quantity("329.4 mm", "length", source="rule")
    >>> target = Known(239.3, 2.0, "the target")
    >>> doubt(length, "329.4 mm", name="effective length", kind="length", expected=target, shown_unit="mm")
    '329.4 mm does not fit: the effective length should be near 239.3 mm (the target). Two digits swapped: 239.4 mm?'
    """
    if _fits(typed.value, expected, typed.standard_uncertainty):
        return None
    shown = _Shown(kind, shown_unit)
    suggestions: list[str] = []
    for what, value in _candidates(typed.value, text, kind, distance_mm):
        # The nearest slip of one kind: where 0.9 fits, 0.09 was not meant.
        told = any(suggestion.startswith(what) for suggestion in suggestions)
        if not told and _fits(value, expected, typed.standard_uncertainty):
            suggestions.append(f"{what}: {shown.text(value)}?")
    for other, value in (other_things or {}).items():
        if abs(typed.value - value) <= max(0.02 * abs(value), _digit(kind)):
            suggestions.append(f"Or is it the {other}, which is near {shown.text(value)}?")
    if isinstance(expected, Known):
        where = f"the {name} should be near {shown.text(expected.value)} ({expected.basis})"
    else:
        where = f"the {name} usually lies from {shown.text(expected.lowest)} to {shown.text(expected.highest)}"
    return " ".join([f"{text} does not fit: {where}.", *suggestions[:MAX_SUGGESTIONS]])


@dataclass(frozen=True, slots=True)
class _Shown:
    kind: str
    unit: str

    def text(self, value: float) -> str:
        number = format_chosen(value, KINDS[self.kind].canonical, shown_unit=self.unit)
        printed = printed_unit(self.unit)
        return f"{number}{printed}" if printed == "°" else f"{number} {printed}"


def _digit(kind: str) -> float:
    """Return what counts as the same reading of another thing, in the canonical unit: half a mm, degree or mN."""
    return 0.5 if kind in ("length", "angle", "force") else 0.0


def _fits(value: float, expected: Known | Usual, standard_uncertainty: float | None) -> bool:
    if isinstance(expected, Usual):
        return expected.lowest <= value <= expected.highest
    spread = math.hypot(expected.standard_uncertainty, standard_uncertainty or 0.0)
    return abs(value - expected.value) <= MAX_SIGMAS * spread


def _candidates(value: float, text: str, kind: str, distance_mm: float | None) -> Iterator[tuple[str, float]]:
    """Yield what may have been meant, likeliest slip first."""
    yield "The sign turned", -value
    yield from (("Two digits swapped", swapped) for swapped in _with_two_digits_swapped(text, kind))
    yield from (("A decimal sign misplaced", value * factor) for factor in (0.1, 10.0, 0.01, 100.0))
    yield from _in_other_units(text, kind)
    if distance_mm is not None:
        yield "The overhang typed", distance_mm + value
        yield "The effective length typed", value - distance_mm


def _with_two_digits_swapped(text: str, kind: str) -> Iterator[float]:
    found = _NUMBER_AND_UNIT.match(text.strip())
    if found is None:
        return
    number = found["number"]
    places = [k for k, character in enumerate(number) if character.isdigit()]
    for first, second in itertools.pairwise(places):
        characters = list(number)
        characters[first], characters[second] = characters[second], characters[first]
        # A point, because a comma before three digits would be in doubt.
        swapped = "".join(characters).replace(",", ".")
        if swapped != number.replace(",", "."):
            sign = "-" if found["sign"] not in ("", "+") else ""
            yield parse_quantity(f"{sign}{swapped} {found['unit']}", kind, source="as meant").value


def _in_other_units(text: str, kind: str) -> Iterator[tuple[str, float]]:
    found = _NUMBER_AND_UNIT.match(text.strip())
    if found is None:
        return
    sign = -1.0 if found["sign"] not in ("", "+") else 1.0
    number = sign * float(found["number"].replace(",", "."))
    for unit in KINDS[kind].shown:
        if unit != found["unit"]:
            yield f"Meant in {printed_unit(unit)}", number * KINDS[kind].factors[unit]
