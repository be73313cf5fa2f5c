"""Limits of captures that a workshop writes down: a TOML sheet, and the plain JSON that the record keeps."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from typing import Any

from groovewright.bench.captures.capture_limits import SET_BY_THE_WORKSHOP, UNITS, CaptureLimit
from groovewright.measurement.conformity import Tolerance
from groovewright.testtone.sheet.sheet_table import LARGEST_SHEET_CHARACTERS, SheetTable

LARGEST_NUMBER = 1e4
LONGEST_SOURCE = 200


def read_limit_sheet(text: str) -> dict[str, CaptureLimit]:
    r"""Return the limits of a sheet, by name of quantity.

    Each quantity is a table of `lower`, `upper` or both, with an `aim` and a `source` if it has them:

    >>> found = read_limit_sheet('[channel_balance]\nlower = -1\nupper = 1\naim = 0')
    >>> found["channel_balance"].tolerance.describe()
    '-1 to 1 dB'

    Raises
    ------
    ValueError
        One sentence that names the table and what would be right.
    """
    if len(text) > LARGEST_SHEET_CHARACTERS:
        raise ValueError(f"a sheet of limits has at most {LARGEST_SHEET_CHARACTERS} characters")
    try:
        entries = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise ValueError(f"the sheet of limits is no TOML: {error}") from error
    return limits_of(entries)


def limits_of(entries: Mapping[str, Any]) -> dict[str, CaptureLimit]:
    """Return the limits that plain tables hold, by name of quantity; see `read_limit_sheet`."""
    sheet = SheetTable("the sheet of limits", dict(entries))
    sheet.refuse_unknown(*UNITS)
    return {name: _limit(name, sheet.table(name)) for name in entries}


def tables_of(limits: Mapping[str, CaptureLimit]) -> dict[str, dict[str, Any]]:
    """Return limits as the plain tables that `limits_of` reads."""
    return {
        name: {
            key: value
            for key, value in (
                ("aim", limit.aim),
                ("lower", limit.tolerance.lower),
                ("upper", limit.tolerance.upper),
                ("source", limit.source),
            )
            if value is not None
        }
        for name, limit in limits.items()
    }


def _limit(name: str, table: SheetTable | None) -> CaptureLimit:
    assert table is not None
    table.refuse_unknown("aim", "lower", "upper", "source")
    aim, lower, upper = (
        table.optional_number(key, "0", lowest=-LARGEST_NUMBER, highest=LARGEST_NUMBER)
        for key in ("aim", "lower", "upper")
    )
    source = table.text("source", "our own") if "source" in table.entries else SET_BY_THE_WORKSHOP
    if not source.strip() or len(source) > LONGEST_SOURCE:
        raise ValueError(f"[{name}], source: write 1 to {LONGEST_SOURCE} characters")
    try:
        return CaptureLimit(aim, Tolerance(lower, upper, UNITS[name]), source)
    except ValueError as error:
        raise ValueError(f"[{name}]: {error}") from error
