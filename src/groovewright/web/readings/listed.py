"""Readings as the table shows them: numbered in the job, each with what it corrects and what corrects it."""

from __future__ import annotations

from dataclasses import dataclass

from groovewright.jobbook.models import Reading, Stage
from groovewright.jobbook.queries import JobRecord
from groovewright.web.readings.bench_kinds import BENCH_KINDS

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
        typed = any(sign in self.row.text for sign in ("±", "+-", "+/-"))
        return self.row.gauge_id is not None and not typed and bool(self.row.quantity.standard_uncertainty)

    @property
    def is_of_the_bench(self) -> bool:
        """Whether it is entered on the bench page."""
        return self.row.kind in BENCH_KINDS and self.row.analysis_id is None

    @property
    def may_be_withdrawn(self) -> bool:
        """Whether it stands, and not as what a print of a plate measured."""
        return self.stands and self.row.kind not in PRINT_BARS

    @property
    def stands(self) -> bool:
        """Whether it counts in the results."""
        return not (self.corrected_by or self.row.withdrawn)


@dataclass(frozen=True)
class ReadingGroup:
    """Readings that belong together under one heading."""

    title: str
    rows: tuple[ListedReading, ...]


def grouped_readings(record: JobRecord) -> tuple[ReadingGroup, ...]:
    """Return all readings by stage, the latest first, then arc traces, captures and print checks; no group is empty."""
    listed = listed_readings(record)
    stages = {Stage.AS_LEFT: "As left", Stage.AS_FOUND: "As found"}
    by_gauge = [one for one in listed if one.row.plate_id is None and one.row.analysis_id is None]
    traced = [one for one in listed if one.row.kind == Reading.Kind.ARC_TRACE]
    captured = [one for one in listed if one.row.analysis_id is not None]
    groups = [
        *(
            ReadingGroup(title, tuple(one for one in by_gauge if one.row.stage == stage))
            for stage, title in stages.items()
        ),
        *(
            ReadingGroup(f"Arc traces, {stage}", tuple(one for one in traced if one.row.stage == stage))
            for stage in stages
        ),
        *(
            ReadingGroup(f"From captures, {stage}", tuple(one for one in captured if one.row.stage == stage))
            for stage in stages
        ),
        ReadingGroup("Prints of plates", tuple(one for one in listed if one.row.kind in PRINT_BARS)),
    ]
    return tuple(group for group in groups if group.rows)


def listed_readings(record: JobRecord) -> tuple[ListedReading, ...]:
    """Return all readings, newest first."""
    numbers = {reading.pk: number for number, reading in enumerate(record.all_readings, start=1)}
    replaced_by = {r.corrects_id: numbers[r.pk] for r in record.all_readings if r.corrects_id is not None}
    return tuple(
        ListedReading(row, numbers[row.pk], numbers.get(row.corrects_id, 0), replaced_by.get(row.pk, 0))
        for row in reversed(record.all_readings)
    )
