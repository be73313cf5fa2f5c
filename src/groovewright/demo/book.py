"""The whole invented workshop, made in an empty job book."""

from __future__ import annotations

from collections.abc import Callable

from groovewright.demo.seven_settings import job_set_up_in_all_seven, visits_half_a_year_apart
from groovewright.demo.single_jobs import (
    finished_job,
    job_just_taken_in,
    job_out_of_tolerance,
    job_with_a_checked_plate,
    job_with_a_drifting_scale,
    job_with_a_force_difference,
    job_with_targets,
)
from groovewright.demo.workshop import Workshop
from groovewright.jobbook import entries
from groovewright.jobbook.models import Job


def make_demo_workshop(*, hand_over: Callable[[Job], object] | None = None) -> None:
    """Fill an empty book with the invented workshop; a book that holds a job already is left alone.

    Parameters
    ----------
    hand_over : callable, optional
        Issues the report of the job that is finished; without it that job stops just before.
    """
    if Job.objects.exists():
        return
    with entries.writing():
        workshop = Workshop()
        finished_job(workshop)
        job_with_a_force_difference(workshop)
        job_with_a_drifting_scale(workshop)
        job_out_of_tolerance(workshop)
        job_with_a_checked_plate(workshop)
        job_with_targets(workshop)
        job_just_taken_in(workshop)
        visits_half_a_year_apart(workshop)
        job_set_up_in_all_seven(workshop)
        # Within the same entry: killed half way, the book stays empty and the next start makes the whole workshop.
        if hand_over is not None:
            hand_over(Job.objects.get(number=1))
