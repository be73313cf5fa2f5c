"""The files in which a plate is issued, and the request it can be drawn from again."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from groovewright.plates.plate import PlateRequest, draw_plate
from groovewright.tonearm.geometry import Geometry


def plate_files(request: PlateRequest) -> dict[str, bytes]:
    """Return the plate as PDF, SVG and DXF, by format."""
    from groovewright.plates.dxf import scene_to_dxf
    from groovewright.plates.pdf import scene_to_pdf
    from groovewright.plates.svg import scene_to_svg

    scene = draw_plate(request)
    return {"pdf": scene_to_pdf(scene), "svg": scene_to_svg(scene).encode(), "dxf": scene_to_dxf(scene)}


def request_from_record(record: Mapping[str, Any]) -> PlateRequest:
    """Return the request of an issued plate from what the record holds of it."""
    return PlateRequest(**{**record, "geometry": Geometry(**record["geometry"])})
