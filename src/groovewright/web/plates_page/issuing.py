"""A print check entered, and the corrected plate issued after it."""

from __future__ import annotations

from dataclasses import replace

from groovewright.jobbook.entries import issue_plate, record_reading, writing
from groovewright.jobbook.models import IssuedPlate, Reading, Stage
from groovewright.jobbook.plate_files import request_from_record
from groovewright.measurement.quantity import Quantity
from groovewright.plates.print_scale import PrintScale, print_scale


def measured_scale(plate: IssuedPlate, bar_x: Quantity, bar_y: Quantity) -> PrintScale:
    """Return what the printer makes of 1 mm, from a print of this plate."""
    return print_scale(bar_x, bar_y, drawn_scale_x=plate.scale_x, drawn_scale_y=plate.scale_y)


def record_print_check(plate: IssuedPlate, *, texts: tuple[str, str], bars: tuple[Quantity, Quantity]) -> None:
    """Enter both check bars; measured again, they correct what was entered before."""
    with writing():
        kinds = (Reading.Kind.PRINT_BAR_X, Reading.Kind.PRINT_BAR_Y)
        for kind, text, quantity in zip(kinds, texts, bars, strict=True):
            before = plate.readings.filter(kind=kind, corrected_by=None).first()
            record_reading(
                plate.job,
                kind=kind,
                stage=Stage.AS_LEFT,
                text=text,
                quantity=quantity,
                plate=plate,
                corrects=before,
            )


def issue_corrected(plate: IssuedPlate, scale: PrintScale) -> IssuedPlate:
    """Issue the plate again for the printer as it was measured, under a new number that names the one it replaces."""
    request = replace(request_from_record(plate.request), number="", scale_x=scale.x.value, scale_y=scale.y.value)
    return issue_plate(plate.job, request, choice=plate.choice, replaces=plate)
