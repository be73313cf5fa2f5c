"""The job book as the job commands open it."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from groovewright.cli.refusal import Refusal, refusing

if TYPE_CHECKING:
    from groovewright.jobbook.models import Job


def data_dir_option(*, must_exist: bool) -> Callable[..., Any]:
    """Return the option `--data-dir`; a command that only reads does not make a new job book."""
    return click.option(
        "--data-dir",
        type=click.Path(path_type=Path, file_okay=False, exists=must_exist),
        help="Folder of the job book; without it GROOVEWRIGHT_DATA_DIR or the usual place for your data.",
    )


def open_job_book(data_dir: Path | None) -> Path:
    """Open the job book for this process and return its folder; before it nothing of it may be imported."""
    from groovewright.site.server import StartRefused, open_workshop

    with refusing(StartRefused):
        return open_workshop(data_dir)


def job_numbered(number: int, folder: Path) -> Job:
    """Return a job by its number, or refuse with the numbers there are."""
    from groovewright.jobbook.models import Job

    job = Job.objects.filter(number=number).first()
    if job is not None:
        return job
    numbers = list(Job.objects.order_by("number").values_list("number", flat=True))
    if not numbers:
        raise Refusal(f"the job book in {folder} holds no job yet; name another with --data-dir")
    listed = str(numbers[0]) if len(numbers) == 1 else f"{numbers[0]} to {numbers[-1]}"
    raise Refusal(f"there is no job {number} in {folder}; its numbers are {listed}")
