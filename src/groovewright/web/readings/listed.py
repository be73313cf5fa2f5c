"""Readings as the table shows them: numbered in the job, each with what it corrects and what corrects it."""

from __future__ import annotations

from dataclasses import dataclass

from groovewright.jobbook.models import Reading
from groovewright.jobbook.queries import JobRecord


@dataclass(frozen=True)
class ListedReading:
    """A reading with its number in the job; 0 where no other reading is meant."""

    row: Reading
    number: int
    corrects: int
    corrected_by: int

    @property
    def stands(self) -> bool:
        """Whether it counts in the results."""
        return not (self.corrected_by or self.row.withdrawn)


def listed_readings(record: JobRecord) -> tuple[ListedReading, ...]:
    """Return all readings, newest first."""
    numbers = {reading.pk: number for number, reading in enumerate(record.all_readings, start=1)}
    replaced_by = {r.corrects_id: numbers[r.pk] for r in record.all_readings if r.corrects_id is not None}
    return tuple(
        ListedReading(row, numbers[row.pk], numbers.get(row.corrects_id, 0), replaced_by.get(row.pk, 0))
        for row in reversed(record.all_readings)
    )
