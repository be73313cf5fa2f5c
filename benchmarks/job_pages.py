"""Pages of a large workshop: 10,000 jobs and 200,000 readings, through Django's test client.

    python benchmarks/job_pages.py [--jobs 10000] [--visits 200]

The goal is a 95th percentile under 100 ms for the list of jobs and the pages of a job. Beside our way
of reading a job stands the obvious one, which lets each row fetch what it names.
"""

from __future__ import annotations

import argparse
import itertools
import random
import sys
import tempfile
import time
from collections.abc import Callable
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import numpy as np

READINGS_A_JOB = 20
KINDS = [("pivot_to_spindle", "as found", 222.0, "mm")] * 2 + [
    (kind, stage, value, unit)
    for stage in ("as found", "as left")
    for kind, value, unit in (
        ("effective_length", 239.0, "mm"),
        ("overhang", 17.2, "mm"),
        ("effective_length", 239.1, "mm"),
        *[("tracking_force", 17.9, "mN")] * 6,
    )
]


def fill(job_count: int) -> None:
    """Write the book in batches: through the ledger, as an archive is brought in."""
    from groovewright.bench.estimate.job_facts import DEFAULT_RULE
    from groovewright.bench.targets.targets import REQUESTS_REMEMBERED, TargetRequest, choose_targets
    from groovewright.demo.true_bench import TrueScale, check_readings
    from groovewright.jobbook import entries
    from groovewright.jobbook.ledger import append_all, writing
    from groovewright.jobbook.models import (
        Arm,
        Deck,
        Intake,
        Job,
        Owner,
        OwnerDetails,
        TargetChoice,
    )
    from groovewright.measurement.quantity import Quantity

    chance = random.Random(33)
    scale = entries.add_scale(description="Scale 1", resolution=Quantity.exact(0.0980665, "mN"))
    gauge = entries.add_gauge(description="Steel rule")
    cartridge = entries.add_cartridge(
        description="Moving-magnet cartridge",
        tracking_force_lower=Quantity.exact(15.0, "mN"),
        tracking_force_upper=Quantity.exact(20.0, "mN"),
    )
    # More arms than the program remembers, so that a visit computes the targets of its job anew.
    all_targets = [
        choose_targets(
            TargetRequest(
                Quantity.measured(
                    215.0 + arm / 100, "mm", standard_uncertainty=0.2, source=f"distance {arm} of the pivot"
                ),
                "minimax",
                60.325,
                146.05,
            )
        )
        for arm in range(2 * REQUESTS_REMEMBERED)
    ]
    with writing():
        numbers = range(1, job_count + 1)
        owners = append_all([Owner(number=number) for number in numbers])
        OwnerDetails.objects.bulk_create([OwnerDetails(owner=owner, name=f"Owner {owner.pk}") for owner in owners])
        decks = append_all([Deck(number=o.number, owner=o, description=f"belt-drive deck {o.number}") for o in owners])
        arms = append_all([Arm(deck=deck, description="nine-inch arm") for deck in decks])
        first_day = date(2000, 1, 1)
        jobs = append_all(
            [
                Job(number=deck.number, deck=deck, opened=first_day + timedelta(days=deck.number), complaint="harsh")
                for deck in decks
            ]
        )
        append_all(
            [
                Intake(
                    job=job,
                    version=1,
                    arm=arm,
                    cartridge=cartridge,
                    innermost_mm=60.325,
                    outermost_mm=146.05,
                    speed_rpm=100 / 3,
                    length_tolerance_lower_mm=-0.5,
                    length_tolerance_upper_mm=0.5,
                    decision_rule=DEFAULT_RULE.kind,
                    guard_factor=DEFAULT_RULE.guard_factor,
                    maximum_risk=DEFAULT_RULE.maximum_risk,
                )
                for job, arm in zip(jobs, arms, strict=True)
            ]
        )
        append_all(
            [
                TargetChoice(
                    job=job,
                    criterion="minimax",
                    arm_kind="offset",
                    pivot_to_spindle=targets.request.pivot_to_spindle,
                    innermost_mm=60.325,
                    outermost_mm=146.05,
                    peak_velocity_cm_s=10.0,
                    speed_rpm=100 / 3,
                    effective_length=targets.effective_length,
                    overhang=targets.overhang,
                    offset_angle=targets.offset_angle,
                    linear_offset=targets.linear_offset,
                    null_radii=[radius.as_record() for radius in targets.null_radii],
                    peak_tracking_error=targets.peak_tracking_error,
                    peak_distortion=targets.peak_distortion,
                    rms_distortion=targets.rms_distortion,
                )
                for job, targets in zip(jobs, itertools.cycle(all_targets))
            ]
        )
        for job in jobs:
            append_all([_reading(job, index, gauge, scale, chance) for index in range(READINGS_A_JOB)])
    rng = np.random.default_rng(33)
    for job in chance.sample(list(jobs), min(300, job_count)):
        readings, texts = check_readings(TrueScale(), rng)
        entries.check_scale(scale, readings=readings, texts=texts, job=job)


def _reading(job: Any, index: int, gauge: Any, scale: Any, chance: random.Random) -> Any:
    from groovewright.jobbook.models import Reading
    from groovewright.measurement.quantity import Quantity

    kind, stage, value, unit = KINDS[index]
    shown = value + chance.gauss(0, 0.1)
    force = kind == "tracking_force"
    return Reading(
        job=job,
        kind=kind,
        stage=stage,
        place=("outer", "inner")[index % 2] if force else "",
        text=f"{shown:.2f} {unit}",
        quantity=Quantity.measured(shown, unit, standard_uncertainty=0.2, source=f"reading {index} of job {job.pk}"),
        gauge=None if force else gauge,
        scale=scale if force else None,
    )


def timed(visit: Callable[[], Any]) -> tuple[float, float]:
    """Return how long one visit takes, by the clock and of this process's computing alone. [ms]"""
    start, computing_start = time.perf_counter(), time.process_time()
    visit()
    computing = time.process_time() - computing_start
    return (time.perf_counter() - start) * 1000, computing * 1000


def report(name: str, times_ms: list[tuple[float, float]]) -> float:
    """Print one line and return the 95th percentile by the clock. [ms]"""
    (median, computing), (slow, slow_computing) = np.percentile(times_ms, [50, 95], axis=0)
    print(
        f"{name:<44} median {median:6.1f} ms (computing {computing:6.1f})   "
        f"p95 {slow:6.1f} ms (computing {slow_computing:6.1f})"
    )
    return float(slow)


def obvious_way(job: Any) -> list[str]:
    """Return the lines of a job's readings, each row fetching what it names."""
    return [
        f"{reading.kind} {reading.quantity.value} {reading.gauge or reading.scale} {reading.is_current}"
        for reading in job.readings.all()
    ]


def main() -> int:
    """Fill a book, visit its pages, say how long they took."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--jobs", type=int, default=10_000)
    parser.add_argument("--visits", type=int, default=200)
    options = parser.parse_args()
    from groovewright.site.server import open_workshop

    with tempfile.TemporaryDirectory() as folder:
        open_workshop(Path(folder))
        start = time.perf_counter()
        fill(options.jobs)
        took_s = time.perf_counter() - start
        print(f"{options.jobs} jobs, {options.jobs * READINGS_A_JOB} readings written in {took_s:.0f} s")
        return visit_pages(options.jobs, options.visits)


def visit_pages(job_count: int, visits: int) -> int:
    """Visit pages of jobs at random; return 1 if a page of the goal is too slow."""
    from django.test import Client
    from django.urls import reverse

    from groovewright.jobbook import queries
    from groovewright.jobbook.models import Job

    chance = random.Random(7)
    numbers = [chance.randint(1, job_count) for _ in range(visits)]
    client = Client(headers={"host": "localhost"})

    def get(address: str) -> None:
        answer = client.get(address)
        assert answer.status_code in (200, 302), address

    pages = {
        "list of jobs, any page": [
            f"{reverse('job-list')}?page={number % (job_count // 25) + 1}" for number in numbers
        ],
        "list of jobs, searched": [f"{reverse('job-list')}?search=deck+{number}" for number in numbers],
        "way into a job (leads to its next step)": [reverse("job", kwargs={"number": number}) for number in numbers],
        **{
            f"{page} of a job": [reverse(page, kwargs={"number": number}) for number in numbers]
            for page in ("take-in", "choose", "plate", "readings", "bench", "report")
        },
        "workshop": [reverse("workshop")] * visits,
        "comparison of gauges": [reverse("gauge-comparison")] * visits,
    }
    slowest = 0.0
    for name, addresses in pages.items():
        get(addresses[0])
        times = [timed(lambda address=address: get(address)) for address in addresses]
        slowest = max(slowest, report(name, times))
    jobs = list(Job.objects.filter(number__in=numbers))
    ours = report("rows of a job, our way", [timed(lambda job=job: queries.job_record(job)) for job in jobs])
    theirs = report(
        "readings of a job alone, the obvious way", [timed(lambda job=job: obvious_way(job)) for job in jobs]
    )
    print(f"the obvious way takes {theirs / ours:.1f} times as long; slowest page p95 {slowest:.1f} ms, goal 100 ms")
    return int(slowest > 100)


if __name__ == "__main__":
    sys.exit(main())
