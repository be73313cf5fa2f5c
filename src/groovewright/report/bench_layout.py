"""The seven settings, the moves and the visit before, as the template prints them: texts and aligned columns."""

from __future__ import annotations

from typing import Any

from groovewright.measurement.formatting import format_chosen
from groovewright.measurement.quantity import Quantity
from groovewright.measurement.units import printed_unit
from groovewright.report.cells import (
    align_decimals,
    minus,
    quantity_cell,
    quantity_text,
    shown_unit,
    tolerance_text,
)
from groovewright.report.parts import MoveLine, SettingLine, VisitBefore
from groovewright.report.wording import chance, minute

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
                "tolerance": "no limits" if line.tolerance is None else tolerance_text(line.tolerance),
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
    shown = shown_unit(aim.unit)
    unit = printed_unit(shown)
    return minus(f"{format_chosen(aim.value, aim.unit, shown_unit=shown)}{unit if unit == '°' else f' {unit}'}")


def _cell(quantity: Quantity | None) -> dict[str, Any]:
    return dict(NOT_READ) if quantity is None else dict(quantity_cell(quantity))


def _text(quantity: Quantity | None) -> str:
    return "not read" if quantity is None else quantity_text(quantity)
