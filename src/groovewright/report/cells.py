"""Quantities and limits as the report prints them: with a true minus, forces in grams, decimal points in line."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import Any

from groovewright.measurement.conformity import Tolerance
from groovewright.measurement.formatting import format_chosen, format_quantity, split_quantity
from groovewright.measurement.quantity import Quantity
from groovewright.measurement.units import from_canonical, printed_unit


def minus(text: str) -> str:
    """Return a text of ours with a true minus sign before each negative number.

    Examples
    --------
    >>> minus("-0.5 to 0.5 mm, plate 47-2")
    '−0.5 to 0.5 mm, plate 47-2'
    """
    return re.sub(r"(?<![\w-])-(?=\d)", "−", text)


def shown_unit(unit: str) -> str:
    """Return the unit a quantity is printed in: forces in grams, as on a stylus scale."""
    return "g" if unit == "mN" else unit


def quantity_cell(quantity: Quantity) -> dict[str, str]:
    """Return value, uncertainty and unit as printed, with a force in millinewtons beside."""
    value, uncertainty, unit = split_quantity(quantity, shown_unit(quantity.unit))
    spread = {None: "not known", "0": "exact"}.get(uncertainty, f"± {uncertainty}")
    also = ""
    if quantity.unit == "mN":
        also = f"{minus(split_quantity(quantity)[0])} mN"
    return {"value": minus(value), "spread": spread, "unit": unit, "also": also}


def align_decimals(cells: Sequence[dict[str, Any]], *keys: str) -> None:
    """Give each cell, for each key, the unseen digits that bring its decimal point under the others'."""
    for key in keys:
        numbers = [c for c in cells if c[key][-1:].isdigit()]
        tails = [c[key].partition(".")[2] for c in numbers]
        longest = max((len(tail) for tail in tails), default=0)
        for cell in cells:
            cell[f"{key}_pad"] = ""
        for cell, tail in zip(numbers, tails, strict=True):
            missing = longest - len(tail)
            cell[f"{key}_pad"] = ("." if missing and not tail else "") + "0" * missing


def quantity_text(quantity: Quantity) -> str:
    """Return a quantity as one line, with a force in millinewtons after it."""
    text = format_quantity(quantity, unit=shown_unit(quantity.unit))
    beside = quantity_cell(quantity)["also"]
    return minus(text) + (f" ({beside})" if beside else "")


def tolerance_text(tolerance: Tolerance) -> str:
    """Return the limits of a tolerance as printed.

    Examples
    --------
    >>> tolerance_text(Tolerance(-1.0, 1.0, "deg")), tolerance_text(Tolerance(None, 9.80665, "mN"))
    ('−1 to 1°', 'at most 1 g')
    """
    unit = printed_unit(shown_unit(tolerance.unit))
    after = unit if unit == "°" else f" {unit}"
    ends = (tolerance.lower, tolerance.upper)
    lower, upper = (
        None if end is None else minus(format_chosen(end, tolerance.unit, shown_unit=shown_unit(tolerance.unit)))
        for end in ends
    )
    if lower is None:
        return f"at most {upper}{after}"
    if upper is None:
        return f"at least {lower}{after}"
    return f"{lower} to {upper}{after}"


def limits_shown(tolerance: Tolerance) -> tuple[float | None, float | None]:
    """Return both limits in the unit in which they are printed."""
    if tolerance.unit != "mN":
        return tolerance.lower, tolerance.upper
    lower, upper = (None if v is None else from_canonical(v, "g", "force") for v in (tolerance.lower, tolerance.upper))
    return lower, upper
