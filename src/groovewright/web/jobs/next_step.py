"""What comes next in each job of the list: the step that its own pages name."""

from __future__ import annotations

from dataclasses import dataclass

from groovewright.jobbook.job_list import listed_states
from groovewright.jobbook.queries import JobPage, JobSummary
from groovewright.web.frame.job_frame import ShownStep, shown_steps

HANDED_OVER = "Handed over"


@dataclass(frozen=True)
class ListedJob:
    """A line of the list: the job, the step that comes first, and whether nothing is left to do."""

    summary: JobSummary
    step: ShownStep

    @property
    def is_over(self) -> bool:
        """Whether every step is done."""
        return self.step.state == "done"

    @property
    def next_words(self) -> str:
        """The step to work on, or that there is none."""
        return HANDED_OVER if self.is_over else self.step.title


def listed_jobs(page: JobPage) -> list[ListedJob]:
    """Return the lines of one page of the list."""
    states = listed_states([summary.job for summary in page.jobs], time_s=None)
    steps = {key: state.step for key, state in states.items() if state.step is not None}
    return [ListedJob(summary, shown_steps(summary.job.number, [steps[summary.job.pk]])[0]) for summary in page.jobs]
