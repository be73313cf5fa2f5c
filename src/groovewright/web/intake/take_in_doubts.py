"""What is asked back when a deck is taken in: numbers by the maker that do not go together or are not usual."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from groovewright.bench.estimate.plausible import Known, Usual, doubt
from groovewright.jobbook.expected_values import SPREADS, USUAL
from groovewright.jobbook.models import Reading
from groovewright.measurement.quantity import Quantity
from groovewright.measurement.units import GRAM_FORCE_MN
from groovewright.web.intake.limits_field import typed_value
from groovewright.web.intake.quantity_field import typed_again
from groovewright.web.intake.second_thoughts import SecondThoughtsForm

USUAL_RANGE = Usual(0.4 * GRAM_FORCE_MN, 6 * GRAM_FORCE_MN)
"""Makers' ranges, from the lightest cartridges to those for coarse grooves: a rule of thumb. [mN]"""

DRAWING_MM = 0.5
"""Makers round their figures to 0.1 or 0.5 mm, so length less distance may miss the overhang by as much. [mm]"""

DISTANCE = "pivot_to_spindle"
DRAWN = {
    DISTANCE: Reading.Kind.PIVOT_TO_SPINDLE,
    "drawn_pivot_to_spindle": Reading.Kind.PIVOT_TO_SPINDLE,
    "drawn_effective_length": Reading.Kind.EFFECTIVE_LENGTH,
    "drawn_overhang": Reading.Kind.OVERHANG,
    "drawn_offset_angle": Reading.Kind.OFFSET_ANGLE,
}


def ask_back_take_in(form: SecondThoughtsForm, typed: Mapping[str, Any]) -> None:
    """Ask back what was typed of the arm and the cartridge; what the form stood with is not asked again."""
    if typed.get("force_range") is not None and "force_range" in form.changed_data:
        for end in typed["force_range"]:
            text = typed_value(end, "force")
            force = Quantity.exact(end, "mN")
            sentence = doubt(force, text, name="tracking force", kind="force", expected=USUAL_RANGE, shown_unit="g")
            form.ask_back("force_range", sentence)
    for name, kind in DRAWN.items():
        quantity = typed.get(name)
        if quantity is None or name not in form.changed_data:
            continue
        expected = _by_the_others(name, typed) or USUAL[kind]
        distance = None if name == DISTANCE else typed.get("drawn_pivot_to_spindle")
        sentence = doubt(
            quantity,
            typed_again(quantity),
            name=kind.label,
            kind="angle" if name == "drawn_offset_angle" else "length",
            expected=expected,
            shown_unit="deg" if name == "drawn_offset_angle" else "mm",
            distance_mm=None if distance is None or name == "drawn_pivot_to_spindle" else distance.value,
        )
        form.ask_back(name, sentence)


def _by_the_others(name: str, typed: Mapping[str, Any]) -> Known | None:
    """Return what a value should be near by those that stand beside it, which are taken as they are.

    That is the overhang as length less distance, and the measured distance as the maker's drawing has it.
    """
    length, distance = typed.get("drawn_effective_length"), typed.get("drawn_pivot_to_spindle")
    if name == DISTANCE and distance is not None:
        return Known(distance.value, SPREADS[DRAWN[DISTANCE]], "the maker's drawing")
    if name != "drawn_overhang" or length is None or distance is None:
        return None
    return Known(length.value - distance.value, DRAWING_MM, "the effective length less the distance")
