"""`groovewright job`: jobs out of the job book and into it."""

from __future__ import annotations

import click

from groovewright.cli.main import LazyGroup


@click.group(
    cls=LazyGroup,
    places={
        "export": "groovewright.cli.job_export:export",
        "import": "groovewright.cli.job_import:import_archive",
        "report": "groovewright.cli.job_report:report",
    },
)
def job() -> None:
    """Move jobs between job books, or write a job's report.

    For example:
      groovewright job export 3 --out job3.zip
    """
