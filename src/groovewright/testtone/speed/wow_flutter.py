"""Wow and flutter: deviation of the speed from its mean, weighted or not, with and without the eccentricity."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from groovewright.measurement.formatting import format_number
from groovewright.measurement.quantity import Quantity, Source
from groovewright.testtone.speed.flutter_weighting import FROM_MEMORY, unweighted_gain, weighting_gain
from groovewright.testtone.speed.quasi_peak import highest_readings, quasi_peak
from groovewright.testtone.speed.speed import FLUTTER_HALF_WIDTH_HZ, SpeedResult
from groovewright.testtone.tones.flat_taper import flat_taper

SHORTEST_S = 5.0
"""IEC 60386 asks that the two-sigma value be read over this long at least."""

EXCEEDED_SHARE = 0.05
REPLICAS = 16
"""How often noise is drawn to learn what it does to a reading; degrees of freedom follow from it."""

ALIKE = 1.3
"""Two estimates of the noise within this ratio are taken for estimates of one noise."""

FAR_SHARES = (0.5, 0.95)
"""Of the baseband's half width, between which noise is told."""

SMOOTHED_BINS, CLEARLY_SIGNAL = 51, 1.65
"""Independent bins over which the power is averaged, and how far above noise it must lie before it counts as signal: of
noise alone the average lies as high anywhere below 200 Hz in one of 70 stretches of 8 s."""

LONGEST_FOR_REPLICAS = 12_000

METHOD_RELATIVE, METHOD_PERCENT = 2.5e-5, 1e-6
"""Standard uncertainty of the method itself: what filters, the finite stretch and an arm beside its target leave where
there is no noise. On 160 simulated decks without noise the root mean square was 0.0023 % of the reading, and the most
0.009 %."""

LONGEST_EXTENSION_S, NEAR_THE_END_S = 4.0, 0.1

EDGE_SHARE = 0.05
"""Of a stretch, tapered at either end before its power is told."""

Gain = Callable[[ArrayLike], NDArray[np.float64]]


@dataclass(frozen=True, eq=False)
class WowFlutter:
    """Wow and flutter of one tone, all in percent of the mean speed.

    Each value is what the same stretch would read without noise: noise is estimated and taken out, and what may be
    left of it, or gone with it, is the uncertainty. None: not shown, for the reason in `not_shown`.

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
    weighted, unweighted = filters.deviation(weighting_gain)[0], filters.deviation(unweighted_gain)[0]
    times_s = speed.fit.times_s
    length_s = float(times_s[-1] - times_s[0])
    notes: tuple[str, ...] = (FROM_MEMORY,)
    if length_s < SHORTEST_S or not speed.fit.has_turn:
        why = f"Wow and flutter is not shown: it needs {SHORTEST_S:g} s of the tone and {length_s:.1f} s can be used."
        return WowFlutter(None, None, None, None, None, None, times_s, weighted, unweighted, notes, (why,))
    rng = np.random.default_rng(seed)
    sigma = two_sigma_without_noise(filters, weighting_gain, rng, source=source)
    wide = two_sigma_without_noise(filters, unweighted_gain, rng, source=source)
    peak = _quasi_peak_without_noise(filters, rng, source=source)
    hidden = filters.hidden_percent(weighting_gain)
    notes = (
        *notes,
        f"Unsteady flutter of {_at_most(hidden)} (weighted, rms) would not stand out of the noise "
        "of this tone; it is not in the uncertainty.",
    )
    return WowFlutter(
        weighted_2sigma=sigma[0],
        weighted_2sigma_without_eccentricity=sigma[1],
        weighted_quasi_peak=peak[0],
        weighted_quasi_peak_without_eccentricity=peak[1],
        unweighted_2sigma=wide[0],
        unweighted_2sigma_without_eccentricity=wide[1],
        times_s=times_s,
        weighted_percent=weighted,
        unweighted_percent=unweighted,
        notes=notes,
        not_shown=(),
    )


def two_sigma_without_noise(
    filters: FlutterFilters, gain: Gain, rng: np.random.Generator, *, source: str
) -> list[Quantity]:
    """Return the two-sigma values that a deviation would have without its noise, with and without eccentricity.

    Parameters
    ----------
    filters : FlutterFilters
        Of the tone.
    gain : callable
        Weighting against frequency.
    rng : Generator
        For the draws of noise.
    source : str
        Label in the uncertainty.
    """
    # Neighbours say much the same; a long record is thinned for what only tells of the noise.
    every = max(1, filters.count // LONGEST_FOR_REPLICAS)
    doubt = filters.draws_of_doubt(gain, rng, np.arange(0, filters.count, every))
    return [
        _reading(
            two_sigma(quiet) - two_sigma(quiet[::every]),
            np.array([two_sigma(quiet[::every] + more) for more in doubt]),
            filters,
            source,
        )
        for quiet in filters.deviation(gain, filters.kept)
    ]


def _quasi_peak_without_noise(filters: FlutterFilters, rng: np.random.Generator, *, source: str) -> list[Quantity]:
    """Return quasi-peak readings without noise; what noise does is told from where each signal reads highest."""
    quiet = np.array(filters.deviation(weighting_gain, filters.kept), dtype=np.float32)
    _, where = highest_readings(quiet, filters.rate_hz)
    doubt = filters.draws_of_doubt(weighting_gain, rng, np.arange(where[0].start, where[0].stop))
    highest = np.array([signal[stretch] for signal, stretch in zip(quiet, where, strict=True)])
    shown = quasi_peak(highest[:, np.newaxis] + doubt, filters.rate_hz)
    return [_reading(0.0, row, filters, source) for row in shown]


def _reading(offset: float, drawn: NDArray[np.floating], filters: FlutterFilters, source: str) -> Quantity:
    """Return the mean and the scatter of what the signal may read, given what was recorded. [%]"""
    u = float(np.std(drawn, ddof=1))
    degrees_of_freedom = math.inf
    if filters.kept.any():
        # Noise itself was drawn, and not only what it did to a few numbers.
        u *= math.sqrt(1 + 1 / drawn.size)
        degrees_of_freedom = drawn.size - 1
    value = max(offset + float(np.mean(drawn)), 0.0)
    parts = {
        Source(f"{source}, in the deviation", degrees_of_freedom): u,
        Source(f"{source}, method of wow and flutter"): math.hypot(METHOD_RELATIVE * value, METHOD_PERCENT),
    }
    return Quantity(value, "%", parts, how="noise taken out")


def _phase_noise(speed: SpeedResult, rest: NDArray[np.float64]) -> float:
    """Return the one-sided density of the noise in the phase. [rad^2/Hz]

    Noise that is added to a tone shakes its size as much as its phase; flutter shakes the phase only, and a rumbling
    level the size only. So the quieter of the two, far from the carrier, is the noise; where both agree, their mean is.
    """
    size = np.abs(speed.baseband.samples)
    window = np.hanning(rest.size + 2)[1:-1]
    # As long as it is, a stretch may have a length that transforms thirty times more slowly.
    length = fast_length(rest.size)
    frequency = np.fft.rfftfreq(length, 1 / speed.baseband.rate_hz)
    nearest_hz, farthest_hz = (share * speed.baseband.half_width_hz for share in FAR_SHARES)
    far = (frequency > nearest_hz) & (frequency < farthest_hz)
    densities = []
    for series in (size / np.median(size) - 1, rest):
        power = np.abs(np.fft.rfft((series - series.mean()) * window, n=length)[far]) ** 2
        densities.append(2 * float(np.median(power)) / math.log(2) / (speed.baseband.rate_hz * np.sum(window**2)))
    quieter, louder = sorted(densities)
    return (quieter + louder) / 2 if louder < ALIKE * quieter else quieter


def fast_length(count: int) -> int:
    """Return a length of at least `count` whose Fourier transform is fast."""
    from scipy.fft import next_fast_len

    return int(next_fast_len(count, real=True))


def _even_draws(rng: np.random.Generator, ways: int) -> NDArray[np.float64]:
    """Return draws of so many numbers, shape (replicas, ways), each of mean 0 and variance 1 over the few draws too.

    As far as there are more draws than numbers these are uncorrelated, so what a reading does in proportion to the
    first of them is known exactly and not by the luck of sixteen draws.
    """
    drawn = rng.standard_normal((REPLICAS, ways))
    drawn -= drawn.mean(axis=0)
    even = min(ways, REPLICAS - 1)
    drawn[:, :even] = np.linalg.qr(drawn[:, :even])[0]
    scaled: NDArray[np.float64] = drawn / drawn.std(axis=0, ddof=1)
    return scaled


class FlutterFilters:
    """The deviation of one tone, and the noise in it, through any gain against frequency."""

    def __init__(self, speed: SpeedResult) -> None:
        self.fit = speed.fit
        self.mean_hz = speed.mean_frequency_hz
        self.rate_hz = speed.baseband.rate_hz
        self.half_width_hz = speed.baseband.half_width_hz
        rest = self.fit.remainder_rad()
        self.count = rest.size
        extension = min(self.count - 1, int(LONGEST_EXTENSION_S * self.rate_hz))
        self.extension = extension
        # Turned about its ends the phase goes on without a step or a kink; then it fades out. Where it ends is a mean,
        # for one sample is mostly noise.
        near = max(1, min(self.count // 8, int(NEAR_THE_END_S * self.rate_hz)))
        first, last = rest[:near].mean(), rest[-near:].mean()
        fade = np.sin(np.linspace(0, np.pi / 2, extension, endpoint=False)) ** 2
        before = (2 * first - rest[extension:0:-1]) * fade
        after = (2 * last - rest[-2 : -extension - 2 : -1]) * fade[::-1]
        self.length = fast_length(self.count + 2 * extension)
        self.spectrum = np.fft.rfft(np.concatenate([before, rest, after]), n=self.length)
        self.frequency_hz = np.fft.rfftfreq(self.length, 1 / self.rate_hz)
        self.phase_noise = _phase_noise(speed, rest)
        self.turn_hz = self.fit.turn_hz * (1 + self.fit.speed_error)
        self.once_per_turn = self.fit.once_per_turn_speed()
        self.kept = self._share_of_signal(rest)
        seconds = self.fit.times_s - self.fit.middle_s
        self.steady = [(line.frequency_hz, line.speed(seconds, self.mean_hz)) for line in self.fit.lines]

    def deviation(self, gain: Gain, kept: ArrayLike = 1.0) -> list[NDArray[np.float64]]:
        """Return the deviation with and without the once-per-turn part. [%]

        Parameters
        ----------
        gain : callable
            Weighting against frequency.
        kept : array_like
            Share kept at every frequency of what is neither steady nor once per turn.
        """
        slope = 1j * self.frequency_hz / self.mean_hz * gain(self.frequency_hz) * np.asarray(kept)
        filtered = np.fft.irfft(self.spectrum * slope, n=self.length)[self.extension :][: self.count]
        for hz, speed in self.steady:
            filtered += float(gain(hz)) * speed
        filtered *= 100
        # The once-per-turn part was fitted along the platter's own angle, so what is left is what the platter does; an
        # off-centre record plays that faster where its groove runs faster.
        return [
            filtered * (1 + self.once_per_turn) + 100 * float(gain(self.turn_hz)) * self.once_per_turn,
            filtered,
        ]

    def noise_alone(
        self, gain: Gain, kept: ArrayLike, rng: np.random.Generator, *, count: int, every: int = 1
    ) -> NDArray[np.floating]:
        """Return draws of what the noise adds to `count` samples, each so many apart, shape (replicas, count). [%]"""
        length = fast_length(count)
        rate_hz = self.rate_hz / every
        frequency = np.fft.rfftfreq(length, 1 / rate_hz)
        whole = (self.frequency_hz * gain(self.frequency_hz) * np.asarray(kept)) ** 2
        power = np.zeros(frequency.size)
        # Samples farther apart fold the faster noise onto the slower.
        for fold in range(-(every // 2) - 1, every // 2 + 2):
            power += np.interp(np.abs(frequency + fold * rate_hz), self.frequency_hz, whole, right=0.0)
        size = 100 / self.mean_hz * np.sqrt(power * self.phase_noise * rate_hz * length) / 2
        drawn = rng.standard_normal((REPLICAS, frequency.size)) + 1j * rng.standard_normal((REPLICAS, frequency.size))
        draws: NDArray[np.float32] = np.fft.irfft(drawn * size, n=length)[:, :count].astype(np.float32)
        return draws

    def draws_of_doubt(self, gain: Gain, rng: np.random.Generator, samples: NDArray[np.intp]) -> NDArray[np.floating]:
        """Return draws of how the true deviation may differ from the quiet one, at evenly spaced samples. [%]

        Where a share of the power is signal, the truth scatters about what was kept by that share of the noise's
        power. And noise moved size, phase and frequency of what was fitted.
        """
        draws = self.noise_alone(gain, np.sqrt(self.kept), rng, count=samples.size, every=int(samples[1] - samples[0]))
        along = 2 * samples / (self.count - 1) - 1
        length_s = self.count / self.rate_hz
        turned = []
        for line in self.fit.lines:
            angle = 2 * np.pi * line.frequency_hz * along * length_s / 2 + np.arctan2(line.cosine_rad, line.sine_rad)
            turned.append((line.frequency_hz, angle))
        turned.append((self.turn_hz, self.fit.angle_rad[samples]))
        # Each parameter fitted takes the noise of one sample's share: sigma squared over n, whatever it is.
        sizes = [
            100 * hz * float(gain(hz)) / self.mean_hz * math.sqrt(self.phase_noise / (2 * length_s)) for hz, _ in turned
        ]
        ways = [size * np.sqrt(2) * np.cos(angle) for size, (_, angle) in zip(sizes, turned, strict=True)]
        ways += [size * np.sqrt(2) * np.sin(angle) for size, (_, angle) in zip(sizes, turned, strict=True)]
        # A line with its own frequency: its phase may also lean, about the middle of the stretch.
        ways += [
            size * np.sqrt(6) * along * np.sin(angle) for size, (_, angle) in zip(sizes[:-1], turned[:-1], strict=True)
        ]
        draws += (_even_draws(rng, len(ways)) @ np.array(ways)).astype(np.float32)
        return draws

    def hidden_percent(self, gain: Gain) -> float:
        """Return how much unsteady flutter, spread as the noise is, may hide in it at a confidence of 95 %. [%, rms]"""
        weight = (self.frequency_hz * gain(self.frequency_hz)) ** 2
        step_hz = float(self.frequency_hz[1])
        # Lines that are independent: the weighted ones, and the far ones that the noise was told from.
        of_flutter = float(weight.sum()) ** 2 / float((weight**2).sum()) * self.count / self.length
        far = FAR_SHARES[1] - FAR_SHARES[0]
        of_noise = far * self.half_width_hz * self.count / self.rate_hz
        share = 2 * math.sqrt(1 / of_flutter + 1 / of_noise)
        return 100 / self.mean_hz * math.sqrt(share * self.phase_noise * float(weight.sum()) * step_hz)

    def _share_of_signal(self, rest: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return how much of the power at every frequency is not noise, averaged over neighbours (Wiener's filter)."""
        # Tapered, and not extended as for filtering: what is put before and behind holds no noise of its own, but all
        # that one end's happens to be.
        taper = flat_taper(self.count, edge=EDGE_SHARE * self.count)
        power = np.abs(np.fft.rfft(rest * taper, n=self.length)) ** 2
        density = 2 * power / (self.rate_hz * float(taper @ taper))
        width = SMOOTHED_BINS * self.length // self.count // 2
        summed = np.concatenate([[0.0], np.cumsum(density)])
        at = np.arange(density.size)
        low, high = np.maximum(at - width, 0), np.minimum(at + width + 1, density.size)
        smooth = (summed[high] - summed[low]) / (high - low)
        signal = smooth > CLEARLY_SIGNAL * self.phase_noise
        share: NDArray[np.float64] = np.where(signal, 1 - self.phase_noise / np.maximum(smooth, 1e-300), 0.0)
        return share


def _at_most(percent: float) -> str:
    # Nobody hears or mends a millionth.
    return "up to 0.0001 %" if percent < 1e-4 else f"up to {format_number(percent, percent)} %"
