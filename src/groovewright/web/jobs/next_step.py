"""What comes next in a job, told from the last step that was entered: enough for a list, without assessing it."""

from __future__ import annotations

from dataclasses import dataclass

from django.urls import reverse

from groovewright.jobbook.queries import JobPage, JobSummary

NEXT = {
    "opened": ("Take in", "take-in"),
    "taken in": ("Choose the geometry", "choose"),
    "targets chosen": ("Draw a plate or read as found", "plate"),
    "plate issued": ("Read as found", "readings"),
    "read as found": ("Set it and read as left", "readings"),
    "read as left": ("Look at the verdicts, issue the report", "verdicts"),
    "report issued": ("Handed over", "report"),
}


@dataclass(frozen=True)
class ListedJob:
    """A line of the list: the job, how far it has come, what is next and where that is done."""

    summary: JobSummary
    next_words: str
    address: str
    is_over: bool


def listed_jobs(page: JobPage) -> list[ListedJob]:
    """Return the lines of one page of the list."""
    lines = []
    for summary in page.jobs:
        next_words, step = NEXT[summary.reached]
        address = reverse(step, kwargs={"number": summary.job.number})
        lines.append(ListedJob(summary, next_words, address, is_over=step == "report"))
    return lines
