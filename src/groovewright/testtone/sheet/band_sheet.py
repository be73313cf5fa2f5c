"""A band sheet: what was cut on a test record, band by band, written down as one TOML file.

The form is described in the guide (band-sheet) and shown by the example that comes with the command.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal, cast, get_args

from groovewright.measurement.parsing import parse_number
from groovewright.testtone.sheet.allowances import DEFAULT_ALLOWANCES, Allowances, read_allowances
from groovewright.testtone.sheet.sheet_table import SheetTable, sheet_table

Kind = Literal["tone", "two-tone", "sweep", "silence"]
Cut = Literal["left", "right", "lateral", "vertical"]

Pace = Literal["octaves", "hertz"]
"""What a sweep covers evenly in time: octaves (logarithmic) or hertz (linear)."""

LOWEST_FREQUENCY_HZ, HIGHEST_FREQUENCY_HZ = 0.5, 96_000.0
LOWEST_VELOCITY_CM_S, HIGHEST_VELOCITY_CM_S = 0.001, 200.0
LOWEST_RADIUS_MM, HIGHEST_RADIUS_MM = 15.0, 250.0
LONGEST_S = 86_400.0
LARGEST_CUTTING_ANGLE_DEG = 45.0

USUAL_CUTTING_ANGLE_DEG = 20.0
"""Vertical angle of cutting that IEC 60098 aims at. [deg]"""

LONGEST_NAME = 80

BAND_KEYS = ("name", "kind", "cut", "frequency_hz", "peak_velocity_cm_s", "radius_mm", "start_s", "duration_s")
SWEEP_KEYS = ("evenly_in", "cut_with_equalisation")


@dataclass(frozen=True)
class Band:
    """One band of a test record.

    Attributes
    ----------
    name : str
        As printed on the record or its sleeve; no two bands of a sheet share one.
    kind : {"tone", "two-tone", "sweep", "silence"}
        What was cut.
    cut : {"left", "right", "lateral", "vertical"}
        Which way the groove moves: along one wall's channel only, or both channels alike (lateral) or opposed
        (vertical). A silent band moves neither way; where its sheet names none it is lateral.
    frequency_hz : tuple of float
        One for a tone, two for two tones in the order of their velocities, from and to for a sweep, none for
        silence. [Hz]
    peak_velocity_cm_s : float, tuple of two floats, or None
        Peak velocity of the groove, along the direction that `cut` names; two for two tones; None where unknown or
        silent. [cm/s]
    radius_mm : tuple of float
        Groove radius at the band's start and end. [mm]
    start_s, duration_s : float or None
        Where in the recording it stands, or None where that is to be found. [s]
    evenly_in : {"octaves", "hertz"}
        What a sweep covers evenly in time.
    cut_with_equalisation : bool
        Whether a sweep was cut with the recording equalisation, its peak velocity being that at 1 kHz, rather than at
        one velocity throughout.
    """

    name: str
    kind: Kind
    cut: Cut
    frequency_hz: tuple[float, ...]
    peak_velocity_cm_s: float | tuple[float, ...] | None
    radius_mm: tuple[float, float]
    start_s: float | None = None
    duration_s: float | None = None
    evenly_in: Pace = "octaves"
    cut_with_equalisation: bool = False


@dataclass(frozen=True)
class BandSheet:
    """What was cut on a record and how it was recorded.

    Attributes
    ----------
    equalised : bool
        True where the recording went through a playback equalisation (a phono stage), False where it is the bare
        velocity of the groove.
    speed_rpm : float
        Nominal speed at which the record was cut and is played. [rpm]
    bands : tuple of Band
        In the order in which they play.
    vertical_cutting_angle_deg : float or None
        Vertical angle at which the record was cut, from the normal of its surface; None where it is not stated. [deg]
    allowances : Allowances
        How far record, phono stage and recorder may be off.
    """

    equalised: bool
    speed_rpm: float
    bands: tuple[Band, ...]
    vertical_cutting_angle_deg: float | None = None
    allowances: Allowances = DEFAULT_ALLOWANCES


def read_band_sheet(toml_text: str) -> BandSheet:
    """Return what the text of a band sheet says.

    Raises
    ------
    ValueError
        One sentence that names the band and the key, and says what would be right.
    """
    sheet = sheet_table(toml_text, "a band sheet")
    sheet.refuse_unknown("equalised", "speed_rpm", "vertical_cutting_angle_deg", "allowances", "bands")
    equalised = sheet.flag("equalised")
    speed_rpm = _speed_rpm(sheet)
    tables = sheet.tables("bands")
    if not tables:
        raise ValueError("the sheet has no bands; write [[bands]] above the entries of each band")
    bands = tuple(_band(table) for table in tables)
    _refuse_same_names(bands)
    _refuse_out_of_order(bands)
    cutting_angle_deg = sheet.optional_number(
        "vertical_cutting_angle_deg", "22", lowest=0, highest=LARGEST_CUTTING_ANGLE_DEG
    )
    return BandSheet(equalised, speed_rpm, bands, cutting_angle_deg, read_allowances(sheet.table("allowances")))


def _speed_rpm(sheet: SheetTable) -> float:
    entry = sheet.entries.get("speed_rpm")
    if not isinstance(entry, str):
        return sheet.number("speed_rpm", '"33 1/3"', lowest=10, highest=100)
    try:
        speed_rpm = parse_number(entry)
    except ValueError as refusal:
        raise ValueError(f"the sheet, speed_rpm: {refusal}") from refusal
    return SheetTable(sheet.name, {"speed_rpm": speed_rpm}).number("speed_rpm", "45", lowest=10, highest=100)


def _band(table: SheetTable) -> Band:
    name = table.text("name", "3150 Hz, outer").strip()
    if not name or len(name) > LONGEST_NAME or not name.isprintable():
        raise ValueError(f"{table.name}, name: write 1 to {LONGEST_NAME} letters on one line")
    table = SheetTable(f"band {name!r}", table.entries)
    table.refuse_unknown(*BAND_KEYS, *SWEEP_KEYS)
    kind = cast(Kind, table.one_of("kind", get_args(Kind)))
    if kind != "sweep":
        _refuse_but_in_sweep(table, kind)
    start_mm, end_mm = table.numbers("radius_mm", 2, "[140, 135]", lowest=LOWEST_RADIUS_MM, highest=HIGHEST_RADIUS_MM)
    return Band(
        name=name,
        kind=kind,
        cut=_cut(table, kind),
        frequency_hz=_frequency_hz(table, kind),
        peak_velocity_cm_s=_peak_velocity_cm_s(table, kind),
        radius_mm=(start_mm, end_mm),
        start_s=table.optional_number("start_s", "12.5", lowest=0, highest=LONGEST_S),
        duration_s=table.optional_number("duration_s", "30", lowest=0.01, highest=LONGEST_S),
        evenly_in=cast(Pace, table.one_of("evenly_in", get_args(Pace))) if "evenly_in" in table.entries else "octaves",
        cut_with_equalisation=table.flag("cut_with_equalisation")
        if "cut_with_equalisation" in table.entries
        else False,
    )


def _cut(table: SheetTable, kind: Kind) -> Cut:
    if kind == "silence" and "cut" not in table.entries:
        return "lateral"
    return cast(Cut, table.one_of("cut", get_args(Cut)))


def _frequency_hz(table: SheetTable, kind: Kind) -> tuple[float, ...]:
    limits = {"lowest": LOWEST_FREQUENCY_HZ, "highest": HIGHEST_FREQUENCY_HZ}
    if kind == "silence":
        _refuse_in_silence(table, "frequency_hz")
        return ()
    if kind == "tone":
        return (table.number("frequency_hz", "3150", **limits),)
    example = "[60, 4000]" if kind == "two-tone" else "[20, 20000]"
    first, second = table.numbers("frequency_hz", 2, example, **limits)
    if first == second:
        raise ValueError(f"{table.name}, frequency_hz: both are {first:g} Hz; a {kind} needs two that differ")
    return (first, second)


def _peak_velocity_cm_s(table: SheetTable, kind: Kind) -> float | tuple[float, ...] | None:
    limits = {"lowest": LOWEST_VELOCITY_CM_S, "highest": HIGHEST_VELOCITY_CM_S}
    if kind == "silence":
        _refuse_in_silence(table, "peak_velocity_cm_s")
        return None
    if "peak_velocity_cm_s" not in table.entries:
        return None
    if kind == "two-tone":
        return table.numbers("peak_velocity_cm_s", 2, "[8.0, 2.0]", **limits)
    return table.number("peak_velocity_cm_s", "5.0", **limits)


def _refuse_but_in_sweep(table: SheetTable, kind: Kind) -> None:
    for key in SWEEP_KEYS:
        if key in table.entries:
            raise ValueError(f"{table.name}, {key}: only a sweep has one, and this is a {kind}; leave the line out")


def _refuse_in_silence(table: SheetTable, key: str) -> None:
    if key in table.entries:
        raise ValueError(f"{table.name}, {key}: a band of silence has none; leave the line out or give another kind")


def _refuse_same_names(bands: tuple[Band, ...]) -> None:
    seen: set[str] = set()
    for band in bands:
        if band.name in seen:
            raise ValueError(f"two bands are named {band.name!r}; give each a name of its own")
        seen.add(band.name)


def _refuse_out_of_order(bands: tuple[Band, ...]) -> None:
    earliest_s = 0.0
    for band in bands:
        start_s = earliest_s if band.start_s is None else band.start_s
        if start_s < earliest_s - 1e-6:
            raise ValueError(
                f"band {band.name!r}, start_s: {start_s:g} s comes before the end of the bands above it "
                f"({earliest_s:g} s); write the bands in the order in which they play"
            )
        earliest_s = start_s + (band.duration_s or 0.0)
