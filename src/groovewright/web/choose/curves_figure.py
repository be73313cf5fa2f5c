"""The curves of several criteria over the groove as a chart in plain JSON; the browser puts in the colours."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

Curve = Mapping[str, Sequence[float]]

# In px, so short that the legend shows each pattern whole.
DASHES = ("solid", "8px,4px", "2px,3px", "8px,3px,2px,3px", "14px,3px", "14px,3px,2px,3px")


def curves_figure(
    curves: Mapping[str, Curve], *, names: Mapping[str, str], chosen: str, null_radii_mm: Sequence[float]
) -> dict[str, Any]:
    """Return the chart: tracking error above, distortion below, one line each for every criterion.

    Parameters
    ----------
    curves : mapping
        Criterion key to lists radius, error and distortion. [mm, deg, %]
    names : mapping
        Criterion key to the words in the legend and beside the pointer.
    chosen : str
        Key of the criterion that is drawn boldly.
    null_radii_mm : sequence of float
        Where the chosen one tracks without error. [mm]
    """
    data = []
    for place, (key, name) in enumerate(names.items()):
        if key in curves:
            data += _traces(curves[key], name=name, place=place, bold=key == chosen)
    return {"data": data, "layout": {**_axes(), "shapes": [_null_line(radius) for radius in null_radii_mm]}}


def _traces(curve: Curve, *, name: str, place: int, bold: bool) -> list[dict[str, Any]]:
    line = {"dash": DASHES[place], "width": 4 if bold else 2}
    common = {
        "type": "scatter",
        "mode": "lines",
        "x": list(curve["radius"]),
        "line": line,
        "name": name,
        "legendgroup": name,
        "meta": {"colour": f"curve-{place + 1}"},
    }
    return [
        {**common, "y": list(curve["error"]), "yaxis": "y", "hovertemplate": "%{y:+.2f}°"},
        {
            **common,
            "y": list(curve["distortion"]),
            "yaxis": "y2",
            "hovertemplate": "%{y:.3f} %",
            "showlegend": False,
        },
    ]


def _null_line(radius_mm: float) -> dict[str, Any]:
    return {
        "type": "line",
        "x0": radius_mm,
        "x1": radius_mm,
        "yref": "paper",
        "y0": 0,
        "y1": 1,
        "layer": "below",
        "line": {"dash": "dot", "width": 1.2},
    }


def _axes() -> dict[str, Any]:
    return {
        "hovermode": "x unified",
        "hoversubplots": "axis",
        "margin": {"l": 70, "r": 16, "t": 8, "b": 52},
        "height": 620,
        "legend": {"orientation": "h", "y": 1.02, "yanchor": "bottom", "x": 0},
        "xaxis": {"title": {"text": "Groove radius (mm)"}, "anchor": "y2", "hoverformat": ".1f", "ticks": "outside"},
        "yaxis": {"title": {"text": "Tracking error (°)"}, "domain": [0.53, 1], "ticks": "outside"},
        "yaxis2": {
            "title": {"text": "Distortion (%)"},
            "domain": [0, 0.47],
            "rangemode": "tozero",
            "ticks": "outside",
        },
    }
