"""A recording at a glance: lowest and highest sample of every stretch, for the picture that bands are shown on."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from groovewright.testtone.capture.recording import BLOCK_FRAMES, Recording


@dataclass(frozen=True)
class Overview:
    """Lowest and highest sample of both channels in equal stretches ("bins") of a recording.

    Attributes
    ----------
    start_s : ndarray, shape (bins + 1,)
        Where each bin starts, and the last one ends. [s]
    lowest, highest : ndarray, shape (bins, channels)
        Full scale 1.0.
    """

    start_s: NDArray[np.float64]
    lowest: NDArray[np.float64]
    highest: NDArray[np.float64]


def overview(recording: Recording, bin_count: int = 2000) -> Overview:
    """Return the overview of a whole recording, in at most `bin_count` bins.

    Raises
    ------
    ValueError
        If the recording is empty or no bin is asked for.
    """
    if bin_count < 1 or recording.frame_count < 1:
        raise ValueError(f"{bin_count} bins of {recording.frame_count} frames were asked for; both must be above 0")
    bin_count = min(bin_count, recording.frame_count)
    edges = np.arange(bin_count + 1, dtype=np.int64) * recording.frame_count // bin_count
    lowest = np.full((bin_count, recording.channel_count), np.inf)
    highest = -lowest
    for start in range(0, recording.frame_count, BLOCK_FRAMES):
        samples = recording.read(start, min(BLOCK_FRAMES, recording.frame_count - start))
        first = int(np.searchsorted(edges, start, side="right")) - 1
        last = int(np.searchsorted(edges, start + len(samples), side="left"))
        inside = np.maximum(edges[first:last] - start, 0)
        np.minimum(lowest[first:last], np.minimum.reduceat(samples, inside), out=lowest[first:last])
        np.maximum(highest[first:last], np.maximum.reduceat(samples, inside), out=highest[first:last])
    return Overview(edges / recording.sample_rate_hz, lowest, highest)
