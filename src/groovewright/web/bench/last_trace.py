"""What the last arc trace of a job says of the arm: the consequence first, then where its parts stand."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

from groovewright.bench.gauging.trace import ArcReading, TraceResult, trace_result
from groovewright.gauges.null_check import NullReading
from groovewright.jobbook.models import Reading
from groovewright.jobbook.plate_files import request_from_record
from groovewright.jobbook.queries import JobRecord, facts_of, target_request
from groovewright.web.bench.groove import ShownGroove, groove_figure


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
    return replace(shown, result=result, figure=groove_figure(ShownGroove({"as traced": result.groove}, ())))
