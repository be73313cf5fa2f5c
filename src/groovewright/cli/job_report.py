"""`groovewright job report`: a job's report as PDF."""

from __future__ import annotations

from pathlib import Path

import click

from groovewright.cli.help_page import Command
from groovewright.cli.job_book import data_dir_option, job_numbered, open_job_book
from groovewright.cli.output import print_json, print_table, write_file
from groovewright.cli.refusal import Refusal
from groovewright.cli.values import json_option


@click.command(cls=Command)
@click.argument("number", type=click.IntRange(min=1))
@click.option("--out", type=click.Path(path_type=Path, dir_okay=False), required=True, help="PDF to write.")
@click.option(
    "--workshop", help="Who did the work, as it stands on the report; without it as on the newest report of the book."
)
@data_dir_option(must_exist=True)
@json_option
def report(*, number: int, out: Path, workshop: str | None, data_dir: Path | None, as_json: bool) -> None:
    """Write the report of a job as its record stands, without issuing it.

    A report with a number, of which the job book keeps a copy, is issued on the job's report page.

    For example:
      groovewright job report 3 --out report3.pdf
    """
    if out.suffix.lower() != ".pdf":
        raise Refusal(f'"{out.name}" does not end in .pdf, and a report is a PDF')
    folder = open_job_book(data_dir)
    from groovewright.report.contents import contents_of_job
    from groovewright.report.pdf import report_pdf
    from groovewright.web.report_page.issuing import last_workshop

    job = job_numbered(number, folder)
    contents = contents_of_job(job, workshop=last_workshop() if workshop is None else workshop)
    write_file(out, report_pdf(contents))
    settings = None if contents.state is None else contents.state.settings_json()
    if as_json:
        print_json({"file": str(out), "job": job.number, "settings": settings, "missing": list(contents.missing)})
        return
    rows = [
        (f"{setting['key'].replace('_', ' ')} {stage.replace('_', ' ')}", setting["verdict"] or setting["basis"])
        for stage, listed in (settings or {}).items()
        for setting in listed or ()
    ]
    print_table(f"The report of job {job.number} is {out}", rows, contents.missing)
