"""`groovewright job`: jobs out of the job book and into it, and proof that it is whole."""

from __future__ import annotations

import click

from groovewright.cli.main import LazyGroup


@click.group(
    cls=LazyGroup,
    places={
        "export": "groovewright.cli.job_export:export",
        "import": "groovewright.cli.job_import:import_archive",
        "report": "groovewright.cli.job_report:report",
        "verify": "groovewright.cli.job_verify:verify",
    },
)
def job() -> None:
    """Move jobs between job books, write a job's report, or prove that the record is whole.

    For example:
      groovewright job export 3 --out job3.zip
    """
