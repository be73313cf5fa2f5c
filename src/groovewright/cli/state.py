"""`groovewright state`: the seven settings of a job as found and as left, by all its readings together."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from groovewright.cli.help_page import Command
from groovewright.cli.job_book import data_dir_option, job_numbered, open_job_book
from groovewright.cli.output import print_groups, print_json, probability_text, quantity_text
from groovewright.cli.refusal import refusing
from groovewright.cli.values import json_option

if TYPE_CHECKING:
    from groovewright.bench.estimate.job_state import JobState
    from groovewright.bench.estimate.setting_state import SettingState

MAX_SHARES = 3
"""Readings named for one setting; --json has all."""


@click.command(cls=Command)
@click.argument("number", metavar="JOB", type=click.IntRange(min=1))
@data_dir_option(must_exist=True)
@json_option
def state(*, number: int, data_dir: Path | None, as_json: bool) -> None:
    """Show the seven settings of a job as found and as left, each with its uncertainty and verdict.

    JOB is the job's number in the job book. All readings count in one estimate. A setting that a move has touched since
    it was read is calculated, and never in tolerance until it is read again. Readings that disagree are named.

    For example:
      groovewright state 8
      groovewright state 8 --json
    """
    folder = open_job_book(data_dir)
    from groovewright.jobbook.job_record import job_record
    from groovewright.jobbook.job_states import judged_job

    job = job_numbered(number, folder)
    with refusing(ValueError):
        judged = judged_job(job_record(job))
    found, rule = judged.state, judged.bench.inputs.rule.describe()
    if as_json:
        print_json({"job": job.number, **found.as_json(), "rule": rule})
        return
    print_groups(f"The deck of job {job.number}", _groups(found, rule), _notes(found))


def _groups(found: JobState, rule: str) -> list[tuple[str, list[tuple[str, str]]]]:
    named = [(_title(setting), setting) for setting in found.now.settings]
    read = [(title, setting) for title, setting in named if setting.quantity is not None]
    together = [
        ("that all seven are in tolerance", probability_text(found.now.probability_all_conform)),
        ("rule of the verdicts", rule),
    ]
    groups = [("As found", [(_title(setting), _verdict(setting)) for setting in found.as_found.settings])]
    if found.as_left is None:
        groups.append(("As left", [("", "nothing was moved or read as left yet")]))
    else:
        groups.append(("As left", [(title, _verdict(setting)) for title, setting in named]))
    return [
        *groups,
        ("Aim and limits", [(title, _limits(setting)) for title, setting in named]),
        ("Based on", [(title, _based_on(setting)) for title, setting in read]),
        ("What dominates the uncertainty", [(title, _dominated(setting)) for title, setting in read]),
        ("What would help most", [(title, setting.helps_most) for title, setting in named if setting.helps_most]),
        ("Chance", together),
    ]


def _title(setting: SettingState) -> str:
    from groovewright.bench.estimate.settings import SETTINGS

    of = {"effective_length": "effective length, error", "zenith": "zenith error"}
    return of.get(setting.key, SETTINGS[setting.key].title.lower())


def _verdict(setting: SettingState) -> str:
    if setting.quantity is None:
        return setting.basis
    words = [quantity_text(setting.quantity)]
    if setting.verdict is None:
        words.append("no limits, so no verdict")
    else:
        probability = probability_text(setting.verdict.probability_of_conformity)
        words.append(f"{setting.verdict.outcome} (chance that it is within limits {probability})")
    if setting.basis == "calculated":
        words.append("calculated, to be read again")
    return ": ".join(words[:2]) + "".join(f", {word}" for word in words[2:])


def _limits(setting: SettingState) -> str:
    from groovewright.bench.estimate.settings import SETTINGS
    from groovewright.measurement.formatting import format_chosen
    from groovewright.measurement.units import printed_unit

    kept = SETTINGS[setting.key].unit
    shown = "g" if kept == "mN" else kept
    unit = printed_unit(shown)
    aim = "no aim" if setting.aim is None else f"aim {format_chosen(setting.aim, kept, shown_unit=shown)}"
    limits = setting.tolerance
    if limits is None:
        return f"{aim}{'' if setting.aim is None else f' {unit}'}, no limits"
    low, high = (
        None if end is None else format_chosen(end, kept, shown_unit=shown) for end in (limits.lower, limits.upper)
    )
    if low is None or high is None:
        return f"{aim}, at {'most' if low is None else 'least'} {low or high} {unit}"
    return f"{aim}, {low} to {high} {unit}"


def _based_on(setting: SettingState) -> str:
    return "; ".join(f"{share.label} ({share.share:.0%})" for share in setting.based_on[:MAX_SHARES]) or "nothing"


def _dominated(setting: SettingState) -> str:
    if not setting.dominated_by:
        return "nothing"
    return f"{setting.dominated_by} ({setting.dominating_share:.0%} of the variance)"


def _notes(found: JobState) -> list[str]:
    now = found.now
    reasons = [f"{_title(setting)}: {setting.reason}" for setting in now.settings if setting.reason]
    disagreements = [one.sentence for one in now.disagreements]
    if found.as_left is not None:
        disagreements += [
            f"As found: {one.sentence}" for one in found.as_found.disagreements if one.sentence not in disagreements
        ]
    return [*disagreements, *(f"Fault: {fault}" for fault in now.faults), *reasons, *now.notes]
