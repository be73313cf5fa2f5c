"""A weighting that the user loads: levels at frequencies, from a text of two columns.

A curve is never given the name of a standard here: what the text says it is and what a standard asks for may differ.
"""

from __future__ import annotations

import math
import tomllib
from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from groovewright.measurement.parsing import parse_number

LONGEST_TEXT = 100_000
MOST_POINTS = 2_000
LONGEST_NAME = 60
LOWEST_LEVEL_DB, HIGHEST_LEVEL_DB = -200.0, 60.0
LOWEST_FREQUENCY_HZ, HIGHEST_FREQUENCY_HZ = 0.1, 100_000.0


@dataclass(frozen=True)
class WeightingTable:
    """Levels at rising frequencies.

    Attributes
    ----------
    name : str
        As the user calls it.
    frequency_hz, level_db : tuple of float
        Points of the curve; between them it runs straight in level over the logarithm of frequency. [Hz], [dB]
    """

    name: str
    frequency_hz: tuple[float, ...]
    level_db: tuple[float, ...]

    @property
    def label(self) -> str:
        """What a level through this table is called."""
        return (
            f"level through the loaded table {self.name!r}, {self.frequency_hz[0]:g}-{self.frequency_hz[-1]:g} Hz, "
            f"which was not compared with any standard"
        )

    def power_gain(self, frequency_hz: ArrayLike) -> NDArray[np.float64]:
        """Return the factor on power at each frequency; 0 outside the table, which is never carried on."""
        frequencies = np.asarray(frequency_hz, dtype=float)
        inside = (frequencies >= self.frequency_hz[0]) & (frequencies <= self.frequency_hz[-1])
        # A frequency of 0 is outside; any positive number keeps its logarithm finite.
        logarithms = np.log(np.where(inside, frequencies, self.frequency_hz[0]))
        level_db = np.interp(logarithms, np.log(self.frequency_hz), self.level_db)
        return np.where(inside, 10 ** (level_db / 10), 0.0)


def read_weighting_table(text: str, *, name: str = "") -> WeightingTable:
    r"""Return the weighting that a text of two columns describes.

    Parameters
    ----------
    text : str
        Either lines of two numbers, frequency in Hz and level in dB, parted by a comma, a semicolon or a tab, with or
        without one line of headings; or TOML with ``points = [[10, -30.0], [20, -12.5]]`` and perhaps a ``name``.
    name : str
        What to call it where the text does not say, such as the name of its file.

    Raises
    ------
    ValueError
        One sentence that names the line or point and says what would be right.

    Examples
    --------
    >>> table = read_weighting_table("10; -20,0\n100; 0", name="bench curve")
    >>> table.frequency_hz, table.level_db
    ((10.0, 100.0), (-20.0, 0.0))
    """
    if len(text) > LONGEST_TEXT:
        raise ValueError(f"the weighting table has {len(text)} characters; at most {LONGEST_TEXT} are read")
    lines = [(number, line.strip()) for number, line in enumerate(text.splitlines(), 1)]
    filled = [(number, line) for number, line in lines if line and not line.startswith("#")]
    if any("=" in line for _, line in filled):
        return _from_toml(text, name)
    rows = [_row(number, line) for number, line in filled[_headings(filled) :]]
    return _table(name, ((f"line {number}", hz, db) for number, hz, db in rows))


def _headings(filled: list[tuple[int, str]]) -> int:
    """Return 1 where the first line holds words instead of numbers."""
    return 1 if filled and not any(character.isdigit() for character in filled[0][1]) else 0


def _row(number: int, line: str) -> tuple[int, float, float]:
    separator = next((mark for mark in (";", "\t") if mark in line), ",")
    cells = [cell.strip() for cell in line.split(separator)]
    if len(cells) != 2:
        raise ValueError(
            f"weighting table, line {number}: {line[:60]!r} is not two numbers; write frequency and level as in "
            f"'31.5, -10.2', or with decimal commas as in '31,5; -10,2'"
        )
    try:
        return number, parse_number(cells[0]), parse_number(cells[1])
    except ValueError as refusal:
        raise ValueError(f"weighting table, line {number}: {refusal}") from refusal


def _from_toml(text: str, name: str) -> WeightingTable:
    try:
        entries = tomllib.loads(text)
    except (tomllib.TOMLDecodeError, RecursionError) as refusal:
        raise ValueError(f"the weighting table is not readable as TOML: {refusal}") from refusal
    unknown = sorted(set(entries) - {"name", "points"})
    points = entries.get("points")
    if unknown or not isinstance(points, list):
        raise ValueError(
            f"a weighting table in TOML has points = [[10, -30.0], [20, -12.5]] and may have a name; "
            f"this one has {', '.join(sorted(entries))[:80] or 'nothing'}"
        )
    given = entries.get("name", name)
    if not isinstance(given, str):
        raise ValueError("weighting table, name: write it between quotes")
    rows = []
    for number, point in enumerate(points, 1):
        if not (isinstance(point, list) and len(point) == 2 and all(type(cell) in (int, float) for cell in point)):
            raise ValueError(f"weighting table, point {number}: write frequency and level, as in [31.5, -10.2]")
        rows.append((f"point {number}", _as_float(point[0]), _as_float(point[1])))
    return _table(given, rows)


def _as_float(cell: float) -> float:
    """Return a number as a float; a whole number too large for one is past every limit all the same."""
    return math.inf if abs(cell) >= 1e300 else float(cell)


def _table(name: str, rows: Iterable[tuple[str, float, float]]) -> WeightingTable:
    points = list(rows)
    if not 2 <= len(points) <= MOST_POINTS:
        raise ValueError(f"the weighting table has {len(points)} points; it needs 2 to {MOST_POINTS}")
    before_hz = 0.0
    for where, hz, db in points:
        if not LOWEST_FREQUENCY_HZ <= hz <= HIGHEST_FREQUENCY_HZ:
            raise ValueError(
                f"weighting table, {where}: {hz:g} Hz is outside {LOWEST_FREQUENCY_HZ:g} to {HIGHEST_FREQUENCY_HZ:g} Hz"
            )
        if not LOWEST_LEVEL_DB <= db <= HIGHEST_LEVEL_DB:
            raise ValueError(
                f"weighting table, {where}: {db:g} dB is outside {LOWEST_LEVEL_DB:g} to {HIGHEST_LEVEL_DB:g} dB"
            )
        if hz <= before_hz:
            raise ValueError(f"weighting table, {where}: {hz:g} Hz does not rise above {before_hz:g} Hz before it")
        before_hz = hz
    shown = name.strip() or "without a name"
    if len(shown) > LONGEST_NAME or not shown.isprintable():
        raise ValueError(f"weighting table, name: write at most {LONGEST_NAME} letters on one line")
    return WeightingTable(shown, tuple(hz for _, hz, _ in points), tuple(db for _, _, db in points))
