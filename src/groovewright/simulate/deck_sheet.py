"""A deck sheet: the truth of a deck, written down as one TOML file.

The form is described in the guide (deck-sheet) and shown by the example that comes with the command.
"""

from __future__ import annotations

from typing import Any, cast

from groovewright.measurement.parsing import parse_quantity
from groovewright.simulate.deck import HumLine, PlatterSine, Resonance, Rumble, SpeedSine, TrueDeck
from groovewright.simulate.rough import EVENT_KINDS, WIRINGS, Event, EventKind, Rough, Wiring
from groovewright.testtone.sheet.sheet_table import SheetTable, sheet_table
from groovewright.tonearm.geometry import Geometry, geometry_from_nulls

MOST_SINES = 64
"""Sines of speed, and lines of hum, that a deck sheet may hold of each kind."""

MOST_EVENTS = 100
"""Skips, dropouts and the like in one recording; far more than a side that is worth measuring has."""

_TIME_CONSTANTS = ("equalisation_left_percent", "equalisation_right_percent")

_NOTHING = SheetTable("", {})


def read_deck(toml_text: str) -> TrueDeck:
    """Return the deck that the text of a deck sheet describes; the guide (deck-sheet) has every entry.

    Raises
    ------
    ValueError
        One sentence that names the table and the key, and says what would be right.
    """
    sheet = sheet_table(toml_text, "a deck sheet")
    sheet.refuse_unknown("arm", "generator", "platter", "mistracking", "noise", "hum", "rough", "event")
    entries = {
        **_arm(sheet.table("arm") or _NOTHING),
        **_generator(sheet.table("generator") or _NOTHING),
        **_platter(sheet.table("platter") or _NOTHING),
        **_mistracking(sheet.table("mistracking") or _NOTHING),
        **_noise(sheet.table("noise") or _NOTHING),
        "hum": tuple(_hum_line(table) for table in sheet.tables("hum", most=MOST_SINES)),
        "rough": _rough(sheet.table("rough") or _NOTHING, sheet.tables("event", most=MOST_EVENTS)),
    }
    return TrueDeck(**entries)


def _arm(table: SheetTable) -> dict[str, Any]:
    table.refuse_unknown(
        "pivot_to_spindle",
        "null_radii",
        "effective_length",
        "offset_angle",
        "effective_length_error",
        "zenith_error",
        "vertical_tracking_angle_error",
        "vertical_cutting_angle",
        "stylus_follows_arc",
        "resonance_lateral",
        "resonance_vertical",
    )
    found: dict[str, Any] = {
        "geometry": _geometry(table),
        "effective_length_error_mm": _value(table, "effective_length_error", "length", "0.6 mm", 50.0),
        "zenith_error_deg": _value(table, "zenith_error", "angle", "-0.5 deg", 20.0),
        "vertical_tracking_angle_error_deg": _value(table, "vertical_tracking_angle_error", "angle", "3 deg", 30.0),
        "resonance_lateral": _resonance(table, "resonance_lateral"),
        "resonance_vertical": _resonance(table, "resonance_vertical"),
    }
    if "vertical_cutting_angle" in table.entries:
        found["vertical_cutting_angle_deg"] = _value(table, "vertical_cutting_angle", "angle", "22 deg", 90.0)
    if "stylus_follows_arc" in table.entries:
        found["stylus_follows_arc"] = table.flag("stylus_follows_arc")
    if found["geometry"] is None and set(table.entries) & {
        "effective_length_error",
        "zenith_error",
        "stylus_follows_arc",
    }:
        raise ValueError("[arm] lacks 'pivot_to_spindle', without which a length or zenith error has no meaning")
    return found


def _geometry(table: SheetTable) -> Geometry | None:
    by_lengths = [key for key in ("effective_length", "offset_angle") if key in table.entries]
    by_nulls = "null_radii" in table.entries
    if "pivot_to_spindle" not in table.entries:
        if by_nulls or by_lengths:
            raise ValueError("[arm] lacks 'pivot_to_spindle'; write pivot_to_spindle = '222 mm'")
        return None
    if by_nulls == bool(by_lengths) or len(by_lengths) == 1:
        raise ValueError("[arm]: beside pivot_to_spindle give either null_radii, or effective_length and offset_angle")
    pivot_mm = _above_zero(table, "pivot_to_spindle", "length", "222 mm", 1000.0)
    if not by_nulls:
        length_mm = _above_zero(table, "effective_length", "length", "239.3 mm", 1000.0)
        return Geometry(pivot_mm, length_mm, _value(table, "offset_angle", "angle", "23 deg", 80.0))
    texts = table.entries["null_radii"]
    if not isinstance(texts, list) or len(texts) != 2:
        raise ValueError("[arm], null_radii: write a list of two, such as null_radii = ['66.0 mm', '120.9 mm']")
    inner_mm, outer_mm = (
        _above_zero(SheetTable("[arm]", {"null_radii": text}), "null_radii", "length", "66.0 mm", 250.0)
        for text in texts
    )
    return geometry_from_nulls(pivot_to_spindle_mm=pivot_mm, null_radii_mm=(inner_mm, outer_mm))


def _resonance(arm: SheetTable, key: str) -> Resonance | None:
    table = arm.table(key)
    if table is None:
        return None
    table.refuse_unknown("frequency", "q")
    return Resonance(
        _above_zero(table, "frequency", "frequency", "9.5 Hz", 100.0), table.number("q", "2.5", lowest=0.1, highest=100)
    )


def _generator(table: SheetTable) -> dict[str, Any]:
    table.refuse_unknown(
        "azimuth_rotation", "leak_db", "gains_db", "polarity", "second_harmonic", "third_harmonic", "level_dbfs"
    )
    found: dict[str, Any] = {
        "azimuth_rotation_deg": _value(table, "azimuth_rotation", "angle", "1.2 deg", 45.0),
        "leak_db": table.optional_number("leak_db", "-34", lowest=-150, highest=-3),
        "second_harmonic_percent": _value(table, "second_harmonic", "ratio", "0.2 %", 20.0),
        "third_harmonic_percent": _value(table, "third_harmonic", "ratio", "0.1 %", 20.0),
    }
    if "gains_db" in table.entries:
        found["channel_gains_db"] = table.numbers("gains_db", 2, "[0.0, -0.4]", lowest=-60, highest=60)
    if "polarity" in table.entries:
        found["polarity"] = tuple(int(sign) for sign in table.numbers("polarity", 2, "[1, -1]", lowest=-1, highest=1))
    if "level_dbfs" in table.entries:
        found["level_dbfs"] = table.number("level_dbfs", "-14", lowest=-100, highest=60)
    return found


def _platter(table: SheetTable) -> dict[str, Any]:
    table.refuse_unknown(
        "speed_error", "drift_percent_per_minute", "eccentricity", "eccentricity_phase", "flutter", "locked"
    )
    drift = table.optional_number("drift_percent_per_minute", "0.002", lowest=-1, highest=1)
    return {
        "speed_error_percent": _value(table, "speed_error", "ratio", "0.12 %", 20.0),
        "drift_percent_per_minute": drift or 0.0,
        "eccentricity_mm": _value(table, "eccentricity", "length", "0.15 mm", 5.0),
        "eccentricity_phase_deg": _value(table, "eccentricity_phase", "angle", "40 deg", 360.0),
        "flutter": tuple(_speed_sine(sine) for sine in table.tables("flutter", most=MOST_SINES)),
        "platter_flutter": tuple(_platter_sine(sine) for sine in table.tables("locked", most=MOST_SINES)),
    }


def _speed_sine(table: SheetTable) -> SpeedSine:
    table.refuse_unknown("frequency", "peak", "phase")
    return SpeedSine(
        _above_zero(table, "frequency", "frequency", "6.3 Hz", 1000.0),
        _above_zero(table, "peak", "ratio", "0.03 %", 10.0),
        _value(table, "phase", "angle", "0 deg", 360.0),
    )


def _platter_sine(table: SheetTable) -> PlatterSine:
    table.refuse_unknown("cycles_per_turn", "peak", "phase")
    cycles = table.number("cycles_per_turn", "4", lowest=1, highest=1000)
    if cycles != int(cycles):
        raise ValueError(f"{table.name}, cycles_per_turn: {cycles:g} is not whole; write a whole number such as 4")
    return PlatterSine(
        int(cycles),
        _above_zero(table, "peak", "ratio", "0.03 %", 10.0),
        _value(table, "phase", "angle", "0 deg", 360.0),
    )


def _mistracking(table: SheetTable) -> dict[str, Any]:
    table.refuse_unknown("left", "right")
    left, right = (
        _above_zero(table, key, "velocity", "9 cm/s", 1000.0) if key in table.entries else None
        for key in ("left", "right")
    )
    return {"mistracking_cm_s": (left, right)}


def _noise(table: SheetTable) -> dict[str, Any]:
    rumble_levels, rumble_corners = (
        ("rumble_lateral_db", "rumble_vertical_db"),
        ("rumble_low_corner", "rumble_high_corner"),
    )
    table.refuse_unknown(
        *rumble_levels, *rumble_corners, "surface_db", "recorder_dbfs", "clicks_per_minute", "click_velocity"
    )
    found: dict[str, Any] = {
        "surface_noise_db": table.optional_number("surface_db", "-58", lowest=-200, highest=20),
        "recorder_noise_dbfs": table.optional_number("recorder_dbfs", "-92", lowest=-200, highest=0),
        "clicks_per_minute": table.optional_number("clicks_per_minute", "6", lowest=0, highest=60_000) or 0.0,
    }
    if "click_velocity" in table.entries:
        found["click_velocity_cm_s"] = _above_zero(table, "click_velocity", "velocity", "20 cm/s", 1000.0)
    if set(table.entries) & {*rumble_levels, *rumble_corners}:
        found["rumble"] = _rumble(table)
    return found


def _rumble(table: SheetTable) -> Rumble:
    low_hz, high_hz = Rumble.low_corner_hz, Rumble.high_corner_hz
    if "rumble_low_corner" in table.entries:
        low_hz = _above_zero(table, "rumble_low_corner", "frequency", "2 Hz", 1000.0)
    if "rumble_high_corner" in table.entries:
        high_hz = _above_zero(table, "rumble_high_corner", "frequency", "30 Hz", 1000.0)
    return Rumble(
        table.optional_number("rumble_lateral_db", "-50", lowest=-200, highest=20),
        table.optional_number("rumble_vertical_db", "-46", lowest=-200, highest=20),
        low_hz,
        high_hz,
    )


def _hum_line(table: SheetTable) -> HumLine:
    table.refuse_unknown("frequency", "level_dbfs", "phase")
    return HumLine(
        _above_zero(table, "frequency", "frequency", "50 Hz", 5000.0),
        table.number("level_dbfs", "-74", lowest=-200, highest=0),
        _value(table, "phase", "angle", "0 deg", 360.0),
    )


def _rough(table: SheetTable, events: list[SheetTable]) -> Rough | None:
    if not table.entries and not events:
        return None
    table.refuse_unknown(
        *_TIME_CONSTANTS,
        "subsonic",
        "subsonic_order",
        "tip_radius",
        "cut_azimuth",
        "cut_level_db",
        "cut_balance_db",
        "cut_scatter_db",
        "cut_flutter",
        "unsteady_flutter",
        "clock_error_ppm",
        "warp",
        "warp_cycles_per_turn",
        "warp_lever",
        "wiring",
        "clip_at",
        "gain_after_db",
    )
    left, right = (_time_constants(table, key) for key in _TIME_CONSTANTS)
    return Rough(
        equalisation_left_percent=left,
        equalisation_right_percent=right,
        subsonic_hz=_above_zero(table, "subsonic", "frequency", "20 Hz", 100.0)
        if "subsonic" in table.entries
        else None,
        subsonic_order=_whole(table, "subsonic_order", 1, 2, default=1),
        tip_radius_um=1000 * _value(table, "tip_radius", "length", "0.018 mm", 0.1),
        cut_azimuth_deg=_value(table, "cut_azimuth", "angle", "0.5 deg", 10.0),
        cut_level_db=_plain(table, "cut_level_db", 20.0),
        cut_balance_db=_plain(table, "cut_balance_db", 20.0),
        cut_scatter_db=_plain(table, "cut_scatter_db", 20.0, lowest=0.0),
        cut_flutter_percent=_value(table, "cut_flutter", "ratio", "0.02 %", 5.0),
        unsteady_flutter_percent=_value(table, "unsteady_flutter", "ratio", "0.05 %", 5.0),
        clock_error_ppm=_plain(table, "clock_error_ppm", 10_000.0),
        warp_mm=_value(table, "warp", "length", "0.3 mm", 5.0),
        warp_cycles_per_turn=_whole(table, "warp_cycles_per_turn", 1, 16, default=1),
        warp_lever=_plain(table, "warp_lever", 1.0, default=Rough.warp_lever),
        wiring=cast(Wiring, table.one_of("wiring", WIRINGS)) if "wiring" in table.entries else "right",
        clip_at=table.optional_number("clip_at", "0.5", lowest=0.001, highest=1),
        gain_after_db=_plain(table, "gain_after_db", 60.0),
        events=tuple(_event(event) for event in events),
    )


def _time_constants(table: SheetTable, key: str) -> tuple[float, float, float]:
    if key not in table.entries:
        return 0.0, 0.0, 0.0
    bass, middle, treble = table.numbers(key, 3, "[1.5, -2.0, 0.8]", lowest=-50, highest=50)
    return bass, middle, treble


def _event(table: SheetTable) -> Event:
    table.refuse_unknown("kind", "at_s", "size", "lasts_s")
    kind = cast(EventKind, table.one_of("kind", EVENT_KINDS))
    size = table.number("size", "1", lowest=-20, highest=20)
    if kind in ("skip", "locked groove") and (size != int(size) or (kind == "locked groove" and size < 1)):
        raise ValueError(f"{table.name}, size: a {kind} is a whole number of turns; write 1")
    lasts_s = table.optional_number("lasts_s", "0.05", lowest=0.001, highest=10)
    at_s = table.number("at_s", "12.5", lowest=0, highest=86_400)
    return Event(kind, at_s, size) if lasts_s is None else Event(kind, at_s, size, lasts_s)


def _plain(table: SheetTable, key: str, largest: float, *, lowest: float | None = None, default: float = 0.0) -> float:
    found = table.optional_number(key, "0.3", lowest=-largest if lowest is None else lowest, highest=largest)
    return default if found is None else found


def _whole(table: SheetTable, key: str, lowest: int, highest: int, *, default: int) -> int:
    found = table.optional_number(key, str(default), lowest=lowest, highest=highest)
    if found is not None and found != int(found):
        raise ValueError(f"{table.name}, {key}: {found:g} is not whole; write a whole number such as {default}")
    return default if found is None else int(found)


def _above_zero(table: SheetTable, key: str, kind: str, example: str, largest: float) -> float:
    table.text(key, example)
    value = _value(table, key, kind, example, largest)
    if not value > 0:
        raise ValueError(f"{table.name}, {key}: {table.entries[key]!r} must be above 0, such as {example!r}")
    return value


def _value(table: SheetTable, key: str, kind: str, example: str, largest: float) -> float:
    """Return what a text with its unit says, in the canonical unit of its kind; 0 where it is left out."""
    if key not in table.entries:
        return 0.0
    text = table.text(key, example)
    try:
        quantity = parse_quantity(text, kind, source=key, example=example)
    except ValueError as refusal:
        raise ValueError(f"{table.name}, {key}: {refusal}") from refusal
    if quantity.standard_uncertainty is not None:
        raise ValueError(f"{table.name}, {key}: the truth has no uncertainty; write {example!r}, without ±")
    if abs(quantity.value) > largest:
        raise ValueError(f"{table.name}, {key}: {text!r} is beyond {largest:g} {quantity.unit}")
    return quantity.value
