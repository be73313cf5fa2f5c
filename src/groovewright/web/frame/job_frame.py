"""What the header of a job page shows: the job and how far it has come."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Protocol

from django.urls import reverse

WORDS = {"done": "done", "next": "next", "open": "open", "stale": "check again"}


class Step(Protocol):
    """A step of the job as the assessment gives it."""

    key: str
    title: str
    state: str
    detail: str


@dataclass(frozen=True)
class ShownStep:
    """A step of the job as the progress band shows it."""

    page: str
    title: str
    state: str
    word: str
    detail: str
    address: str


def shown_steps(number: int, steps: Sequence[Step]) -> list[ShownStep]:
    """Return the steps with their pages; the url of a page is named after its step, "take-in" for "take in"."""
    shown = []
    for step in steps:
        page = step.key.replace(" ", "-").replace("_", "-")
        address = reverse(page, kwargs={"number": number})
        shown.append(ShownStep(page, step.title, step.state, WORDS[step.state], step.detail, address))
    return shown


def job_frame(job: Any, steps: Sequence[Step], page: str) -> dict[str, Any]:
    """Return the template context that every page of a job starts from.

    Parameters
    ----------
    job : Job
        The job shown.
    steps : sequence of Step
        `Assessment.steps` of the job.
    page : str
        Key of the page: take-in, choose, plate, readings, verdicts or report.
    """
    return {"job": job, "job_steps": shown_steps(job.number, steps), "page": page}
