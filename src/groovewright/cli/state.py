"""`groovewright state`: how the deck of a job stands by all its readings together."""

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
    from groovewright.bench.estimate.deck_state import BenchState
    from groovewright.bench.estimate.setting_state import SettingState

MOST_SHARES = 3
"""Readings named for one setting; --json has all."""


@click.command(cls=Command)
@click.argument("number", metavar="JOB", type=click.IntRange(min=1))
@data_dir_option(must_exist=True)
@json_option
def state(*, number: int, data_dir: Path | None, as_json: bool) -> None:
    """Say how the deck of a job stands: all its readings in one estimate of the seven settings, each with its verdict.

    JOB is the job's number in the job book. A reading that was made before a move is carried over it; what must be
    read again since is named, with what each setting rests on and which further reading would help most.

    For example:
      groovewright state 8
      groovewright state 8 --json
    """
    folder = open_job_book(data_dir)
    from groovewright.jobbook.bench_states import standing_deck
    from groovewright.jobbook.job_record import job_record

    job = job_numbered(number, folder)
    with refusing(ValueError):
        deck = standing_deck(job_record(job))
    found, rule = deck.state, deck.bench.inputs.rule.describe()
    if as_json:
        print_json({"job": job.number, **found.as_json(), "rule": rule})
        return
    print_groups(f"How the deck of job {job.number} stands", _groups(found, rule), _notes(found))


def _groups(found: BenchState, rule: str) -> list[tuple[str, list[tuple[str, str]]]]:
    named = [(_title(setting), setting) for setting in found.settings]
    read = [(title, setting) for title, setting in named if setting.quantity is not None]
    together = [
        ("that all seven are in tolerance", probability_text(found.probability_all_conform)),
        ("rule of the verdicts", rule),
    ]
    return [
        ("", [(title, _verdict(setting)) for title, setting in named]),
        ("Aim and limits", [(title, _limits(setting)) for title, setting in named]),
        ("What it rests on", [(title, _rests_on(setting)) for title, setting in read]),
        ("What dominates the uncertainty", [(title, _dominated(setting)) for title, setting in read]),
        ("What would help most", [(title, setting.helps_most) for title, setting in named if setting.helps_most]),
        ("Probability", together),
    ]


def _title(setting: SettingState) -> str:
    from groovewright.bench.estimate.settings import SETTINGS

    of = {"effective_length": "effective length, error", "zenith": "zenith error"}
    return of.get(setting.key, SETTINGS[setting.key].title.lower())


def _verdict(setting: SettingState) -> str:
    if setting.quantity is None:
        return "not read"
    words = [quantity_text(setting.quantity)]
    if setting.verdict is None:
        words.append("no limits, so no verdict")
    else:
        probability = probability_text(setting.verdict.probability_of_conformity)
        words.append(f"{setting.verdict.outcome} (probability {probability})")
    if setting.stale:
        words.append("to be read again")
    return ": ".join(words[:2]) + "".join(f", {word}" for word in words[2:])


def _limits(setting: SettingState) -> str:
    from groovewright.bench.estimate.settings import SETTINGS
    from groovewright.measurement.units import GRAM_FORCE_MN, printed_unit

    unit, scale = printed_unit(SETTINGS[setting.key].unit), 1.0
    if SETTINGS[setting.key].unit == "mN":
        unit, scale = "g", GRAM_FORCE_MN
    aim = "no aim" if setting.aim is None else f"aim {setting.aim / scale:.4g}"
    limits = setting.tolerance
    if limits is None:
        return f"{aim}{'' if setting.aim is None else f' {unit}'}, no limits"
    low, high = (None if end is None else f"{end / scale:.4g}" for end in (limits.lower, limits.upper))
    if low is None or high is None:
        return f"{aim}, at {'most' if low is None else 'least'} {low or high} {unit}"
    return f"{aim}, {low} to {high} {unit}"


def _rests_on(setting: SettingState) -> str:
    return "; ".join(f"{share.label} ({share.share:.0%})" for share in setting.rests_on[:MOST_SHARES]) or "nothing"


def _dominated(setting: SettingState) -> str:
    if not setting.dominated_by:
        return "nothing"
    return f"{setting.dominated_by} ({setting.dominating_share:.0%} of the variance)"


def _notes(found: BenchState) -> list[str]:
    stale = [f"To be read again: {_title(s)}. {s.why_stale}" for s in found.settings if s.why_stale]
    return [*found.outliers, *stale, *found.notes]
