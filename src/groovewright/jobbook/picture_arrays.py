"""Arrays of a capture's pictures, thinned to what a screen shows, as they are kept in a file."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from itertools import pairwise
from typing import Any

import numpy as np
from numpy.typing import NDArray

from groovewright.testtone.capture.capture_pictures import CapturePictures, LevelCurve, RadiusFit, RasterPicture
from groovewright.testtone.finding.overview import Overview

Array = NDArray[np.float64]
Indices = NDArray[np.intp]

MOST_POINTS = 1600
MOST_TURNS = 180
MOST_ANGLES = 360
SIGNIFICANT_DIGITS = 6


def overview_arrays(overview: Overview) -> dict[str, Any]:
    """Return the outline of the recording, a list for each channel."""
    return {
        "start_s": _rounded(overview.start_s),
        "lowest": [_rounded(channel) for channel in overview.lowest.T],
        "highest": [_rounded(channel) for channel in overview.highest.T],
    }


def picture_arrays(pictures: CapturePictures) -> dict[str, Any]:
    """Return everything else that is drawn of a capture."""
    return {
        "speed": [
            _kept(extremes(c.deviation_percent), c.band, time_s=c.time_s, deviation_percent=c.deviation_percent,
                  without_eccentricity_percent=c.without_eccentricity_percent)
            for c in pictures.speed
        ],
        "speed_spectra": [
            _kept(peaks(c.frequency_hz, c.amplitude_percent), c.band, frequency_hz=c.frequency_hz,
                  amplitude_percent=c.amplitude_percent)
            for c in pictures.speed_spectra
        ],
        "rasters": [_raster(raster) for raster in pictures.rasters],
        "radius_fits": [_radius_fit(fit) for fit in pictures.radius_fits],
        "responses": [_level(curve) for curve in pictures.responses],
        "noise_spectra": [_level(curve) for curve in pictures.noise_spectra],
        "ladders": [
            {
                "channel": ladder.channel,
                "peak_velocity_cm_s": _rounded(ladder.peak_velocity_cm_s),
                "distortion_percent": _rounded(ladder.distortion_percent),
                "breaks_at_cm_s": ladder.breaks_at_cm_s,
            }
            for ladder in pictures.ladders
        ],
    }  # fmt: skip


def read_pictures(content: bytes) -> dict[str, Any]:
    """Return what a kept file holds for the pictures.

    Raises
    ------
    ValueError
        If it is no such file.
    """
    try:
        found = json.loads(content)
    except (UnicodeDecodeError, RecursionError) as error:
        raise ValueError("the kept pictures are no JSON") from error
    if not isinstance(found, dict) or not isinstance(found.get("overview"), dict):
        raise ValueError("the kept pictures hold no outline of the recording")
    return found


def extremes(values: Array, most: int = MOST_POINTS) -> Indices:
    """Return the places of the lowest and the highest of each stretch, so that no peak is lost in thinning.

    >>> extremes(np.array([0.0, 5.0, 1.0, -3.0, 2.0, 2.5]), most=4).tolist()
    [0, 1, 3, 5]
    """
    if len(values) <= most:
        return np.arange(len(values))
    edges = np.linspace(0, len(values), most // 2 + 1).astype(int)
    places: set[int] = set()
    for first, last in pairwise(edges):
        stretch = values[first:last]
        places |= {int(first + np.argmin(stretch)), int(first + np.argmax(stretch))}
    return np.array(sorted(places), dtype=np.intp)


def peaks(frequency_hz: Array, values: Array, most: int = MOST_POINTS) -> Indices:
    """Return the places of the highest in each of many equal parts of an octave; the lowest frequencies all stay."""
    above = np.flatnonzero(frequency_hz > 0)
    if len(above) <= most:
        return above
    low, high = np.log(frequency_hz[above[0]]), np.log(frequency_hz[above[-1]])
    part = np.minimum((np.log(frequency_hz[above]) - low) / (high - low) * most, most - 1).astype(int)
    starts = np.flatnonzero(np.diff(part, prepend=-1))
    ends = np.append(starts[1:], len(above))
    return np.array(
        [above[a + int(np.argmax(values[above[a:b]]))] for a, b in zip(starts, ends, strict=True)], dtype=np.intp
    )


def _kept(places: Indices, band: str, **arrays: Array) -> dict[str, Any]:
    return {"band": band, **{name: _rounded(array[places]) for name, array in arrays.items()}}


def _level(curve: LevelCurve) -> dict[str, Any]:
    kept = _kept(
        peaks(curve.frequency_hz, curve.level_db), curve.band, frequency_hz=curve.frequency_hz, level_db=curve.level_db
    )
    return {**kept, "trace": curve.trace, "reference": curve.reference}


def _raster(raster: RasterPicture) -> dict[str, Any]:
    turns = _every(len(raster.turn), MOST_TURNS)
    angles = _every(len(raster.angle_deg), MOST_ANGLES)
    return {
        "band": raster.band,
        "angle_deg": _rounded(raster.angle_deg[angles]),
        "turn": _rounded(raster.turn[turns]),
        "deviation_percent": [_rounded(row[angles]) for row in raster.deviation_percent[turns]],
    }


def _every(count: int, most: int) -> Indices:
    return np.arange(0, count, max(1, -(-count // most)))


def _radius_fit(fit: RadiusFit) -> dict[str, Any]:
    arrays: Mapping[str, Array] = {
        name: getattr(fit, name)
        for name in (
            "radius_mm",
            "error_deg",
            "standard_uncertainty_deg",
            "distortion_percent",
            "fit_radius_mm",
            "fit_error_deg",
            "fit_low_deg",
            "fit_high_deg",
            "fit_distortion_percent",
            "target_error_deg",
        )
    }
    return {"what": fit.what, "bands": list(fit.bands), **{name: _rounded(array) for name, array in arrays.items()}}


def _rounded(values: Array | Sequence[float]) -> list[float | None]:
    """Return plain numbers of six digits; JSON has no word for what is no number, so None stands for it."""
    array = np.asarray(values, dtype=float)
    return [float(f"{value:.{SIGNIFICANT_DIGITS}g}") if np.isfinite(value) else None for value in array]
