"""Readings as the list shows them: numbered in the job, each with what it corrects and what corrects it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from django.core.paginator import Page, Paginator

from groovewright.jobbook.models import Reading
from groovewright.jobbook.queries import JobRecord
from groovewright.web.bench.kinds import KINDS

READINGS_ON_A_PAGE = 25

PRINT_BARS = (Reading.Kind.PRINT_BAR_X, Reading.Kind.PRINT_BAR_Y)


@dataclass(frozen=True)
class ListedReading:
    """A reading with its number in the job; 0 where no other reading is meant."""

    row: Reading
    number: int
    corrects: int
    corrected_by: int

    @property
    def uncertainty_is_lent(self) -> bool:
        """Whether the gauge lent the uncertainty, so that the quantity says more than the text that was typed."""
        quantity = self.row.quantity
        return self.row.gauge_id is not None and quantity is not None and quantity.how.startswith("with ")

    @property
    def holds(self) -> bool:
        """Whether it counts in the results."""
        return not (self.corrected_by or self.row.withdrawn)

    @property
    def may_be_corrected(self) -> bool:
        """Whether it holds and was entered on the bench."""
        return self.holds and self.row.kind in KINDS and self.row.analysis_id is None

    @property
    def may_be_withdrawn(self) -> bool:
        """Whether it holds, and not as what a print of a plate measured."""
        return self.holds and self.row.kind not in PRINT_BARS


def listed_page(record: JobRecord, number: Any) -> Page[ListedReading]:
    """Return one page of the readings of a job, newest first; a number that is none gives the first page."""
    page = Paginator(record.all_readings[::-1], READINGS_ON_A_PAGE).get_page(number)
    numbers = {reading.pk: place for place, reading in enumerate(record.all_readings, start=1)}
    replaced_by = {r.corrects_id: numbers[r.pk] for r in record.all_readings if r.corrects_id is not None}
    page.object_list = [
        ListedReading(row, numbers[row.pk], numbers.get(row.corrects_id, 0), replaced_by.get(row.pk, 0))
        for row in page.object_list
    ]
    return page
