"""What the last arc trace of a job says of the arm: the consequence first, then where its parts stand."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from groovewright.bench.estimate.groove import GrooveCourse
from groovewright.bench.gauging.trace import ArcReading, TraceResult, trace_result
from groovewright.gauges.null_check import NullReading
from groovewright.jobbook.models import Reading
from groovewright.jobbook.plate_files import request_from_record
from groovewright.jobbook.queries import JobRecord, facts_of, target_request


@dataclass(frozen=True)
class Traced:
    """The last trace of a job, and what it says; `why_not` is one sentence where it says nothing."""

    plate: str
    stage: str
    places: int
    result: TraceResult | None = None
    figure: dict[str, Any] | None = None
    why_not: str = ""


def last_trace(record: JobRecord) -> Traced | None:
    """Return the last arc trace, with the distance as measured and the null checks of its stage; None without one."""
    rows = record.readings_of(Reading.Kind.ARC_TRACE)
    if not rows or record.choice is None:
        return None
    last = rows[-1]
    rows = tuple(
        row for row in rows if (row.plate_id, row.laying, row.stage) == (last.plate_id, last.laying, last.stage)
    )
    shown = Traced(last.plate.number, last.stage, len(rows))
    nulls = [
        NullReading(row.radius_mm, row.quantity) for row in record.readings_of(Reading.Kind.NULL_ANGLE, last.stage)
    ]
    request = target_request(record.choice)
    joined = facts_of(record).joined_distance()
    if joined is not None:
        request = replace(request, pivot_to_spindle=joined.quantity)
    plate = request_from_record(last.plate.request).geometry
    arcs = [ArcReading(row.radius_mm, row.quantity) for row in rows if row.radius_mm is not None]
    try:
        result = trace_result(request, arcs, nulls, arc_mm=plate.pivot_to_spindle_mm)
    except ValueError as refusal:
        sentence = str(refusal)
        return replace(shown, why_not=f"{sentence[0].upper()}{sentence[1:]}.")
    return replace(shown, result=result, figure=_figure(result.groove))


def _figure(curves: GrooveCourse) -> dict[str, Any]:
    """Return the chart: tracking error above, distortion below, each with both ends of its 95 %."""
    best, ends = {"dash": "solid", "width": 3.0}, {"dash": "8px,4px", "width": 2.0}
    data = []
    for axis, template, middle, low, high in (
        (
            "y",
            "%{y:+.2f}°",
            curves.tracking_error_deg,
            curves.tracking_error_low_deg,
            curves.tracking_error_high_deg,
        ),
        (
            "y2",
            "%{y:.3f} %",
            curves.distortion_percent,
            curves.distortion_low_percent,
            curves.distortion_high_percent,
        ),
    ):
        for name, heights, line in (("as traced", middle, best), ("95 %", high, ends), ("95 %", low, ends)):
            data.append(
                {
                    "type": "scatter",
                    "mode": "lines",
                    "x": [round(x, 2) for x in curves.radius_mm.tolist()],
                    "y": _heights(heights),
                    "yaxis": axis,
                    "name": name,
                    "legendgroup": name,
                    "showlegend": axis == "y" and heights is not low,
                    "hovertemplate": template,
                    "line": line,
                    "meta": {"colour": "curve-1"},
                }
            )
    layout = {
        "hovermode": "x unified",
        "hoversubplots": "axis",
        "margin": {"l": 66, "r": 16, "t": 8, "b": 52},
        "height": 520,
        "legend": {"orientation": "h", "y": 1.02, "yanchor": "bottom", "x": 0},
        "xaxis": {"title": {"text": "Groove radius (mm)"}, "anchor": "y2", "hoverformat": ".1f", "ticks": "outside"},
        "yaxis": {"title": {"text": "Tracking error (°)"}, "domain": [0.5, 1], "ticks": "outside"},
        "yaxis2": {"title": {"text": "Distortion (%)"}, "domain": [0, 0.44], "rangemode": "tozero", "ticks": "outside"},
    }
    return {"data": data, "layout": layout}


def _heights(values: NDArray[np.float64]) -> list[float | None]:
    return [round(y, 4) if np.isfinite(y) else None for y in values.tolist()]
