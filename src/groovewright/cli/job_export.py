"""`groovewright job export`: jobs into an archive."""

from __future__ import annotations

from pathlib import Path

import click

from groovewright.cli.help_page import Command
from groovewright.cli.job_book import data_dir_option, job_numbered, open_job_book
from groovewright.cli.output import print_json, print_table, write_file
from groovewright.cli.refusal import refusing
from groovewright.cli.values import json_option


@click.command(cls=Command)
@click.argument("numbers", metavar="NUMBER...", type=click.IntRange(min=1), nargs=-1, required=True)
@click.option("--out", type=click.Path(path_type=Path, dir_okay=False), required=True, help="Archive to write.")
@click.option("--with-owner-details", is_flag=True, help="Let the owner's name and contact go along.")
@data_dir_option(must_exist=True)
@json_option
def export(
    *, numbers: tuple[int, ...], out: Path, with_owner_details: bool, data_dir: Path | None, as_json: bool
) -> None:
    """Write jobs, with all that they rest on and their files, into one archive.

    Owners go out as numbers; their names and contacts only with --with-owner-details.

    For example:
      groovewright job export 3 --out job3.zip
      groovewright job export 3 4 7 --with-owner-details --out jobs.zip
    """
    folder = open_job_book(data_dir)
    from groovewright.jobbook.content_store import ContentDamaged
    from groovewright.jobbook.job_archive import export_jobs

    jobs = [job_numbered(number, folder) for number in dict.fromkeys(numbers)]
    with refusing(ContentDamaged):
        content = export_jobs(jobs, with_owner_details=with_owner_details)
    write_file(out, content)
    if as_json:
        print_json({"file": str(out), "bytes": len(content), "jobs": [job.number for job in jobs]})
        return
    rows = [("jobs", ", ".join(str(job.number) for job in jobs)), ("size", f"{len(content) / 1000:.1f} kB")]
    print_table(f"The archive is {out}", rows)
