"""`groovewright job report`: a job's report as PDF."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from groovewright.cli.help_page import Command
from groovewright.cli.job_book import data_dir_option, job_numbered, open_job_book
from groovewright.cli.output import print_groups, print_json, write_file
from groovewright.cli.refusal import Refusal
from groovewright.cli.values import json_option


@click.command(cls=Command)
@click.argument("number", type=click.IntRange(min=1))
@click.option("--out", type=click.Path(path_type=Path, dir_okay=False), required=True, help="PDF to write.")
@click.option(
    "--part",
    type=click.Choice(["customer", "technical", "both"]),
    default="both",
    show_default=True,
    help="The customer's part (two pages at most), the technical part, or one after the other.",
)
@click.option(
    "--paper", type=click.Choice(["a4", "us-letter"]), default="a4", show_default=True, help="Paper to print on."
)
@click.option("--workshop", help="Who did the work, in place of the name in the letterhead.")
@data_dir_option(must_exist=True)
@json_option
def report(
    *, number: int, out: Path, part: Any, paper: str, workshop: str | None, data_dir: Path | None, as_json: bool
) -> None:
    """Write the report of a job as its record is now, without issuing it.

    A report with a number, of which the job book keeps a copy, is issued on the job's report page.

    For example:
      groovewright job report 3 --out report3.pdf
      groovewright job report 3 --part customer --out report3.pdf
    """
    if out.suffix.lower() != ".pdf":
        raise Refusal(f'"{out.name}" does not end in .pdf, and a report is a PDF')
    folder = open_job_book(data_dir)
    from groovewright.report.contents import contents_of_job, head_of
    from groovewright.report.customer import full_texts, setting_rows
    from groovewright.report.fonts import not_printed
    from groovewright.report.parts import HandOver
    from groovewright.report.pdf import report_pdf

    job = job_numbered(number, folder)
    contents = contents_of_job(job, head=head_of(workshop), words=HandOver(part=part, paper=paper))
    write_file(out, report_pdf(contents))
    notes = [*contents.missing, *not_printed(full_texts(contents))]
    if as_json:
        settings = None if contents.state is None else contents.state.settings_json()
        print_json({"file": str(out), "job": job.number, "part": part, "settings": settings, "missing": notes})
        return
    rows = setting_rows(contents)
    stages = [("As found", [(row["title"], _words(row["found"])) for row in rows])]
    stages.append(("As left", [(row["title"], _words(row["left"])) for row in rows if row["left"] is not None]))
    print_groups(f"The report of job {job.number} is {out}", [group for group in stages if group[1]], notes)


def _words(cell: dict[str, str]) -> str:
    return ", ".join(part for part in (cell["value"], cell["words"], cell["basis"]) if part)
