"""What the list says of each job: the step that its own pages name, and the seven verdicts of its bench."""

from __future__ import annotations

from dataclasses import dataclass

from groovewright.bench.estimate.settings import SETTINGS
from groovewright.jobbook.job_list import TIME_FOR_STATES_S, listed_states
from groovewright.jobbook.queries import JobPage, JobSummary
from groovewright.web.frame.icons import ICONS
from groovewright.web.frame.job_frame import ShownStep, shown_steps

HANDED_OVER = "Handed over"


@dataclass(frozen=True)
class ListedVerdict:
    """One of the seven as a small shape; `words` are for those who hear it, or point at it."""

    outcome: str
    words: str

    @property
    def has_shape(self) -> bool:
        """Whether there is a verdict, and so a shape."""
        return self.outcome in ICONS


@dataclass(frozen=True)
class ListedJob:
    """A line of the list: the job, the step that comes first, and its verdicts.

    Attributes
    ----------
    step : ShownStep or None
        None where it is not worked out yet; the page then asks again.
    verdicts : tuple of ListedVerdict
        In the order of the seven; empty where nothing can be told.
    """

    summary: JobSummary
    step: ShownStep | None
    verdicts: tuple[ListedVerdict, ...]

    @property
    def is_over(self) -> bool:
        """Whether every step is done."""
        return self.step is not None and self.step.state == "done"

    @property
    def next_words(self) -> str:
        """The step to work on, or that there is none."""
        if self.step is None:
            return ""
        return HANDED_OVER if self.is_over else self.step.title


def listed_jobs(page: JobPage, *, all_states: bool) -> list[ListedJob]:
    """Return the lines of one page of the list.

    Parameters
    ----------
    all_states : bool
        Whether to work out every state, however long that takes; else what is not at hand soon is left out.
    """
    states = listed_states([summary.job for summary in page.jobs], time_s=None if all_states else TIME_FOR_STATES_S)
    lines = []
    for summary in page.jobs:
        state = states[summary.job.pk]
        step = None if state.step is None else shown_steps(summary.job.number, [state.step])[0]
        verdicts = tuple(
            ListedVerdict(state.outcomes[key], f"{setting.title}: {state.outcomes[key]}")
            for key, setting in SETTINGS.items()
            if key in state.outcomes
        )
        lines.append(ListedJob(summary, step, verdicts))
    return lines
