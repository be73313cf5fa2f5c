"""What gauges let the arm do over the groove, as a chart in plain JSON; the browser puts in the colours."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from groovewright.bench.targets.target_curves import Curves
from groovewright.gauges.chain_figures import GaugeCurves

# In px, so short that the legend shows each pattern whole.
DASHES = ("2px,3px", "8px,4px", "8px,3px,2px,3px", "14px,3px", "14px,3px,2px,3px")


@dataclass(frozen=True)
class GaugeCurve:
    """A gauge's name, the number of its colour and pattern, and its curves."""

    name: str
    look: int
    curves: GaugeCurves


def gauge_curves_figure(gauges: Sequence[GaugeCurve], aim: Curves) -> dict[str, Any]:
    """Return the chart: tracking error above with both ends of its 95 %, distortion below with its upper end.

    Parameters
    ----------
    gauges : sequence of GaugeCurve
    aim : Curves
        Of the target itself, drawn boldly among them.
    """
    data = _lines("Target", "ink", {"dash": "solid", "width": 3.0}, aim.radius_mm, [aim.tracking_error_deg])
    data += _lines(
        "Target", "ink", {"dash": "solid", "width": 3.0}, aim.radius_mm, [aim.distortion_percent], below=True
    )
    for gauge in gauges:
        found, line = gauge.curves, {"dash": DASHES[gauge.look - 1], "width": 2.4}
        ends = [found.highest_error_deg, found.lowest_error_deg]
        data += _lines(gauge.name, f"curve-{gauge.look}", line, found.radius_mm, ends)
        data += _lines(gauge.name, f"curve-{gauge.look}", line, found.radius_mm, [found.distortion_percent], below=True)
    return {"data": data, "layout": _layout()}


def _lines(
    name: str,
    colour: str,
    line: dict[str, Any],
    radius_mm: NDArray[np.float64],
    heights: Sequence[NDArray[np.float64]],
    *,
    below: bool = False,
) -> list[dict[str, Any]]:
    """Return lines of one name in the upper or the lower plot; the first of the upper one stands in the legend."""
    return [
        {
            "type": "scatter",
            "mode": "lines",
            "x": [round(x, 2) for x in radius_mm.tolist()],
            # A groove that cannot be followed has no height to draw.
            "y": [round(y, 4) if np.isfinite(y) else None for y in height.tolist()],
            "line": line,
            "name": name,
            "legendgroup": name,
            "showlegend": not below and k == 0,
            "yaxis": "y2" if below else "y",
            "hovertemplate": "%{y:.3f} %" if below else "%{y:+.2f}°",
            "meta": {"colour": colour},
        }
        for k, height in enumerate(heights)
    ]


def _layout() -> dict[str, Any]:
    return {
        "hovermode": "x unified",
        "hoversubplots": "axis",
        "margin": {"l": 66, "r": 16, "t": 8, "b": 52},
        "height": 600,
        "legend": {"orientation": "h", "y": 1.02, "yanchor": "bottom", "x": 0},
        "xaxis": {"title": {"text": "Groove radius (mm)"}, "anchor": "y2", "hoverformat": ".1f", "ticks": "outside"},
        "yaxis": {"title": {"text": "Tracking error (°)"}, "domain": [0.5, 1], "ticks": "outside"},
        "yaxis2": {"title": {"text": "Distortion (%)"}, "domain": [0, 0.44], "rangemode": "tozero", "ticks": "outside"},
    }
