"""Plates as they are issued: their files, and the corrected plate after a print check."""

from __future__ import annotations

from dataclasses import replace

from groovewright.jobbook.entries import issue_plate, record_reading, writing
from groovewright.jobbook.models import IssuedPlate, Reading, Stage
from groovewright.measurement.quantity import Quantity
from groovewright.plates.plate import PlateRequest, draw_plate
from groovewright.plates.print_scale import PrintScale, print_scale
from groovewright.tonearm.geometry import Geometry

MEDIA_TYPES = {"pdf": "application/pdf", "svg": "image/svg+xml", "dxf": "image/vnd.dxf"}


def plate_files(request: PlateRequest) -> dict[str, bytes]:
    """Return the drawing in every format."""
    from groovewright.plates.dxf import scene_to_dxf
    from groovewright.plates.pdf import scene_to_pdf
    from groovewright.plates.svg import scene_to_svg

    scene = draw_plate(request)
    return {"pdf": scene_to_pdf(scene), "svg": scene_to_svg(scene).encode(), "dxf": scene_to_dxf(scene)}


def request_of(plate: IssuedPlate) -> PlateRequest:
    """Return what an issued plate was drawn from."""
    return PlateRequest(**{**plate.request, "geometry": Geometry(**plate.request["geometry"])})


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
    request = replace(request_of(plate), number="", scale_x=scale.x.value, scale_y=scale.y.value)
    return issue_plate(plate.job, request, draw=plate_files, choice=plate.choice, replaces=plate)
