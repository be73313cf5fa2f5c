"""The pivot-to-spindle distance that is typed at take-in: an ordinary reading of the job from then on."""

from __future__ import annotations

from groovewright.jobbook import entries
from groovewright.jobbook.gauge_uncertainty import with_gauge_uncertainty
from groovewright.jobbook.models import Job, Reading, Stage
from groovewright.jobbook.queries import next_reading_source
from groovewright.measurement.parsing import parse_quantity
from groovewright.measurement.quantity import Quantity
from groovewright.web.intake.quantity_field import typed_again

KIND = Reading.Kind.PIVOT_TO_SPINDLE
NOTE = "typed at take-in"
"""Tells the reading from others of its kind."""


def distance_reading(job: Job) -> Reading | None:
    """Return the reading that take-in stored, or the one that corrects it; None without one that holds."""
    stored = job.readings.filter(kind=KIND, note=NOTE).order_by("-pk").first()
    if stored is None:
        return None
    current = stored.current()
    return None if current.withdrawn else current


def distance_text(job: Job) -> str:
    """Return the distance as the take-in field shows it."""
    reading = distance_reading(job)
    return "" if reading is None else reading.text


def store_distance(job: Job, typed: Quantity | None) -> None:
    """Enter what the field holds now: a first reading, a correction of it, or that it is taken back."""
    before = distance_reading(job)
    if typed is None:
        if before is not None:
            entries.withdraw_reading(before, note="taken back at take-in")
        return
    # The record keeps the unit that a bare number took, and gives each reading an error of its own.
    text = typed_again(typed)
    quantity = parse_quantity(text, "length", source=next_reading_source(job, KIND))
    gauge = None if before is None else before.gauge
    entries.record_reading(
        job,
        kind=KIND,
        stage=Stage.AS_FOUND if before is None else before.stage,
        text=text,
        quantity=with_gauge_uncertainty(quantity, gauge),
        gauge=gauge,
        note=NOTE,
        corrects=before,
    )
