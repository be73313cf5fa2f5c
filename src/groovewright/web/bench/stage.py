"""Which stage the next reading most likely belongs to."""

from __future__ import annotations

from groovewright.jobbook.job_record import JobRecord
from groovewright.jobbook.models import Stage
from groovewright.jobbook.stretches import is_left


def likely_stage(record: JobRecord) -> str:
    """Return the stage of the next reading: as found until something was moved or read as left."""
    return Stage.AS_LEFT if is_left(record) else Stage.AS_FOUND
