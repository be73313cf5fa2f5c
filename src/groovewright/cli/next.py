"""`groovewright next`: the one thing to do next on the deck of a job."""

from __future__ import annotations

import math
from pathlib import Path
from typing import TYPE_CHECKING

import click

from groovewright.cli.help_page import Command
from groovewright.cli.job_book import data_dir_option, job_numbered, open_job_book
from groovewright.cli.output import print_groups, print_json, probability_text
from groovewright.cli.refusal import refusing
from groovewright.cli.values import json_option

if TYPE_CHECKING:
    from groovewright.bench.moves.next_step import NextStep, ProposedMove


@click.command(name="next", cls=Command)
@click.argument("number", metavar="JOB", type=click.IntRange(min=1))
@data_dir_option(must_exist=True)
@json_option
def next_command(*, number: int, data_dir: Path | None, as_json: bool) -> None:
    """Say what to do next on the deck of a job: one move, or a reading that helps more, or that all is in tolerance.

    JOB is the job's number in the job book. A move stays within the headshell's limits and the maker's range of
    tracking force; what it disturbs and what must be read again after it stand beside it.

    For example:
      groovewright next 8
      groovewright next 8 --json
    """
    folder = open_job_book(data_dir)
    from groovewright.jobbook.job_record import job_record
    from groovewright.jobbook.job_states import next_step_of

    job = job_numbered(number, folder)
    with refusing(ValueError):
        found = next_step_of(job_record(job))
    if as_json:
        print_json({"job": job.number, **found.as_json()})
        return
    print_groups(f"Next on the deck of job {job.number}: {found.kind}", _groups(found), _notes(found))


def _groups(found: NextStep) -> list[tuple[str, list[tuple[str, str]]]]:
    rows = [("what to do", found.sentence)]
    if found.move is None:
        return [("", [*rows, ("all in tolerance as it stands", _probability(found.log_probability))])]
    move = found.move
    rows += [
        ("made for", _titles(move.serves)),
        ("read again after it", _titles(move.read_again)),
        ("all in tolerance now", _probability(move.log_probability_before)),
        ("all in tolerance after it", _probability(move.log_probability_after)),
    ]
    groups = [("", rows), ("Adjusters", _adjusters(move))]
    if move.disturbs:
        groups.append(("What it disturbs", [(_titles((one.key,)), f"it {one.text}") for one in move.disturbs]))
    return groups


def _adjusters(move: ProposedMove) -> list[tuple[str, str]]:
    from groovewright.tonearm.adjusters import ADJUSTER_TABLE

    amounts, hands = move.amounts.as_array(), move.hand.as_array()
    return [
        (one.positive, f"{amount:+.2f} {one.unit} (a hand is fine to {hand:.2f} {one.unit})")
        for one, amount, hand in zip(ADJUSTER_TABLE.values(), amounts, hands, strict=True)
        if amount
    ]


def _titles(keys: tuple[str, ...]) -> str:
    from groovewright.bench.estimate.settings import SETTINGS

    return ", ".join(SETTINGS[key].title.lower() for key in SETTINGS if key in keys) or "nothing"


def _probability(logarithm: float) -> str:
    return probability_text(math.exp(logarithm))


def _notes(found: NextStep) -> list[str]:
    caution = [] if found.move is None or not found.move.caution else [found.move.caution]
    return [*caution, *(fault for fault in found.faults if fault not in found.sentence), *found.notes]
