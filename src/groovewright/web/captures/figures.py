"""The pictures of a capture as charts in plain JSON; the browser puts in the colours, named by `meta`."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from math import log10
from typing import Any

Arrays = Mapping[str, Any]

LEFT_MARGIN, RIGHT_MARGIN, FLAG_ROOM = 72, 16, 50
TRACE_COLOURS = {"left": "curve-1", "right": "curve-2", "lateral": "curve-1", "vertical": "curve-3"}


@dataclass(frozen=True)
class Figure:
    """A chart with its heading, what it shows, and what it says to those who do not see it."""

    key: str
    title: str
    words: str
    data: list[dict[str, Any]]
    layout: dict[str, Any]

    @property
    def chart(self) -> dict[str, Any]:
        """The chart as the library takes it."""
        return {"data": self.data, "layout": self.layout}


def overview_figure(outline: Arrays) -> dict[str, Any]:
    """Return the outline of both channels, one below the other, over time."""
    channels = len(outline["lowest"])
    names = ("Left", "Right") if channels == 2 else ("One channel",)
    starts = outline["start_s"][:-1]
    data, layout = [], _layout(height=300 if channels == 2 else 200, top=FLAG_ROOM)
    layout["showlegend"] = False
    layout["xaxis"] = _axis(
        "Time (s)", range=[0, outline["start_s"][-1]], anchor=f"y{channels}" if channels > 1 else "y"
    )
    for place, name in enumerate(names):
        axis = "" if place == 0 else str(place + 1)
        for key, fill in (("lowest", None), ("highest", "tonexty")):
            trace = _line(starts, outline[key][place], f"{name}, {key}", f"curve-{place + 1}", width=1)
            trace |= {"yaxis": f"y{axis}", "fill": fill, "meta": {"colour": f"curve-{place + 1}", "fill": 0.75}}
            data.append(trace | {"hovertemplate": "%{y:.3f}"})
        height = 1 / channels
        domain = [1 - (place + 1) * height + 0.03, 1 - place * height - 0.03 if place else 1]
        layout[f"yaxis{axis}"] = _axis(name, domain=domain, range=[-1.02, 1.02], fixedrange=True, tickvals=[-1, 0, 1])
    return {"data": data, "layout": layout}


def figures_of(pictures: Arrays, hum: Sequence[tuple[float, float]]) -> tuple[Figure, ...]:
    """Return all charts that the arrays have something for.

    Parameters
    ----------
    pictures : mapping
        As `picture_arrays` makes it.
    hum : sequence of (float, float)
        Frequency and level of the lines of hum, which are named in the spectra of noise. [Hz], [dB]
    """
    return tuple(
        figure
        for figure in (
            _speed(pictures.get("speed", [])),
            *_rasters(pictures.get("rasters", [])),
            _speed_spectra(pictures.get("speed_spectra", [])),
            *_radius_fits(pictures.get("radius_fits", [])),
            _responses(pictures.get("responses", [])),
            _noise(pictures.get("noise_spectra", []), hum),
            _ladders(pictures.get("ladders", [])),
        )
        if figure is not None
    )


def _speed(curves: Sequence[Arrays]) -> Figure | None:
    if not curves:
        return None
    data = []
    for place, curve in enumerate(curves):
        colour = f"curve-{place % 6 + 1}"
        hover = {"hovertemplate": "%{y:+.4f} %"}
        data.append(_line(curve["time_s"], curve["deviation_percent"], curve["band"], colour) | hover)
        without = f"{curve['band']}, without eccentricity"
        data.append(
            _line(curve["time_s"], curve["without_eccentricity_percent"], without, colour, dash="dot", width=1.4)
            | hover
        )
    layout = _layout(height=360) | {"xaxis": _axis("Time (s)"), "yaxis": _axis("Speed deviation (%)")}
    return Figure(
        "speed", "Speed against time", "dotted: with the record's own off-centre swing taken out", data, layout
    )


def _rasters(rasters: Sequence[Arrays]) -> Iterator[Figure]:
    for place, raster in enumerate(rasters):
        values = [abs(v) for row in raster["deviation_percent"] for v in row if v is not None]
        widest = max(values, default=0.0) or 1.0
        data = [
            {
                "type": "heatmap",
                "x": raster["angle_deg"],
                "y": raster["turn"],
                "z": raster["deviation_percent"],
                "zmin": -widest,
                "zmax": widest,
                "zsmooth": False,
                "meta": {"scale": ["curve-1", "surface", "curve-2"]},
                "colorbar": {"title": {"text": "%"}, "thickness": 14, "outlinewidth": 0},
                "hovertemplate": "turn %{y}, %{x:.0f}°: %{z:+.4f} %<extra></extra>",
            }
        ]
        layout = _layout(height=380) | {
            "hovermode": "closest",
            "xaxis": _axis("Platter angle (°)", dtick=90, showgrid=False),
            "yaxis": _axis("Turn", autorange="reversed", showgrid=False, dtick=-(-len(raster["turn"]) // 12) or 1),
        }
        words = "what stands upright belongs to the record, what leans belongs to the motor"
        yield Figure(f"raster-{place}", f"Turn under turn: {raster['band']}", words, data, layout)


def _speed_spectra(spectra: Sequence[Arrays]) -> Figure | None:
    if not spectra:
        return None
    data = [
        _line(s["frequency_hz"], s["amplitude_percent"], s["band"], f"curve-{place % 6 + 1}")
        | {"hovertemplate": "%{y:.4f} %"}
        for place, s in enumerate(spectra)
    ]
    layout = _layout(height=340) | {
        "xaxis": _axis("Frequency of the variation (Hz)", type="log"),
        "yaxis": _axis("Peak deviation (%)", rangemode="tozero"),
    }
    return Figure("speed-spectrum", "Spectrum of the speed", "the first line is the turn of the platter", data, layout)


def _radius_fits(fits: Sequence[Arrays]) -> Iterator[Figure]:
    for place, fit in enumerate(fits):
        data = [*_band_of_fit(fit), *_points(fit)]
        layout = _layout(height=520) | {
            "hoversubplots": "axis",
            "xaxis": _axis("Groove radius (mm)", anchor="y2", hoverformat=".1f"),
            "yaxis": _axis(f"{fit['what'][:1].upper()}{fit['what'][1:]} (°)", domain=[0.54, 1]),
            "yaxis2": _axis("Second harmonic (%)", domain=[0, 0.46]),
        }
        title = f"{fit['what'][:1].upper()}{fit['what'][1:]} and its distortion against radius"
        words = "points as measured with 95 % bars, the line as fitted, its 95 % band, and the target dashed"
        yield Figure(f"radius-{place}", title, words, data, layout)


def _band_of_fit(fit: Arrays) -> Iterator[dict[str, Any]]:
    radii = fit["fit_radius_mm"]
    if not radii:
        return
    quiet = {"showlegend": False, "hoverinfo": "skip"}
    yield _line(radii, fit["fit_low_deg"], "fit, low", "curve-1", width=0) | quiet
    yield (
        _line(radii, fit["fit_high_deg"], "fit, high", "curve-1", width=0)
        | quiet
        | {
            "fill": "tonexty",
            "meta": {"colour": "curve-1", "fill": 0.18},
        }
    )
    yield _line(radii, fit["fit_error_deg"], "fitted", "curve-1") | {"hovertemplate": "%{y:+.3f}°"}
    yield _line(radii, fit["fit_distortion_percent"], "fitted", "curve-1") | {
        "yaxis": "y2",
        "showlegend": False,
        "hovertemplate": "%{y:+.3f} %",
    }
    if fit["target_error_deg"]:
        yield _line(radii, fit["target_error_deg"], "target", "curve-6", dash="8px,4px") | {
            "hovertemplate": "%{y:+.3f}°"
        }


def _points(fit: Arrays) -> Iterator[dict[str, Any]]:
    common = {
        "type": "scatter",
        "mode": "markers",
        "x": fit["radius_mm"],
        "text": fit["bands"],
        "name": "measured",
        "legendgroup": "measured",
        "marker": {"size": 10, "line": {"width": 1.5}},
        "meta": {"colour": "curve-2"},
    }
    bars = {"type": "data", "array": [1.96 * u if u is not None else 0 for u in fit["standard_uncertainty_deg"]]}
    yield common | {"y": fit["error_deg"], "error_y": bars, "hovertemplate": "%{y:+.3f}° (%{text})"}
    yield common | {
        "y": fit["distortion_percent"],
        "yaxis": "y2",
        "showlegend": False,
        "hovertemplate": "%{y:+.3f} % (%{text})",
    }


def _responses(curves: Sequence[Arrays]) -> Figure | None:
    if not curves:
        return None
    data = list(_levels(curves))
    layout = _layout(height=360) | {
        "xaxis": _axis("Frequency (Hz)", type="log"),
        "yaxis": _axis("Level (dB)"),
    }
    return Figure("response", "Response", f"0 dB is {curves[0]['reference']}", data, layout)


def _noise(curves: Sequence[Arrays], hum: Sequence[tuple[float, float]]) -> Figure | None:
    if not curves:
        return None
    notes = [_named(frequency, level) for frequency, level in hum]
    layout = _layout(height=400) | {
        "xaxis": _axis("Frequency (Hz)", type="log"),
        "yaxis": _axis("Level (dB)"),
        "annotations": notes,
    }
    words = f"0 dB is {curves[0]['reference']}" + ("; lines of hum are named" if hum else "")
    return Figure("noise", "Spectra of noise", words, list(_levels(curves)), layout)


def _named(frequency_hz: float, level_db: float) -> dict[str, Any]:
    # On an axis of logarithms a note stands at the logarithm.
    return {
        "x": log10(frequency_hz),
        "y": level_db,
        "text": f"hum {frequency_hz:.0f} Hz",
        "ay": -28,
        "ax": 0,
        "showarrow": True,
    }


def _levels(curves: Sequence[Arrays]) -> Iterator[dict[str, Any]]:
    several = len({curve["band"] for curve in curves}) > 1
    for place, curve in enumerate(curves):
        name = f"{curve['trace']}, {curve['band']}" if several else str(curve["trace"])
        colour = f"curve-{place % 6 + 1}" if several else TRACE_COLOURS.get(curve["trace"], "curve-4")
        yield _line(curve["frequency_hz"], curve["level_db"], name, colour) | {"hovertemplate": "%{y:.2f} dB"}


def _ladders(ladders: Sequence[Arrays]) -> Figure | None:
    if not ladders:
        return None
    data, shapes = [], []
    for ladder in ladders:
        colour = TRACE_COLOURS.get(ladder["channel"], "curve-4")
        line = _line(ladder["peak_velocity_cm_s"], ladder["distortion_percent"], ladder["channel"], colour)
        data.append(line | {"mode": "lines+markers", "hovertemplate": "%{y:.3f} %"})
        if ladder["breaks_at_cm_s"] is not None:
            shapes.append(_upright(ladder["breaks_at_cm_s"], colour))
    layout = _layout(height=340) | {
        "xaxis": _axis("Peak velocity (cm/s)"),
        "yaxis": _axis("Distortion (%)", type="log"),
        "shapes": shapes,
    }
    words = "upright lines: where a channel breaks down"
    return Figure("ladder", "Tracking ability, step by step", words, data, layout)


def _upright(x: float, colour: str) -> dict[str, Any]:
    line = {"dash": "dot", "width": 2}
    return {"type": "line", "x0": x, "x1": x, "yref": "paper", "y0": 0, "y1": 1, "line": line, "name": colour}


def _line(
    x: Sequence[float], y: Sequence[float], name: str, colour: str, *, dash: str = "solid", width: float = 2
) -> dict[str, Any]:
    line = {"dash": dash, "width": width}
    return {"type": "scatter", "mode": "lines", "x": x, "y": y, "name": name, "line": line, "meta": {"colour": colour}}


def _axis(title: str, **options: Any) -> dict[str, Any]:
    return {"title": {"text": title}, "ticks": "outside", **options}


def _layout(*, height: int, top: int = 8) -> dict[str, Any]:
    return {
        "hovermode": "x unified",
        "height": height,
        "margin": {"l": LEFT_MARGIN, "r": RIGHT_MARGIN, "t": top, "b": 52},
        "legend": {"orientation": "h", "y": 1.02, "yanchor": "bottom", "x": 0},
    }
