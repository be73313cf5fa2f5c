"""Tracking error and distortion over the groove, as found and as left, with the null readings drawn on them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from groovewright.bench.estimate.groove import GrooveCourse
from groovewright.jobbook.job_states import groove_of_job, job_state
from groovewright.jobbook.models import Reading, Stage
from groovewright.jobbook.queries import JobRecord

COLOURS = {"as found": "curve-2", "as left": "curve-1", "as traced": "curve-1"}


@dataclass(frozen=True)
class ShownGroove:
    """The courses that can be told, by stage, the readings of tracking error, and why one cannot be told."""

    courses: Mapping[str, GrooveCourse]
    nulls: tuple[Reading, ...]
    lacking: tuple[str, ...] = ()


def shown_groove(record: JobRecord) -> ShownGroove:
    """Return what the deck of a job does over the groove."""
    courses, lacking = {}, []
    for stage in (Stage.AS_FOUND, Stage.AS_LEFT):
        try:
            state = job_state(record)
            deck = state.as_found if stage == Stage.AS_FOUND else state.as_left
            if deck is not None:
                courses[str(stage.value)] = groove_of_job(record, deck)
        except ValueError as refusal:
            lacking.append(f"{stage.value.capitalize()}: {refusal}.")
    nulls = tuple(row for row in record.readings_of(Reading.Kind.NULL_ANGLE) if row.radius_mm is not None)
    return ShownGroove(courses, nulls, tuple(lacking))


def groove_figure(shown: ShownGroove) -> dict[str, Any]:
    """Return the chart: tracking error above with the readings as points, distortion below, each with its 95 % band."""
    data: list[dict[str, Any]] = []
    for stage, course in shown.courses.items():
        data += _traces(stage, course)
    data += [_points(stage, [row for row in shown.nulls if row.stage == stage]) for stage in shown.courses]
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


def _traces(name: str, course: GrooveCourse) -> list[dict[str, Any]]:
    best, ends = {"dash": "solid", "width": 3.0}, {"dash": "8px,4px", "width": 1.5}
    heights = {
        "y": ("%{y:+.2f}°", course.tracking_error_deg, course.tracking_error_low_deg, course.tracking_error_high_deg),
        "y2": ("%{y:.3f} %", course.distortion_percent, course.distortion_low_percent, course.distortion_high_percent),
    }
    return [
        {
            "type": "scatter",
            "mode": "lines",
            "x": [round(x, 2) for x in course.radius_mm.tolist()],
            "y": _rounded(values),
            "yaxis": axis,
            "name": words,
            "legendgroup": words,
            "showlegend": axis == "y" and place != 1,
            "hovertemplate": template,
            "line": line,
            "meta": {"colour": COLOURS[name]},
        }
        for axis, (template, middle, low, high) in heights.items()
        for place, (words, values, line) in enumerate(
            ((name, middle, best), (f"{name}, 95 %", low, ends), (f"{name}, 95 %", high, ends))
        )
    ]


def _points(stage: str, rows: Sequence[Reading]) -> dict[str, Any]:
    return {
        "type": "scatter",
        "mode": "markers",
        "x": [row.radius_mm for row in rows],
        "y": [round(row.quantity.value, 3) for row in rows],
        "error_y": {"type": "data", "array": [2 * (row.quantity.standard_uncertainty or 0) for row in rows]},
        "yaxis": "y",
        "name": f"read {stage}",
        "showlegend": bool(rows),
        "hovertemplate": "%{y:+.2f}°",
        "line": {"width": 2},
        "marker": {"size": 11, "symbol": "diamond" if stage == Stage.AS_FOUND else "circle"},
        "meta": {"colour": COLOURS[stage]},
    }


def _rounded(values: NDArray[np.float64]) -> list[float | None]:
    return [round(y, 4) if np.isfinite(y) else None for y in values.tolist()]
