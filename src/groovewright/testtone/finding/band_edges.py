"""Where a tone begins and ends to the millisecond, and so at which radius a stretch of it was read.

A sheet gives times to a tenth of a second at best, a platter that runs fast is early, and an arm that has swung inward
meets a band up to a tenth of a second late. At 0.25 mm a second that misplaces a band by some hundredths of a
millimetre, over which tracking error changes by some thousandths of a degree.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from groovewright.testtone.capture.recording import Recording, duration_s
from groovewright.testtone.finding.band_finder import LocatedBand
from groovewright.testtone.tones.demodulation import Baseband, demodulate

REACH_S = 0.4
"""How far from where a band should begin or end its edge is looked for, either way."""

INSIDE_SHARE = 0.25
"""Of the band, that is never taken for the silence beside it."""

WIDTH_SHARE, WIDEST_HZ = 0.25, 60.0
"""Width to each side of the tone, against its frequency; the edge of a wider one is told more sharply."""

EDGE_LEVEL = 0.5
STEADY = 0.1
"""Scatter of the level, against itself, above which noise hides where a tone begins."""


def between_its_edges(recording: Recording, at: LocatedBand) -> LocatedBand:
    """Return a tone's stretch inside the edges that the signal shows, with the radii that go with its new ends.

    A tone whose edges don't show, since another follows without a pause or it is hidden in noise, stays as it is.

    Parameters
    ----------
    recording : Recording
    at : LocatedBand
        Of kind "tone"; its radii are those where the cut begins and ends.
    """
    first_s, last_s = at.start_s, at.start_s + at.duration_s
    begins_s, ends_s = _edge_s(recording, at, first_s, outward=-1), _edge_s(recording, at, last_s, outward=1)
    if begins_s is None or ends_s is None:
        return at
    start_s, stop_s = max(first_s, begins_s), min(last_s, ends_s)
    shares = (np.array([start_s, stop_s]) - begins_s) / (ends_s - begins_s)
    outer_mm, inner_mm = at.band.radius_mm
    from_mm, to_mm = (outer_mm + (inner_mm - outer_mm) * shares).tolist()
    return replace(at, band=replace(at.band, radius_mm=(from_mm, to_mm)), start_s=start_s, duration_s=stop_s - start_s)


def _edge_s(recording: Recording, at: LocatedBand, near_s: float, *, outward: int) -> float | None:
    """Return when the level falls through half of what it is inside, seen from inside; None if it does not."""
    inside_s = min(REACH_S, INSIDE_SHARE * at.duration_s)
    start_s, stop_s = sorted((near_s - outward * inside_s, near_s + outward * REACH_S))
    start_s, stop_s = max(start_s, 0.0), min(stop_s, duration_s(recording))
    (hz,) = at.band.frequency_hz
    width_hz = min(WIDEST_HZ, WIDTH_SHARE * hz)
    try:
        channels = [
            demodulate(
                recording,
                start_s=start_s,
                duration_s=stop_s - start_s,
                mix=mix,
                carrier_hz=hz,
                half_width_hz=width_hz,
            )
            for mix in np.eye(recording.channel_count).tolist()
        ]
    except ValueError:
        return None
    return _crossing_s(channels, near_s - outward * inside_s / 2, outward)


def _crossing_s(channels: list[Baseband], middle_s: float, outward: int) -> float | None:
    times_s = channels[0].times_s[::outward]
    level: NDArray[np.float64] = np.sqrt(sum(np.abs(one.samples) ** 2 for one in channels))[::outward]
    inside = (times_s - middle_s) * outward < 0
    if inside.sum() < 4:
        return None
    plateau = float(np.median(level[inside]))
    if plateau == 0 or float(np.std(level[inside])) > STEADY * plateau:
        return None
    below = level < EDGE_LEVEL * plateau
    if not below.any():
        return None
    k = int(np.argmax(below))
    if k == 0:
        return None
    share = (level[k - 1] - EDGE_LEVEL * plateau) / (level[k - 1] - level[k])
    return float(times_s[k - 1] + share * (times_s[k] - times_s[k - 1]))
