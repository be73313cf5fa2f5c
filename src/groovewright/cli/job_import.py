"""`groovewright job import`: the jobs of an archive into the job book."""

from __future__ import annotations

from pathlib import Path

import click

from groovewright.cli.help_page import Command
from groovewright.cli.job_book import data_dir_option, open_job_book
from groovewright.cli.output import print_json, print_table
from groovewright.cli.refusal import Refusal, refusing
from groovewright.cli.values import json_option


@click.command(name="import", cls=Command)
@click.argument("archive", metavar="FILE", type=click.Path(path_type=Path))
@data_dir_option(must_exist=False)
@json_option
def import_archive(*, archive: Path, data_dir: Path | None, as_json: bool) -> None:
    """Bring the jobs of an archive into your job book: all of them, or on any doubt none.

    A job that is here already is left as it is. A number that is taken is replaced by the next free one.

    For example:
      groovewright job import job3.zip
    """
    from groovewright.files.archive import LARGEST_ARCHIVE_BYTES, ArchiveRefused, unpack

    content = _content(archive, LARGEST_ARCHIVE_BYTES + 1)
    # Before the book is opened, so that no new one is made for an archive that cannot be read.
    with refusing(ArchiveRefused):
        unpack(content)
    open_job_book(data_dir)
    from groovewright.jobbook.job_archive import import_jobs
    from groovewright.jobbook.not_written import NotWritten

    with refusing(ArchiveRefused, NotWritten):
        result = import_jobs(content)
    added, known = ([job.number for job in jobs] for jobs in (result.added, result.known))
    if as_json:
        print_json({"file": str(archive), "added": added, "known": known})
        return
    rows = [(name, ", ".join(map(str, jobs)) or "none") for name, jobs in (("added", added), ("here already", known))]
    print_table(f"Jobs of {archive}", rows)


def _content(archive: Path, most_bytes: int) -> bytes:
    try:
        with archive.open("rb") as stream:
            return stream.read(most_bytes)
    except OSError as error:
        raise Refusal(f"{archive} cannot be read: {(error.strerror or 'unknown reason').lower()}") from error
