"""A chain sheet: a gauge with its joints, written down as one TOML file.

The form is described in the guide (gauge-chains) and shown by the example that comes with the command.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any, cast, get_args

from groovewright.files.sheet_file import load_sheet
from groovewright.gauges.gauge_chain import (
    DIMENSIONS,
    DISTRIBUTIONS,
    FEWEST_PLACES,
    MOST_JOINTS,
    MOST_PLACES,
    SETS_BY,
    BearsOn,
    DistributionName,
    GaugeChain,
    GivenAs,
    Joint,
    Mark,
    SetsBy,
    joint_of,
)
from groovewright.measurement.parsing import parse_quantity
from groovewright.testtone.sheet.sheet_table import SheetTable, sheet_table

KINDS_OF_UNITS = {"mm": "length", "deg": "angle", "%": "ratio"}
EXAMPLES = {"mm": "0.1 mm", "deg": "0.2 deg", "%": "0.1 %"}
LARGEST = {"mm": 50.0, "deg": 45.0, "%": 20.0}
"""Of a play, by its unit: more was meant in another unit."""

LONGEST_NAME, LONGEST_ABOUT = 80, 500
PLAY_KEYS: dict[str, GivenAs] = {
    "clearance": "clearance",
    "tolerance": "tolerance",
    "standard_uncertainty": "standard uncertainty",
}
JOINT_KEYS = ("name", *PLAY_KEYS, "distribution", "bears_on", "sensitivity", "lever", "known_error")


def load_chain_sheet(path: Path) -> GaugeChain:
    """Return the gauge that a chain sheet file describes.

    Raises
    ------
    ValueError
        If it cannot be read or says something impossible: one sentence that names the file, the table and the key.
    """
    return load_sheet(path, read_chain_sheet, what="a chain sheet")


def read_chain_sheet(text: str) -> GaugeChain:
    """Return the gauge that the text of a chain sheet describes.

    Raises
    ------
    ValueError
        One sentence that names the table and the key, and says what would be right.
    """
    sheet = sheet_table(text, "a chain sheet")
    sheet.refuse_unknown("name", "about", "sets_by", "mark", "places", "joints")
    sets_by = cast(SetsBy, sheet.one_of("sets_by", tuple(SETS_BY)))
    options: dict[str, Any] = {}
    if "mark" in sheet.entries:
        options["mark"] = _mark(sheet)
    if "about" in sheet.entries:
        options["about"] = _short(sheet, "about", "One sentence on what it is.", LONGEST_ABOUT)
    if "places" in sheet.entries:
        options["places"] = _places(sheet, sets_by)
    tables = sheet.tables("joints", most=MOST_JOINTS)
    if not tables:
        raise ValueError(
            "the sheet lacks joints: write [[joints]] for each, with its name, clearance and bears_on below it"
        )
    joints = tuple(_joint(table) for table in tables)
    return GaugeChain(_short(sheet, "name", "Beam", LONGEST_NAME), sets_by, joints, **options)


def _places(sheet: SheetTable, sets_by: SetsBy) -> int:
    if sets_by != "trace":
        raise ValueError(
            f"the sheet, places: only a trace has them, and this gauge sets by {sets_by!r}; leave them out"
        )
    places = sheet.number("places", "9", lowest=FEWEST_PLACES, highest=MOST_PLACES)
    if places != int(places):
        raise ValueError(f"the sheet, places: write a whole number, not {places:g}")
    return int(places)


def _short(table: SheetTable, key: str, example: str, longest: int) -> str:
    text = table.text(key, example).strip()
    if not text:
        raise ValueError(f"{table.name}, {key}: the text is empty; write one such as {example!r}")
    if len(text) > longest:
        raise ValueError(f"{table.name}, {key}: the text has {len(text)} characters; at most {longest} are taken")
    return text


def _mark(sheet: SheetTable) -> Mark | float:
    text = sheet.text("mark", "outer null")
    if text in get_args(Mark):
        return cast(Mark, text)
    words = f"write {', '.join(get_args(Mark))} or a groove radius such as 120.9 mm"
    try:
        radius = parse_quantity(text, "length", source="mark", example="120.9 mm")
    except ValueError as refusal:
        raise ValueError(f"the sheet, mark: {text[:60]!r} is no mark; {words}") from refusal
    if radius.components is not None or not 0 < radius.value <= 1000:
        raise ValueError(f"the sheet, mark: {text[:60]!r} is no mark; {words}, without an uncertainty")
    return radius.value


def _joint(table: SheetTable) -> Joint:
    table.refuse_unknown(*JOINT_KEYS)
    name = _short(table, "name", "bush on the spindle", LONGEST_NAME)
    bears_on = cast(BearsOn, table.one_of("bears_on", tuple(DIMENSIONS)))
    options: dict[str, Any] = {}
    unit = DIMENSIONS[bears_on].unit
    if "lever" in table.entries:
        if unit != "deg":
            raise ValueError(f"{table.name}, lever: it turns a length into an angle, and {bears_on} is no angle")
        options["lever_mm"] = _amount(table, "lever", "mm", "30 mm", lowest=0.1, highest=2000.0)
        unit = "mm"
    key, given_as = _play_key(table)
    amount = _amount(table, key, unit, EXAMPLES[unit], lowest=0.0, highest=LARGEST[unit])
    if "sensitivity" in table.entries:
        options["sensitivity"] = table.number("sensitivity", "1", lowest=-1000, highest=1000)
    if "known_error" in table.entries:
        limit = LARGEST[unit]
        options["nominal"] = _amount(table, "known_error", unit, EXAMPLES[unit], lowest=-limit, highest=limit)
    usual: DistributionName = "normal" if given_as == "standard uncertainty" else "rectangular"
    distribution = table.one_of("distribution", DISTRIBUTIONS) if "distribution" in table.entries else usual
    try:
        return joint_of(
            name, amount, bears_on, given_as=given_as, distribution=cast(DistributionName, distribution), **options
        )
    except ValueError as refusal:
        raise ValueError(f"{table.name}: {refusal}") from refusal


def _play_key(table: SheetTable) -> tuple[str, GivenAs]:
    given = [key for key in PLAY_KEYS if key in table.entries]
    if len(given) != 1:
        which = f"has {' and '.join(given)}" if given else "has no play"
        raise ValueError(
            f"{table.name} {which}; write one of clearance (hole less pin), tolerance (either way) or "
            "standard_uncertainty, such as clearance = '0.1 mm'"
        )
    return given[0], PLAY_KEYS[given[0]]


def _amount(table: SheetTable, key: str, unit: str, example: str, *, lowest: float, highest: float) -> float:
    text = table.text(key, example)
    try:
        quantity = parse_quantity(text, KINDS_OF_UNITS[unit], source=key, example=example)
    except ValueError as refusal:
        raise ValueError(f"{table.name}, {key}: {refusal}") from refusal
    if quantity.components is not None:
        raise ValueError(f"{table.name}, {key}: write {text!r} without its ±; it is itself how far off things may be")
    if not lowest <= quantity.value <= highest:
        raise ValueError(f"{table.name}, {key}: {text} is outside {lowest:g} to {highest:g} {unit}")
    return quantity.value


def chain_sheet_text(chain: GaugeChain) -> str:
    """Return a chain sheet that reads back as this gauge.

    >>> from groovewright.gauges.ready_chains import READY_CHAINS
    >>> beam = READY_CHAINS["beam"]
    >>> read_chain_sheet(chain_sheet_text(beam)) == beam
    True
    """
    lines = [f"name = {_quoted(chain.name)}"]
    if chain.about:
        lines.append(f"about = {_quoted(chain.about)}")
    lines.append(f"sets_by = {_quoted(chain.sets_by)}")
    if chain.sets_by != "two nulls":
        mark = chain.mark if isinstance(chain.mark, str) else f"{chain.mark!r} mm"
        lines.append(f"mark = {_quoted(mark)}")
    if chain.sets_by == "trace":
        lines.append(f"places = {chain.places}")
    for joint in chain.joints:
        lines += ["", "[[joints]]", *_joint_lines(joint)]
    return "\n".join(lines) + "\n"


def _joint_lines(joint: Joint) -> list[str]:
    key = joint.given_as.replace(" ", "_")
    lines = [
        f"name = {_quoted(joint.name)}",
        f"{key} = {_quoted(f'{joint.amount:.12g} {joint.unit}')}",
        f"distribution = {_quoted(joint.distribution)}",
        f"bears_on = {_quoted(joint.bears_on)}",
    ]
    if joint.lever_mm is not None:
        lines.append(f"lever = {_quoted(f'{joint.lever_mm:.12g} mm')}")
    if joint.sensitivity != 1:
        lines.append(f"sensitivity = {joint.sensitivity!r}")
    if joint.nominal:
        lines.append(f"known_error = {_quoted(f'{joint.nominal:.12g} {joint.unit}')}")
    return lines


def _quoted(text: str) -> str:
    # A TOML basic string escapes as a JSON string does, but for the one control character that JSON leaves as it is.
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")
