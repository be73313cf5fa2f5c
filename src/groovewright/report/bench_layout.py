"""The seven settings, the moves and the visit before, as the template prints them: texts and aligned columns."""

from __future__ import annotations

from typing import Any

from groovewright.measurement.conformity import Tolerance
from groovewright.measurement.quantity import Quantity
from groovewright.measurement.units import in_unit, printed_unit
from groovewright.report.cells import (
    align_decimals,
    limits_shown,
    minus,
    quantity_cell,
    quantity_text,
    shown_unit,
    tolerance_text,
)
from groovewright.report.parts import MoveLine, SettingLine, VisitBefore
from groovewright.report.wording import chance, minute

DIGITS = 3
"""Of an aim and of limits."""

NOT_READ = {"value": "not read", "spread": "", "unit": "", "also": ""}


def setting_rows(settings: tuple[SettingLine, ...]) -> list[dict[str, Any]]:
    """Return the seven settings as table rows."""
    rows = []
    for line in settings:
        verdict = line.verdict
        rows.append(
            _cell(line.quantity)
            | {
                "setting": line.setting,
                "aim": "" if line.aim is None else f"aim {_short(line.aim)}",
                "tolerance": "no limits" if line.tolerance is None else tolerance_text(_shortened(line.tolerance)),
                "outcome": "" if verdict is None else verdict.outcome,
                "chance": "" if verdict is None else chance(verdict.probability_of_conformity),
                "note": line.note,
            }
        )
    align_decimals(rows, "value", "spread")
    return rows


def move_rows(moves: tuple[MoveLine, ...]) -> list[dict[str, Any]]:
    """Return the moves as table rows."""
    return [
        {
            "number": str(move.number),
            "text": minus(move.text),
            "amounts": [
                f"{fact.label} {quantity_text(fact.value)}" for fact in move.amounts if isinstance(fact.value, Quantity)
            ],
            "made_at": minute(move.made_at),
            "note": move.note,
        }
        for move in moves
    ]


def visit_section(before: VisitBefore | None) -> dict[str, Any] | None:
    """Return the comparison with the visit before, or None."""
    if before is None:
        return None
    return {
        "sentence": before.sentence,
        "rows": [
            {
                "setting": line.setting,
                "left": _text(line.left),
                "found": _text(line.found),
                "sentence": minus(line.sentence),
            }
            for line in before.changes
        ],
        "notes": [minus(note) for note in before.notes],
    }


def _short(aim: Quantity) -> str:
    """Return an aim as printed: chosen, so without an uncertainty, and to no more digits than anyone sets."""
    shown = in_unit(aim, shown_unit(aim.unit))
    unit = printed_unit(shown.unit)
    return minus(f"{shown.value:.{DIGITS}g}{unit if unit == '°' else f' {unit}'}")


def _shortened(tolerance: Tolerance) -> Tolerance:
    """Return limits as printed, to as many digits as the aim; those of the side force are worked out, not chosen."""
    lower, upper = (None if end is None else float(f"{end:.{DIGITS}g}") for end in limits_shown(tolerance))
    return Tolerance(lower, upper, shown_unit(tolerance.unit))


def _cell(quantity: Quantity | None) -> dict[str, Any]:
    return dict(NOT_READ) if quantity is None else dict(quantity_cell(quantity))


def _text(quantity: Quantity | None) -> str:
    return "not read" if quantity is None else quantity_text(quantity)
