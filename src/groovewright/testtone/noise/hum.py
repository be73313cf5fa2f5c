"""Hum: lines at a mains frequency and its harmonics, found in a span of noise and told apart from rumble."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from groovewright.testtone.noise.spectral_floor import spectral_floor

MAINS_HZ = (50.0, 60.0)

MAINS_SPAN_HZ = 0.25
"""How far a mains frequency is looked for beside its nominal value; networks and recorders stay well within."""

FALSE_ALARM = 1e-3
"""Chance that a line is named in noise which holds none."""

_PADDING = 8


@dataclass(frozen=True)
class Line:
    """One hum line in one or more channels.

    Attributes
    ----------
    mains_hz : float
        Nominal frequency it belongs to: 50 or 60. [Hz]
    harmonic : int
        1 for that frequency itself.
    frequency_hz, frequency_uncertainty_hz : float
        As found. [Hz]
    power : ndarray, shape (channels,)
        Mean square of the line, freed of the noise under it. [square of the samples' unit]
    power_uncertainty : ndarray, shape (channels,)
        Its standard uncertainty.
    shown : ndarray of bool, shape (channels,)
        Whether it stands out of the noise of that channel.
    """

    mains_hz: float
    harmonic: int
    frequency_hz: float
    frequency_uncertainty_hz: float
    power: NDArray[np.float64]
    power_uncertainty: NDArray[np.float64]
    shown: NDArray[np.bool_]


@dataclass(frozen=True)
class Spectra:
    """Padded power spectra of a span, and the noise beside each line of them.

    Attributes
    ----------
    power, noise : ndarray, shape (lines, channels)
        Power of a sine that would stand there, and the same of the noise around it.
    step_hz : float
        Between lines. [Hz]
    """

    power: NDArray[np.float64]
    noise: NDArray[np.float64]
    step_hz: float

    def excess(self, frequency_hz: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return power over noise in the channel in which it is greatest, at frequencies of any shape."""
        index = np.rint(frequency_hz / self.step_hz).astype(int)
        return np.asarray((self.power[index] / self.noise[index]).max(axis=-1))


def find_hum(
    samples: NDArray[np.float64], rate_hz: float, *, taper: NDArray[np.float64], band_hz: tuple[float, float]
) -> tuple[Line, ...]:
    """Return the hum lines that stand out of the noise within a band, of one mains frequency.

    Parameters
    ----------
    samples : ndarray, shape (frames, channels)
        A span of noise.
    rate_hz : float
        Frames a second. [Hz]
    taper : ndarray, shape (frames,)
        Weight that falls to nearly 0 at both ends, so that strong slow parts don't leak into the band.
    band_hz : tuple of float
        Harmonics are looked for within it. [Hz]

    Notes
    -----
    The threshold follows the exponential distribution of a noise line's power and the number of places looked at. A
    motor that runs in step with the mains shakes at the same frequencies; no recording of one speed tells those apart.
    """
    spectra = _spectra(samples, rate_hz, taper)
    duration_s = float(taper.sum() / rate_hz)
    excess, mains_hz, near_hz = max(_of_mains(spectra, mains_hz, duration_s, band_hz) for mains_hz in MAINS_HZ)
    if excess == 0.0:
        return ()
    harmonics = _harmonics(mains_hz, band_hz)
    base_hz = _top(samples, rate_hz, taper, spectra, near_hz=near_hz, harmonics=harmonics)
    places_hz = base_hz * harmonics
    limit = math.log(samples.shape[1] * harmonics.size / FALSE_ALARM)
    noise = spectra.noise[np.rint(places_hz / spectra.step_hz).astype(int)]
    line_power = 2 * np.abs(_lines_at(samples, rate_hz, taper, places_hz)) ** 2 / taper.sum() ** 2
    over = line_power / noise
    shown = over > limit
    # A strong line leaks into its own neighbourhood, so the noise beside it is judged once it is taken out.
    rest = without_lines(samples, rate_hz, places_hz, shown, taper=taper)
    noise = _spectra(rest, rate_hz, taper).noise[np.rint(places_hz / spectra.step_hz).astype(int)]
    weight = (harmonics**2 * np.where(shown, line_power / noise, 0.0).max(axis=1)).sum()
    # Bound of a line's frequency in noise, with the ratio amplitude^2 T / (2 density), density one-sided.
    base_uncertainty_hz = math.sqrt(6 / weight) / (2 * math.pi * duration_s)
    power = np.maximum(line_power - noise, 0.0)
    uncertainty = np.sqrt(2 * power * noise + noise**2)
    return tuple(
        Line(
            mains_hz=mains_hz,
            harmonic=int(harmonics[k]),
            frequency_hz=float(places_hz[k]),
            frequency_uncertainty_hz=float(harmonics[k] * base_uncertainty_hz),
            power=power[k],
            power_uncertainty=uncertainty[k],
            shown=shown[k],
        )
        for k in np.flatnonzero(shown.any(axis=1))
    )


def without_lines(
    samples: NDArray[np.float64],
    rate_hz: float,
    places_hz: NDArray[np.float64],
    shown: NDArray[np.bool_],
    *,
    taper: NDArray[np.float64],
) -> NDArray[np.float64]:
    """Return the samples without sines at these places, fitted by least squares in each channel that shows them.

    `shown` has the shape (places, channels).
    """
    remaining = samples.copy()
    time_s = np.arange(samples.shape[0]) / rate_hz
    for channel in range(samples.shape[1]):
        turning = [2 * np.pi * place_hz * time_s for place_hz in places_hz[shown[:, channel]]]
        if not turning:
            continue
        sines = np.stack([part(angle) for angle in turning for part in (np.cos, np.sin)], axis=1)
        weighted = sines * taper[:, np.newaxis]
        coefficients = np.linalg.solve(weighted.T @ sines, weighted.T @ samples[:, channel])
        remaining[:, channel] -= sines @ coefficients
    return remaining


def _spectra(samples: NDArray[np.float64], rate_hz: float, taper: NDArray[np.float64]) -> Spectra:
    count = samples.shape[0]
    lines = np.fft.rfft(samples * taper[:, np.newaxis], n=_PADDING * count, axis=0)
    power = 2 * np.abs(lines) ** 2 / taper.sum() ** 2
    step_hz = rate_hz / (_PADDING * count)
    # Natural lines stand _PADDING of these apart; only they are independent.
    floor = spectral_floor(power[::_PADDING], step_hz=rate_hz / count)
    places = np.arange(power.shape[0])
    noise = np.stack([np.interp(places, places[::_PADDING], column) for column in floor.T], axis=1)
    return Spectra(power, np.maximum(noise, np.finfo(float).tiny), step_hz)


def _harmonics(mains_hz: float, band_hz: tuple[float, float]) -> NDArray[np.float64]:
    lowest = math.ceil(band_hz[0] / (mains_hz - MAINS_SPAN_HZ))
    highest = math.floor(band_hz[1] / (mains_hz + MAINS_SPAN_HZ))
    return np.arange(lowest, highest + 1, dtype=float)


def _of_mains(
    spectra: Spectra, mains_hz: float, duration_s: float, band_hz: tuple[float, float]
) -> tuple[float, float, float]:
    """Return the excess of all harmonics together, the nominal and the found frequency; an excess of 0: no line."""
    harmonics = _harmonics(mains_hz, band_hz)
    if not harmonics.size:
        return 0.0, mains_hz, mains_hz
    step_hz = 1 / (16 * harmonics[-1] * duration_s)
    bases_hz = np.arange(mains_hz - MAINS_SPAN_HZ, mains_hz + MAINS_SPAN_HZ, step_hz)
    excess = spectra.excess(bases_hz[:, np.newaxis] * harmonics)
    # A line's height between natural places rises above those about as often as three times as many would.
    places = 3 * max(1.0, 2 * MAINS_SPAN_HZ * duration_s) * float(harmonics.sum()) * spectra.power.shape[1]
    if excess.max() < math.log(len(MAINS_HZ) * places / FALSE_ALARM):
        return 0.0, mains_hz, mains_hz
    total = excess.sum(axis=1)
    best = int(total.argmax())
    return float(total[best]), mains_hz, float(bases_hz[best])


def _top(
    samples: NDArray[np.float64],
    rate_hz: float,
    taper: NDArray[np.float64],
    spectra: Spectra,
    *,
    near_hz: float,
    harmonics: NDArray[np.float64],
) -> float:
    """Return the mains frequency at which the lines' power over their noise is greatest, by parabolas ever nearer."""
    index = np.rint(near_hz * harmonics / spectra.step_hz).astype(int)
    over = (spectra.power[index] / spectra.noise[index]).max(axis=1)

    def height(base_hz: float) -> float:
        lines = _lines_at(samples, rate_hz, taper, base_hz * harmonics)
        return float((np.abs(lines) ** 2 / spectra.noise[index]).sum())

    highest = math.sqrt(float((harmonics**2 * over).sum() / over.sum()))
    step_hz = rate_hz / (8 * highest * float(taper.sum()))
    base_hz = near_hz
    for _ in range(3):
        before, here, after = (height(base_hz + side * step_hz) for side in (-1, 0, 1))
        bend = before - 2 * here + after
        if bend >= 0:
            break
        base_hz += step_hz * float(np.clip((before - after) / (2 * bend), -1, 1))
    return base_hz


def _lines_at(
    samples: NDArray[np.float64], rate_hz: float, taper: NDArray[np.float64], places_hz: NDArray[np.float64]
) -> NDArray[np.complex128]:
    """Return the spectrum of the tapered samples at any frequencies, shape (frequencies, channels)."""
    time_s = np.arange(samples.shape[0]) / rate_hz
    weighted = samples * taper[:, np.newaxis]
    return np.stack([np.exp(-2j * np.pi * place_hz * time_s) @ weighted for place_hz in places_hz])
