"""Spectrum of the noise in a silent band, for its picture: a level for each part of an octave."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from groovewright.testtone.capture.capture_pictures import LevelCurve
from groovewright.testtone.capture.recording import Recording
from groovewright.testtone.noise.level_reference import LevelReference
from groovewright.testtone.resonance.low_rate import frame_span

FFT_FRAMES = 1 << 16
BANDS_AN_OCTAVE = 12
LOWEST_HZ, HIGHEST_HZ = 5.0, 20_000.0


def noise_spectrum(
    recording: Recording, *, start_s: float, duration_s: float, reference: LevelReference, band: str
) -> tuple[LevelCurve, ...]:
    """Return the level of the lateral and of the vertical noise in each twelfth of an octave.

    Parameters
    ----------
    recording : Recording
        Left and right channel, as recorded: an equalised one stays so.
    start_s, duration_s : float
        The silent stretch. [s]
    reference : LevelReference
        What counts as 0 dB.
    band : str
        Its name.

    Notes
    -----
    Averaged over windows that overlap by half, so memory doesn't grow with the band. Below the frequency at which a
    twelfth of an octave is narrower than a line of the spectrum, its level is that line's share.
    """
    start, stop = frame_span(recording, start_s=start_s, duration_s=duration_s)
    frames = min(FFT_FRAMES, stop - start)
    power: NDArray[np.float64] = np.zeros((frames // 2 + 1, 2))
    windows = 0
    taper = np.hanning(frames)
    for first in range(start, stop - frames + 1, max(1, frames // 2)):
        samples = recording.read(first, frames)
        left, right = (samples - samples.mean(axis=0)).T
        left, right = left / reference.left.value, right / reference.right.value
        walls = np.stack([(left + right) / 2, (left - right) / 2], axis=1)
        power += np.abs(np.fft.rfft(walls * taper[:, np.newaxis], axis=0)) ** 2
        windows += 1
    density: NDArray[np.float64] = 2 * power / (windows * recording.sample_rate_hz * float(taper @ taper))
    frequency_hz = np.asarray(np.fft.rfftfreq(frames, 1 / recording.sample_rate_hz), dtype=np.float64)
    centres_hz, banded = _by_octave_part(frequency_hz, density, min(HIGHEST_HZ, 0.45 * recording.sample_rate_hz))
    return tuple(
        LevelCurve(band, trace, centres_hz, 10 * np.log10(np.maximum(banded[:, k], 1e-30)), reference.label)
        for k, trace in enumerate(("lateral", "vertical"))
    )


def _by_octave_part(
    frequency_hz: NDArray[np.float64], density: NDArray[np.float64], highest_hz: float
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    count = int(BANDS_AN_OCTAVE * np.log2(highest_hz / LOWEST_HZ))
    edges_hz = LOWEST_HZ * 2 ** (np.arange(count + 1) / BANDS_AN_OCTAVE)
    step_hz = float(frequency_hz[1])
    # The running sum of the spectrum, each line as wide as the step and even over its width.
    running = np.concatenate([np.zeros((1, density.shape[1])), np.cumsum(density * step_hz, axis=0)])
    line_edges_hz = np.concatenate([frequency_hz - step_hz / 2, [frequency_hz[-1] + step_hz / 2]])
    at_edges = np.stack([np.interp(edges_hz, line_edges_hz, column) for column in running.T], axis=1)
    return np.sqrt(edges_hz[:-1] * edges_hz[1:]), np.diff(at_edges, axis=0)
