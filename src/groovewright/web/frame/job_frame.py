"""What the header of a job page shows: the job and how far it has come."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from django.shortcuts import get_object_or_404
from django.urls import reverse

from groovewright.bench.job_steps import Step
from groovewright.jobbook.models import Job
from groovewright.jobbook.queries import deck_now

WORDS = {"done": "done", "next": "next", "open": "open", "stale": "check again"}


@dataclass(frozen=True)
class ShownStep:
    """A step of the job as the progress band shows it."""

    page: str
    title: str
    state: str
    word: str
    detail: str
    address: str


def job_of(number: int) -> Job:
    """Return the job with its deck and owner, or answer 404."""
    return get_object_or_404(Job.objects.select_related("deck__owner__details"), number=number)


def shown_steps(number: int, steps: Sequence[Step]) -> list[ShownStep]:
    """Return the steps with their pages; the url of a page is named after its step, "take-in" for "take in"."""
    shown = []
    for step in steps:
        page = step.key.replace(" ", "-").replace("_", "-")
        address = reverse(page, kwargs={"number": number})
        shown.append(ShownStep(page, step.title, step.state, WORDS[step.state], step.detail, address))
    return shown


def job_frame(job: Job, steps: Sequence[Step], page: str) -> dict[str, Any]:
    """Return the template context that every page of a job starts from: job, deck, job_steps, step (this page), page.

    Parameters
    ----------
    job : Job
        The job shown.
    steps : sequence of Step
        `steps_of` the job.
    page : str
        Key of the page: take-in, choose, plate, bench or report.
    """
    shown = shown_steps(job.number, steps)
    here = next((step for step in shown if step.page == page), None)
    return {"job": job, "deck": deck_now(job), "job_steps": shown, "step": here, "page": page}
