"""`groovewright job verify`: whether the job book is as it was written."""

from __future__ import annotations

from pathlib import Path

import click

from groovewright.cli.help_page import Command
from groovewright.cli.job_book import data_dir_option, open_job_book
from groovewright.cli.output import print_json, print_table
from groovewright.cli.values import json_option

BROKEN = 1


@click.command(cls=Command)
@data_dir_option(must_exist=True)
@json_option
@click.pass_context
def verify(context: click.Context, *, data_dir: Path | None, as_json: bool) -> None:
    """Read the whole job book against its ledger, and say that it is whole or name the first row that is not.

    The digest of the last line, noted elsewhere, also proves later that nothing was cut off the end. The exit code is
    1 when the record is broken.

    For example:
      groovewright job verify
      groovewright job verify --data-dir ~/workshop --json
    """
    folder = open_job_book(data_dir)
    from groovewright.jobbook.chain_check import verify_chain

    found = verify_chain()
    whole = not found.fault
    if as_json:
        print_json({"whole": whole, "lines": found.lines, "head": found.head, "fault": found.fault or None})
    else:
        rows = [("lines that hold", str(found.lines)), ("digest of the last of them", found.head)]
        print_table(f"The job book in {folder} is {'whole' if whole else 'broken'}", rows, _what_to_do(found.fault))
    if not whole:
        context.exit(BROKEN)


def _what_to_do(fault: str) -> tuple[str, ...]:
    if not fault:
        return ()
    return (
        f"First fault: {fault}.",
        "Enter nothing more into this book: keep a copy of its folder as it is, and go back to the last backup that is "
        "whole.",
    )
