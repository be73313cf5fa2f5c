"""A trace file: readings beside an arc, and of the cantilever, as the CSV that a spreadsheet saves.

The form is described in the guide (arc-trace). Commas, semicolons or tabs part the cells; where semicolons or tabs do,
a comma is a decimal comma, as spreadsheets of such countries write it.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterator
from dataclasses import dataclass
from difflib import get_close_matches
from pathlib import Path

from groovewright.bench.gauging.trace import ArcReading
from groovewright.files.sheet_file import load_sheet
from groovewright.gauges.null_check import NullReading
from groovewright.measurement.parsing import parse_number
from groovewright.measurement.quantity import Quantity
from groovewright.tonearm.input_ranges import BESIDE_THE_ARC_UNCERTAINTY, GROOVE_RADIUS, NULL_ANGLE_UNCERTAINTY

RADIUS = "radius_mm"
DEVIATION, DEVIATION_UNCERTAINTY = "deviation_mm", "deviation_uncertainty_mm"
ANGLE, ANGLE_UNCERTAINTY = "angle_deg", "angle_uncertainty_deg"
NEEDED = (RADIUS, DEVIATION, DEVIATION_UNCERTAINTY)
COLUMNS = (*NEEDED, ANGLE, ANGLE_UNCERTAINTY)

MOST_ROWS = 200
"""Ten times what the 90 mm of a groove need at one reading every 5 mm; more is another kind of file."""
MAX_UNCERTAINTY = {
    DEVIATION_UNCERTAINTY: BESIDE_THE_ARC_UNCERTAINTY.highest,
    ANGLE_UNCERTAINTY: NULL_ANGLE_UNCERTAINTY.highest,
}

# "0,05" cut in two at its comma leaves "05".
_CUT_AT_A_COMMA = re.compile(r"[+-]?0[0-9]+")


@dataclass(frozen=True)
class TraceFile:
    """What a trace file says.

    Attributes
    ----------
    arc_readings : tuple of ArcReading
        In the order of the file.
    null_readings : tuple of NullReading
        In the order of the file; none where no angle was read.
    """

    arc_readings: tuple[ArcReading, ...]
    null_readings: tuple[NullReading, ...]


@dataclass(frozen=True)
class _Row:
    """One row of the file, by column; a cell that is empty is absent."""

    line: int
    cells: dict[str, str]

    def number(self, column: str) -> float:
        cell = self.cells[column]
        if _CUT_AT_A_COMMA.fullmatch(cell):
            raise ValueError(
                f'line {self.line}, {column}: "{cell}" looks like the end of a number with a decimal comma; write a '
                "point, or part the cells with semicolons"
            )
        try:
            return parse_number(cell)
        except ValueError as refusal:
            raise ValueError(f"line {self.line}, {column}: {refusal}") from refusal

    def radius_mm(self) -> float:
        if RADIUS not in self.cells:
            raise ValueError(f"line {self.line} has no {RADIUS}; write the groove radius at which it was read")
        radius_mm = self.number(RADIUS)
        if not GROOVE_RADIUS.holds(radius_mm):
            raise ValueError(
                f"line {self.line}, {RADIUS}: {radius_mm:g} is no groove radius in mm; write one from "
                f"{GROOVE_RADIUS.lowest:g} to {GROOVE_RADIUS.highest:g}"
            )
        return radius_mm

    def reading(self, column: str, uncertainty_column: str, unit: str, source: str) -> Quantity | None:
        if column not in self.cells:
            if uncertainty_column in self.cells:
                raise ValueError(f"line {self.line} has {uncertainty_column} but no {column}; write both or neither")
            return None
        if uncertainty_column not in self.cells:
            raise ValueError(
                f"line {self.line} has {column} but no {uncertainty_column}; write how well it was read, as one "
                "standard uncertainty"
            )
        value, u = self.number(column), self.number(uncertainty_column)
        if not 0 < u <= MAX_UNCERTAINTY[uncertainty_column]:
            raise ValueError(
                f"line {self.line}, {uncertainty_column}: {u:g} must be above 0 and at most "
                f"{MAX_UNCERTAINTY[uncertainty_column]:g} {unit}"
            )
        return Quantity.measured(value, unit, standard_uncertainty=u, source=source)


def load_trace_file(path: Path) -> TraceFile:
    """Return what a trace file says; ValueError as `read_trace_file`, with the name of the file first."""
    return load_sheet(path, lambda text: read_trace_file(text, name=path.name), what="a trace file")


def read_trace_file(text: str, *, name: str) -> TraceFile:
    """Return what the text of a trace file says.

    Parameters
    ----------
    text : str
        With a header that names the columns, in any order.
    name : str
        Of the file; the readings' sources of uncertainty are called after it.

    Raises
    ------
    ValueError
        One sentence with the number of the line.
    """
    arc_readings, null_readings = [], []
    for row in _rows(text):
        radius_mm = row.radius_mm()
        place = f"line {row.line} of {name}"
        deviation = row.reading(DEVIATION, DEVIATION_UNCERTAINTY, "mm", f"reading beside the arc, {place}")
        angle = row.reading(ANGLE, ANGLE_UNCERTAINTY, "deg", f"reading of the cantilever, {place}")
        if deviation is None and angle is None:
            raise ValueError(f"line {row.line} has neither {DEVIATION} nor {ANGLE}; write what was read, or delete it")
        if deviation is not None:
            arc_readings.append(ArcReading(radius_mm, deviation))
        if angle is not None:
            null_readings.append(NullReading(radius_mm, angle))
    return TraceFile(tuple(arc_readings), tuple(null_readings))


def _rows(text: str) -> Iterator[_Row]:
    lines = _lines(text)
    header_line, header = next(lines, (0, []))
    if not header:
        raise ValueError(f"the file is empty; its first line names the columns: {', '.join(NEEDED)}")
    columns = [cell.lower() for cell in header]
    # Spreadsheets leave empty columns at the end.
    while columns and not columns[-1]:
        columns.pop()
    _check_header(columns, header_line)
    count = 0
    for line, cells in lines:
        count += 1
        if count > MOST_ROWS:
            raise ValueError(f"line {line}: a trace has {MOST_ROWS} readings at most; take one every few millimetres")
        if any(cells[len(columns) :]):
            raise ValueError(
                f"line {line} has {len(cells)} cells where the header has {len(columns)}; write numbers with a decimal "
                "point, or part the cells with semicolons"
            )
        yield _Row(line, {column: cell for column, cell in zip(columns, cells, strict=False) if cell})
    if not count:
        raise ValueError(f"the file has a header but no readings; write one a line below line {header_line}")


def _lines(text: str) -> Iterator[tuple[int, list[str]]]:
    """Return the cells of every line that holds any, with its number."""
    first = next((line for line in text.splitlines() if line.strip()), "")
    delimiter = next((sign for sign in ";\t" if sign in first), ",")
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter)
    while True:
        try:
            cells = next(reader)
        except StopIteration:
            return
        except csv.Error as failure:
            raise ValueError(f"line {reader.line_num} cannot be read as CSV: {failure}") from failure
        cells = [cell.strip() for cell in cells]
        if delimiter != ",":
            cells = [cell.replace(",", ".") for cell in cells]
        if any(cells):
            yield reader.line_num, cells


def _check_header(columns: list[str], line: int) -> None:
    for column in columns:
        if column not in COLUMNS:
            near = get_close_matches(column, COLUMNS, n=1)
            hint = f"did you mean {near[0]}?" if near else f"it may have {', '.join(COLUMNS)}"
            shown = f'"{column}"' if column else "a column without a name"
            raise ValueError(f"line {line}: the header has {shown}; {hint}")
        if columns.count(column) > 1:
            raise ValueError(f"line {line}: the header has {column} twice; name each column once")
    missing = [column for column in NEEDED if column not in columns]
    if missing:
        raise ValueError(f"line {line}: the header lacks {missing[0]}; it needs {', '.join(NEEDED)}")
    if (ANGLE in columns) != (ANGLE_UNCERTAINTY in columns):
        lacking = ANGLE_UNCERTAINTY if ANGLE in columns else ANGLE
        raise ValueError(f"line {line}: the header lacks {lacking}; {ANGLE} and {ANGLE_UNCERTAINTY} go together")
