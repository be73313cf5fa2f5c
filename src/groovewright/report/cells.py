"""Quantities and limits as the report prints them: with a true minus, forces in grams, decimal points in line."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import Any

from groovewright.bench.estimate.setting_state import SettingState
from groovewright.bench.estimate.settings import SETTINGS, SettingKey
from groovewright.measurement.conformity import Tolerance
from groovewright.measurement.formatting import format_chosen, format_quantity, split_quantity
from groovewright.measurement.quantity import Quantity
from groovewright.measurement.units import printed_unit


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
    also = f"{minus(split_quantity(quantity)[0])} mN" if quantity.unit == "mN" else ""
    return {"value": minus(value), "spread": _spread(uncertainty), "unit": unit, "also": also}


def quantity_text(quantity: Quantity) -> str:
    """Return a quantity as one line, with a force in millinewtons after it."""
    text = format_quantity(quantity, unit=shown_unit(quantity.unit))
    beside = quantity_cell(quantity)["also"]
    return minus(text) + (f" ({beside})" if beside else "")


def setting_unit(key: SettingKey) -> str:
    """Return the unit a setting is printed in, as on the bench: the tracking force in grams, all others as they are."""
    return "g" if key == "tracking_force" else SETTINGS[key].unit


def setting_value(setting: SettingState) -> str:
    """Return the value of a setting with its unit, as on the bench; "not read" where there is none."""
    if setting.quantity is None:
        return setting.basis
    value, _, unit = split_quantity(setting.quantity, setting_unit(setting.key))
    return minus(value + _after(unit))


def setting_spread(setting: SettingState) -> str:
    """Return the typical error of a setting as printed; empty where it is not read."""
    if setting.quantity is None:
        return ""
    return _spread(split_quantity(setting.quantity, setting_unit(setting.key))[1])


def setting_limits(setting: SettingState) -> str:
    """Return the limits of a setting as printed; empty where it has none."""
    return "" if setting.tolerance is None else tolerance_text(setting.tolerance, unit=setting_unit(setting.key))


def tolerance_text(tolerance: Tolerance, *, unit: str | None = None) -> str:
    """Return the limits of a tolerance as printed, forces in grams unless another unit is given.

    Examples
    --------
    >>> tolerance_text(Tolerance(-1.0, 1.0, "deg")), tolerance_text(Tolerance(None, 9.80665, "mN"))
    ('−1 to 1°', 'at most 1 g')
    """
    shown = unit or shown_unit(tolerance.unit)
    after = _after(printed_unit(shown))
    lower, upper = (
        None if end is None else minus(format_chosen(end, tolerance.unit, shown_unit=shown))
        for end in (tolerance.lower, tolerance.upper)
    )
    if lower is None:
        return f"at most {upper}{after}"
    if upper is None:
        return f"at least {lower}{after}"
    return f"{lower} to {upper}{after}"


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


def _spread(uncertainty: str | None) -> str:
    return {None: "not known", "0": "exact"}.get(uncertainty, f"± {uncertainty}")


def _after(unit: str) -> str:
    return unit if unit in ("", "°") else f" {unit}"
