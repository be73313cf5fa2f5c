"""Wow and flutter: deviation of the speed from its mean, weighted or not, with and without the eccentricity."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from groovewright.measurement.quantity import Quantity, Source
from groovewright.testtone.flutter_weighting import FROM_MEMORY, unweighted_gain, weighting_gain
from groovewright.testtone.quasi_peak import highest_reading, quasi_peak
from groovewright.testtone.speed import FLUTTER_HALF_WIDTH_HZ, SpeedResult

SHORTEST_S = 5.0
"""IEC 60386 asks that the two-sigma value be read over this long at least."""

EXCEEDED_SHARE = 0.05
REPLICAS, PARTNERS = 16, 2
"""How often the noise is added once more, and to each of these once again. Degrees of freedom follow from the first."""

ALIKE = 1.3
"""Two estimates of the noise within this ratio are taken for estimates of one noise."""

SHIFT_DOUBT = 0.85
"""Standard uncertainty of what noise adds to a reading, as a share of itself: it depends on details of the record
that the same noise has washed out. From simulated records, at noise of 2 to 20 % of the reading."""

LONGEST_FOR_REPLICAS = 20_000

LONGEST_EXTENSION_S = 4.0

Gain = Callable[[ArrayLike], NDArray[np.float64]]


@dataclass(frozen=True, eq=False)
class WowFlutter:
    """Wow and flutter of one tone, all in percent of the mean speed.

    Each value is what the same stretch would read without noise: noise is estimated, its share taken out, and the
    scatter that it leaves is the uncertainty. None: not shown, for the reason in `not_shown`.

    Attributes
    ----------
    weighted_2sigma, weighted_quasi_peak, unweighted_2sigma : Quantity or None
        Without weighting the band is 0.2 to 200 Hz. [%]
    weighted_2sigma_without_eccentricity, ... : Quantity or None
        The same once the once-per-turn part is taken out. [%]
    times_s, weighted_percent, unweighted_percent : ndarray
        Deviation against time with the eccentricity in it, for pictures; noise is still in it.
    notes, not_shown : tuple of str
        Sentences.
    """

    weighted_2sigma: Quantity | None
    weighted_2sigma_without_eccentricity: Quantity | None
    weighted_quasi_peak: Quantity | None
    weighted_quasi_peak_without_eccentricity: Quantity | None
    unweighted_2sigma: Quantity | None
    unweighted_2sigma_without_eccentricity: Quantity | None
    times_s: NDArray[np.float64]
    weighted_percent: NDArray[np.float64]
    unweighted_percent: NDArray[np.float64]
    notes: tuple[str, ...]
    not_shown: tuple[str, ...]


def two_sigma(deviation: NDArray[np.floating]) -> float:
    """Return the size that the deviation exceeds for 5 % of the time.

    A sine of peak P gives 0.9969 P, Gaussian noise of standard deviation s gives 1.960 s.
    """
    return float(np.quantile(np.abs(deviation), 1 - EXCEEDED_SHARE))


def wow_flutter(speed: SpeedResult, *, source: str = "noise on the speed tone", seed: int = 1) -> WowFlutter:
    """Return wow and flutter of a tone whose speed was fitted.

    The fitted parts (once per turn, steady flutters) are weighted by their own frequency, so the edges of the
    stretch do not touch them; what is left is weighted in the frequency domain. The weighting acts on size and not
    on phase. Its table is from memory of IEC 60386 and AES6, and so are three of the four pulses that the
    quasi-peak detector is fitted to: see `flutter_weighting` and `quasi_peak`.

    Parameters
    ----------
    speed : SpeedResult
        From `speed_of`, its baseband at least 250 Hz wide to each side.
    source : str
        Label of the noise in the uncertainties.
    seed : int
        Of the noise that is added once more to learn what noise does to each value.

    Raises
    ------
    ValueError
        If the baseband is too narrow for flutter up to 200 Hz.
    """
    width_hz = speed.baseband.half_width_hz
    if width_hz < FLUTTER_HALF_WIDTH_HZ:
        raise ValueError(
            f"the tone is demodulated {width_hz:g} Hz wide; flutter up to 200 Hz needs {FLUTTER_HALF_WIDTH_HZ:g} Hz, "
            f"so measure it on a tone of 400 Hz or more"
        )
    filters = FlutterFilters(speed)
    weighted = filters.deviation(weighting_gain)
    unweighted = filters.deviation(unweighted_gain)
    fit = speed.fit
    length_s = float(fit.times_s[-1] - fit.times_s[0])
    notes = (FROM_MEMORY,)
    if length_s < SHORTEST_S or not fit.has_turn:
        why = f"Wow and flutter is not shown: it needs {SHORTEST_S:g} s of the tone and {length_s:.1f} s can be used."
        return WowFlutter(None, None, None, None, None, None, fit.times_s, weighted[0], unweighted[0], notes, (why,))
    rng = np.random.default_rng(seed)
    noise = filters.noise_alone(weighting_gain, rng)
    sigma = [two_sigma_without_noise(signal, noise, source=source) for signal in weighted]
    rate_hz = speed.baseband.rate_hz
    peak = [_quasi_peak_without_noise(signal, noise, rate_hz=rate_hz, source=source) for signal in weighted]
    noise = filters.noise_alone(unweighted_gain, rng)
    wide = [two_sigma_without_noise(signal, noise, source=source) for signal in unweighted]
    return WowFlutter(
        weighted_2sigma=sigma[0],
        weighted_2sigma_without_eccentricity=sigma[1],
        weighted_quasi_peak=peak[0],
        weighted_quasi_peak_without_eccentricity=peak[1],
        unweighted_2sigma=wide[0],
        unweighted_2sigma_without_eccentricity=wide[1],
        times_s=fit.times_s,
        weighted_percent=weighted[0],
        unweighted_percent=unweighted[0],
        notes=notes,
        not_shown=(),
    )


def two_sigma_without_noise(signal: NDArray[np.float64], noise: NDArray[np.floating], *, source: str) -> Quantity:
    """Return the two-sigma value that a deviation would have without its noise.

    Parameters
    ----------
    signal : ndarray, shape (n,)
        Deviation with its noise. [%]
    noise : ndarray, shape (replicas, n)
        Draws of noise of the same size. [%]
    source : str
        Label in the uncertainty.
    """
    # Neighbours say much the same; a long record is thinned for what only tells of the noise.
    thin = max(1, signal.size // LONGEST_FOR_REPLICAS)
    seen, added = signal[::thin], noise[:, ::thin]
    once = np.array([two_sigma(seen + more) for more in added])
    twice = np.array([[two_sigma(seen + p) for p in _partners(added, k)] for k in range(len(added))])
    return _carried_back(two_sigma(signal), once, twice, source)


def _quasi_peak_without_noise(
    signal: NDArray[np.float64], noise: NDArray[np.floating], *, rate_hz: float, source: str
) -> Quantity:
    """Return the quasi-peak reading without noise; what noise does is told from where it reads highest."""
    read, where = highest_reading(signal, rate_hz)
    seen, added = signal[where], noise[:, where]
    pairs = [p for k in range(len(added)) for p in _partners(added, k)]
    shown = quasi_peak(np.array([seen + more for more in [*added, *pairs]], dtype=np.float32), rate_hz)
    once, twice = shown[: len(added)], shown[len(added) :].reshape(len(added), -1)
    return _carried_back(read, once, twice, source)


def _partners(noise: NDArray[np.floating], k: int) -> list[NDArray[np.floating]]:
    """Return draw k with each of a few other draws on top, as powers add."""
    return [noise[k] + noise[(k + step) % len(noise)] for step in range(1, PARTNERS + 1)]


def _carried_back(read: float, once: NDArray[np.floating], twice: NDArray[np.floating], source: str) -> Quantity:
    """Return what would be read without noise, and how far that may be off. [%]

    Noise adds to the square of a reading, so the square is carried back by as much as it rises from noise added once
    to noise added twice. How the reading scatters with the noise added shows how far it may be off.
    """
    rises = np.mean(twice**2, axis=1) - once**2
    square = max(read**2 - float(np.mean(rises)), 0.0)
    scatter = math.sqrt(float(np.var(once**2, ddof=1) + np.var(rises, ddof=1) / once.size))
    shift = SHIFT_DOUBT * abs(float(np.mean(rises)))
    value = math.sqrt(square)
    per_square = min(1 / (2 * value) if value > 0 else math.inf, 1 / math.sqrt(math.hypot(scatter, shift) or 1.0))
    components = {
        Source(f"{source}, in the deviation", once.size - 1): scatter * per_square,
        Source(f"{source}, its share of the reading"): shift * per_square,
    }
    return Quantity(value, "%", components, how="noise taken out")


def _phase_noise(speed: SpeedResult, rest: NDArray[np.float64]) -> float:
    """Return the one-sided density of the noise in the phase. [rad^2/Hz]

    Noise that is added to a tone shakes its size as much as its phase; flutter shakes the phase only, and a rumbling
    level the size only. So the quieter of the two, far from the carrier, is the noise; where both agree, their mean is.
    """
    size = np.abs(speed.baseband.samples)
    window = np.hanning(rest.size + 2)[1:-1]
    frequency = np.fft.rfftfreq(rest.size, 1 / speed.baseband.rate_hz)
    far = (frequency > 0.5 * speed.baseband.half_width_hz) & (frequency < 0.95 * speed.baseband.half_width_hz)
    densities = []
    for series in (size / np.median(size) - 1, rest):
        power = np.abs(np.fft.rfft((series - series.mean()) * window)[far]) ** 2
        densities.append(2 * float(np.median(power)) / math.log(2) / (speed.baseband.rate_hz * np.sum(window**2)))
    quieter, louder = sorted(densities)
    return (quieter + louder) / 2 if louder < ALIKE * quieter else quieter


class FlutterFilters:
    """The deviation of one tone, and the noise in it, through any gain against frequency."""

    def __init__(self, speed: SpeedResult) -> None:
        from scipy.fft import next_fast_len

        self.fit = speed.fit
        self.mean_hz = speed.mean_frequency_hz
        self.rate_hz = speed.baseband.rate_hz
        rest = self.fit.remainder_rad()
        self.count = rest.size
        extension = min(self.count - 1, int(LONGEST_EXTENSION_S * self.rate_hz))
        self.extension = extension
        # Turned about its ends the phase goes on without a step or a kink; then it fades out.
        fade = np.sin(np.linspace(0, np.pi / 2, extension, endpoint=False)) ** 2
        before = (2 * rest[0] - rest[extension:0:-1]) * fade
        after = (2 * rest[-1] - rest[-2 : -extension - 2 : -1]) * fade[::-1]
        self.length = int(next_fast_len(self.count + 2 * extension, real=True))
        self.spectrum = np.fft.rfft(np.concatenate([before, rest, after]), n=self.length)
        self.frequency_hz = np.fft.rfftfreq(self.length, 1 / self.rate_hz)
        self.phase_noise = _phase_noise(speed, rest)

    def deviation(self, gain: Gain) -> list[NDArray[np.float64]]:
        """Return the deviation with and without the once-per-turn part. [%]"""
        slope = 1j * self.frequency_hz / self.mean_hz * gain(self.frequency_hz)
        filtered = np.fft.irfft(self.spectrum * slope, n=self.length)[self.extension :][: self.count]
        seconds = self.fit.times_s - self.fit.middle_s
        for line in self.fit.lines:
            size = line.frequency_hz / self.mean_hz * float(gain(line.frequency_hz))
            turned = 2 * np.pi * line.frequency_hz * seconds
            filtered += size * (line.sine_rad * np.cos(turned) - line.cosine_rad * np.sin(turned))
        filtered *= 100
        turn_hz = self.fit.turn_hz * (1 + self.fit.speed_error)
        return [filtered + 100 * float(gain(turn_hz)) * self.fit.once_per_turn_speed(), filtered]

    def noise_alone(self, gain: Gain, rng: np.random.Generator) -> NDArray[np.floating]:
        """Return draws of what the noise adds to the deviation, shape (replicas, n). [%]"""
        size = self.frequency_hz.size
        slope = 100 * self.frequency_hz / self.mean_hz * gain(self.frequency_hz)
        slope *= math.sqrt(self.phase_noise * self.rate_hz * self.length) / 2
        draws = np.empty((REPLICAS, self.count), dtype=np.float32)
        for draw in draws:
            drawn = rng.standard_normal(2 * size, dtype=np.float32).view(np.complex64)
            draw[:] = np.fft.irfft(drawn * slope, n=self.length)[: self.count]
        return draws
