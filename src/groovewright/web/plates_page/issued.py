"""Issued plates as the page lists them: what they are, whether they still hold, and what their prints measured."""

from __future__ import annotations

from dataclasses import dataclass

from groovewright.bench.job_steps import MAX_BAR_ERROR_MM, same_geometry
from groovewright.jobbook.job_facts import targets_of
from groovewright.jobbook.models import IssuedPlate, Reading, TargetChoice
from groovewright.jobbook.plate_files import request_from_record
from groovewright.jobbook.queries import JobRecord
from groovewright.measurement.quantity import Quantity
from groovewright.plates.print_scale import CHECK_BAR_MM, PrintScale
from groovewright.web.intake.quantity_field import typed_again
from groovewright.web.plates_page.forms import KINDS, PrintCheckForm
from groovewright.web.plates_page.issuing import measured_scale


@dataclass(frozen=True)
class ShownPlate:
    """One issued plate in the list."""

    plate: IssuedPlate
    kind: str
    is_stale: bool
    replaced_by: IssuedPlate | None
    bar_x: Quantity | None
    bar_y: Quantity | None
    scale: PrintScale | None
    check_form: PrintCheckForm

    @property
    def is_current(self) -> bool:
        """Whether it is the plate to work with."""
        return not self.is_stale and self.replaced_by is None

    @property
    def prints_true(self) -> bool:
        """Whether both bars were measured and are as long as they should be."""
        return None not in (self.bar_x, self.bar_y) and is_true(self.bar_x, self.bar_y)


def is_true(bar_x: Quantity, bar_y: Quantity) -> bool:
    """Return whether a print is true enough to work with."""
    return max(abs(bar.value - CHECK_BAR_MM) for bar in (bar_x, bar_y)) <= MAX_BAR_ERROR_MM


def shown_plates(record: JobRecord) -> list[ShownPlate]:
    """Return the plates of a job, newest first."""
    replaced_by = {plate.replaces_id: plate for plate in record.plates if plate.replaces_id is not None}
    shown = []
    for plate in reversed(record.plates):
        bars = {reading.kind: reading.quantity for reading in record.readings if reading.plate_id == plate.pk}
        bar_x, bar_y = bars.get(Reading.Kind.PRINT_BAR_X), bars.get(Reading.Kind.PRINT_BAR_Y)
        shown.append(
            ShownPlate(
                plate=plate,
                kind=KINDS[plate.kind].split(",")[0],
                is_stale=not _drawn_for(plate, record.choice),
                replaced_by=replaced_by.get(plate.pk),
                bar_x=bar_x,
                bar_y=bar_y,
                scale=None if bar_x is None or bar_y is None else measured_scale(plate, bar_x, bar_y),
                check_form=PrintCheckForm(
                    None,
                    plate_number=plate.number,
                    initial={"bar_x": typed_again(bar_x), "bar_y": typed_again(bar_y)},
                ),
            )
        )
    return shown


def _drawn_for(plate: IssuedPlate, choice: TargetChoice | None) -> bool:
    geometry = None if choice is None else targets_of(choice).geometry
    return geometry is not None and same_geometry(request_from_record(plate.request).geometry, geometry)
