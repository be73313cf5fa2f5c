"""A band sheet as text: what `read_band_sheet` reads back to the same sheet."""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import fields

from groovewright.testtone.sheet.allowances import Allowances
from groovewright.testtone.sheet.band_sheet import Band, BandSheet


def sheet_text(sheet: BandSheet) -> str:
    """Return the sheet as TOML."""
    head = [f"equalised = {str(sheet.equalised).lower()}", f"speed_rpm = {sheet.speed_rpm!r}"]
    if sheet.vertical_cutting_angle_deg is not None:
        head.append(f"vertical_cutting_angle_deg = {sheet.vertical_cutting_angle_deg!r}")
    stated = [
        f"{each.name} = {getattr(sheet.allowances, each.name)!r}"
        for each in fields(Allowances)
        if getattr(sheet.allowances, each.name) != each.default
    ]
    if stated:
        head += ["", "[allowances]", *stated]
    return "\n".join([*head, *(line for band in sheet.bands for line in _band(band))]) + "\n"


def _band(band: Band) -> Iterator[str]:
    yield ""
    yield "[[bands]]"
    # A JSON string without escapes of what is above ASCII is a TOML string too.
    yield f"name = {json.dumps(band.name, ensure_ascii=False)}"
    yield f'kind = "{band.kind}"'
    yield f'cut = "{band.cut}"'
    if band.frequency_hz:
        yield f"frequency_hz = {_numbers(band.frequency_hz)}"
    if band.peak_velocity_cm_s is not None:
        yield f"peak_velocity_cm_s = {_numbers(band.peak_velocity_cm_s)}"
    yield f"radius_mm = {_numbers(band.radius_mm)}"
    if band.start_s is not None:
        yield f"start_s = {band.start_s!r}"
    if band.duration_s is not None:
        yield f"duration_s = {band.duration_s!r}"
    if band.kind == "sweep":
        yield f'evenly_in = "{band.evenly_in}"'
        yield f"cut_with_equalisation = {str(band.cut_with_equalisation).lower()}"


def _numbers(numbers: float | tuple[float, ...]) -> str:
    if not isinstance(numbers, tuple):
        return repr(numbers)
    return repr(numbers[0]) if len(numbers) == 1 else f"[{', '.join(repr(number) for number in numbers)}]"
