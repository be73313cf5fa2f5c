"""`groovewright force`: the tracking force from a sheet of readings."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from groovewright.cli.help_page import Command
from groovewright.cli.output import print_json, print_table, probability_text, quantity_json, quantity_text
from groovewright.cli.refusal import refusing
from groovewright.cli.values import json_option

if TYPE_CHECKING:
    from groovewright.bench.forces.force import ForceResult
    from groovewright.measurement.conformity import DecisionRule


@click.command(cls=Command)
@click.argument("sheet", metavar="FILE.toml", type=click.Path(path_type=Path))
@json_option
def force(*, sheet: Path, as_json: bool) -> None:
    """Give the tracking force at record height, with its verdict, from a sheet of weights and readings.

    The sheet is a TOML file with the scale, its check weights and what they showed, the readings of the stylus and
    where they were taken, and the maker's range. docs/guide/force-sheet.md describes every entry.

    For example:
      groovewright force readings.toml
    with no more than this in readings.toml:
      [scale]
      name = "Scale 2"
      resolution = "0.01 g"
      [[weights]]
      name = "2 g"
      nominal = "2 g"
      class = "M1"
      [[check_before.loads]]
      weights = []
      indications = ["0.00 g", "0.00 g"]
      [[check_before.loads]]
      weights = ["2 g"]
      indications = ["2.01 g", "2.01 g", "2.00 g"]
      [[readings]]
      place = "outer"
      at_record_height = true
      indications = ["1.86 g", "1.85 g"]
      [maker]
      minimum = "1.6 g"
      maximum = "2.0 g"
    """
    from groovewright.bench.forces.force import force_result
    from groovewright.files.force_sheet import load_force_sheet

    with refusing(ValueError):
        read = load_force_sheet(sheet)
    with refusing(ValueError):
        result = force_result(read.session, read.rule)
    if as_json:
        print_json(_found(result, read.rule))
        return
    title = "Tracking force at record height"
    print_table(title, _rows(result), (*(f"Fault: {fault}" for fault in result.faults), *result.notes))


def _found(result: ForceResult, rule: DecisionRule) -> dict[str, object]:
    verdict = result.verdict
    return {
        "scale_gain": quantity_json(result.scale_gain),
        "scale_offset": quantity_json(result.scale_offset),
        "tracking_force": quantity_json(result.tracking_force),
        "outer_inner_difference": quantity_json(result.outer_inner_difference),
        "aim": quantity_json(result.aim),
        "distance_from_aim": quantity_json(result.distance_from_aim),
        "height_slope": quantity_json(result.height_slope),
        "verdict": None if verdict is None else verdict.outcome,
        "probability_of_conformity": None if verdict is None else verdict.probability_of_conformity,
        "reason": None if verdict is None else verdict.reason,
        "rule": rule.describe(),
        "faults": list(result.faults),
        "notes": list(result.notes),
    }


def _rows(result: ForceResult) -> list[tuple[str, str]]:
    rows = [
        ("scale gain", quantity_text(result.scale_gain)),
        ("scale offset", quantity_text(result.scale_offset)),
        ("tracking force", quantity_text(result.tracking_force)),
        ("outer minus inner", quantity_text(result.outer_inner_difference)),
        ("aim, the middle of the range", quantity_text(result.aim)),
    ]
    if result.verdict is None:
        return [*rows, ("verdict", "none, as no maker's range is given")]
    return [
        *rows,
        ("verdict", result.verdict.outcome),
        ("probability of conformity", probability_text(result.verdict.probability_of_conformity)),
        ("why", result.verdict.reason),
        ("rule", result.verdict.rule.describe()),
    ]
