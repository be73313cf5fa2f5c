"""Noise of a silent band: its level between two frequencies, with and without hum, and the part that repeats each turn.

None of these figures is a standard's rumble figure: the curves of those standards are not held here.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from groovewright.measurement.quantity import Quantity, Source
from groovewright.testtone.capture.recording import Recording
from groovewright.testtone.noise.hum import Line, find_hum, without_lines
from groovewright.testtone.noise.level_reference import FULL_SCALE, REFERENCE_FREQUENCY_HZ, LevelReference
from groovewright.testtone.noise.spectral_floor import spectral_floor
from groovewright.testtone.noise.turn_synchronous import SynchronousPower, synchronous_power
from groovewright.testtone.noise.weighting_table import WeightingTable
from groovewright.testtone.resonance.low_rate import LowRate, read_low_rate
from groovewright.testtone.tones.equalisation import equalisation_response
from groovewright.testtone.tones.flat_taper import flat_taper

RUMBLE_BAND_HZ = (10.0, 315.0)
CHANNELS = ("left", "right", "lateral", "vertical")
SHORTEST_S = 2.0
_EDGE_S = 1.0
_DB_OF_POWER = 10 / math.log(10)
_LEAST_SIGMAS = 3.0


@dataclass(frozen=True)
class HumLine:
    """A line at a mains frequency or a harmonic of it.

    Attributes
    ----------
    mains_hz : float
        50 or 60. [Hz]
    harmonic : int
        1 for the mains frequency itself.
    frequency : Quantity
        As found. [Hz]
    level : mapping of str to Quantity
        By channel, where the line stands out of that channel's noise. [dB]
    """

    mains_hz: float
    harmonic: int
    frequency: Quantity
    level: Mapping[str, Quantity]


@dataclass(frozen=True)
class NoiseResult:
    """Level of the noise in a silent band.

    Attributes
    ----------
    label : str
        What the level is, and what it is not.
    reference : str
        What counts as 0 dB.
    duration_s : float
        How much of the recording it rests on. [s]
    band_level : mapping of str to Quantity
        Hum included, by channel: left, right, lateral, vertical. [dB]
    band_level_without_hum : mapping of str to Quantity
        The same with the hum lines taken out; equal where there are none. [dB]
    hum : tuple of HumLine
        Lines that stand out of the noise.
    turn_synchronous : mapping of str to Quantity
        The part that repeats from turn to turn, hum taken out, for channels in which it is shown. [dB]
    not_shown : mapping of str to str
        Why something is not given, by its name.
    notes : tuple of str
        What to mind.
    """

    label: str
    reference: str
    duration_s: float
    band_level: Mapping[str, Quantity]
    band_level_without_hum: Mapping[str, Quantity]
    hum: tuple[HumLine, ...]
    turn_synchronous: Mapping[str, Quantity]
    not_shown: Mapping[str, str]
    notes: tuple[str, ...]


@dataclass(frozen=True)
class _Weighting:
    """What the noise's spectrum is multiplied by before it is added up."""

    label: str
    band_hz: tuple[float, float]
    table: WeightingTable | None
    equalised: bool

    def power_gain(self, frequency_hz: ArrayLike) -> NDArray[np.float64]:
        """Return the factor on power; 0 outside the band."""
        hz = np.asarray(frequency_hz, dtype=float)
        inside = (hz >= self.band_hz[0]) & (hz <= self.band_hz[1])
        gain = np.where(inside, 1.0, 0.0) if self.table is None else self.table.power_gain(hz)
        if self.equalised:
            return gain
        return np.asarray(gain * np.abs(equalisation_response(np.where(inside, hz, REFERENCE_FREQUENCY_HZ))) ** 2)


def noise_of(
    recording: Recording,
    *,
    start_s: float,
    duration_s: float,
    equalised: bool,
    reference: LevelReference = FULL_SCALE,
    band_hz: tuple[float, float] = RUMBLE_BAND_HZ,
    turn_s: float | None = None,
    name: str = "silence",
) -> NoiseResult:
    """Return the level of the noise between two frequencies.

    Parameters
    ----------
    recording : Recording
        With a left and a right channel.
    start_s, duration_s : float
        The silent band. [s]
    equalised : bool
        Whether the recording went through the playback equalisation; if not, its spectrum is taken through it here.
    reference : LevelReference
        What counts as 0 dB; a sine that fills full scale if not given.
    band_hz : tuple of float
        Lower and upper limit. [Hz]
    turn_s : float, optional
        What a turn of the platter took, from the measured speed; without it nothing is said of what repeats. [s]
    name : str
        Of the band, so that several bands of one recording don't share their scatter.

    Raises
    ------
    ValueError
        If the recording has one channel, is too short, or doesn't reach the limits.
    """
    lowest_hz, highest_hz = band_hz
    if not 0 < lowest_hz < highest_hz:
        raise ValueError(f"a band from {lowest_hz:g} to {highest_hz:g} Hz is none; give the lower limit first")
    label = f"band level {lowest_hz:g}-{highest_hz:g} Hz, not a standard rumble figure"
    span = _span(recording, start_s=start_s, duration_s=duration_s, top_hz=highest_hz)
    weighting = _Weighting(label, band_hz, None, equalised)
    return _result(span, weighting, reference=reference, turn_s=turn_s, name=name)


def weighted_noise_of(
    recording: Recording,
    table: WeightingTable,
    *,
    start_s: float,
    duration_s: float,
    equalised: bool,
    reference: LevelReference = FULL_SCALE,
    turn_s: float | None = None,
    name: str = "silence",
) -> NoiseResult:
    """Return the level of the noise through a weighting that the user loaded; see `noise_of`.

    Nothing outside the table's frequencies is counted.
    """
    band_hz = (table.frequency_hz[0], table.frequency_hz[-1])
    span = _span(recording, start_s=start_s, duration_s=duration_s, top_hz=band_hz[1])
    weighting = _Weighting(table.label, band_hz, table, equalised)
    return _result(span, weighting, reference=reference, turn_s=turn_s, name=name)


def _span(recording: Recording, *, start_s: float, duration_s: float, top_hz: float) -> LowRate:
    if recording.channel_count != 2:
        raise ValueError("the recording has one channel; noise needs left and right, so record both together")
    if duration_s < SHORTEST_S:
        raise ValueError(
            f"a silent band of {duration_s:g} s is too short for a level; record at least {SHORTEST_S:g} s, better 20"
        )
    return read_low_rate(recording, start_s=start_s, duration_s=duration_s, top_hz=top_hz)


def _result(
    span: LowRate, weighting: _Weighting, *, reference: LevelReference, turn_s: float | None, name: str
) -> NoiseResult:
    samples = _columns(span.samples, reference)
    taper = flat_taper(samples.shape[0], edge=min(_EDGE_S * span.rate_hz, samples.shape[0] / 8))
    lines = find_hum(samples, span.rate_hz, taper=taper, band_hz=weighting.band_hz)
    places_hz = np.array([line.frequency_hz for line in lines])
    shown = np.array([line.shown for line in lines], dtype=bool).reshape(len(lines), len(CHANNELS))
    rest = without_lines(samples, span.rate_hz, places_hz, shown, taper=taper)
    not_shown: dict[str, str] = {}
    with_hum, without_hum = _band_levels(
        rest,
        rate_hz=span.rate_hz,
        weighting=weighting,
        taper=taper,
        lines=lines,
        reference=reference,
        name=name,
        not_shown=not_shown,
    )
    notes: list[str] = []
    if lines:
        notes.append(
            "A motor that runs in step with the mains shakes at its harmonics too: lift the stylus and listen again, "
            "and what stays is hum."
        )
    if not weighting.equalised:
        notes.append("The recording is not equalised; its noise was taken through the playback curve here.")
    synchronous: dict[str, Quantity] = {}
    if turn_s is None:
        not_shown["turn_synchronous"] = "what repeats each turn needs the speed measured; a tone band gives it"
    else:
        found = synchronous_power(rest, span.rate_hz, turn_s=turn_s, gain=weighting.power_gain)
        synchronous = _synchronous(found, reference, name, not_shown)
    return NoiseResult(
        label=weighting.label,
        reference=reference.label,
        duration_s=span.duration_s,
        band_level=with_hum,
        band_level_without_hum=without_hum,
        hum=tuple(_hum_line(line, weighting, reference, name) for line in lines),
        turn_synchronous=synchronous,
        not_shown=not_shown,
        notes=tuple(notes),
    )


def _band_levels(
    rest: NDArray[np.float64],
    *,
    rate_hz: float,
    weighting: _Weighting,
    taper: NDArray[np.float64],
    lines: tuple[Line, ...],
    reference: LevelReference,
    name: str,
    not_shown: dict[str, str],
) -> tuple[dict[str, Quantity], dict[str, Quantity]]:
    """Return the level of each channel with the hum lines counted in, and of what is left without them."""
    gain = weighting.power_gain(np.fft.rfftfreq(taper.size, 1 / rate_hz))
    spectrum = _spectrum(rest, taper)
    floor = spectral_floor(spectrum, step_hz=rate_hz / taper.size) * gain[:, np.newaxis]
    spectrum *= gain[:, np.newaxis]
    power, variance = spectrum.sum(axis=0), _variance_of_power(spectrum, floor, taper)
    hum_power, hum_variance = np.zeros(len(CHANNELS)), np.zeros(len(CHANNELS))
    for line in lines:
        at = float(weighting.power_gain(np.array([line.frequency_hz]))[0])
        hum_power += np.where(line.shown, at * line.power, 0.0)
        hum_variance += np.where(line.shown, (at * line.power_uncertainty) ** 2, 0.0)
    with_hum: dict[str, Quantity] = {}
    without_hum: dict[str, Quantity] = {}
    for k, channel in enumerate(CHANNELS):
        if not variance[k] > 0:
            not_shown[f"band_level {channel}"] = f"the {channel} signal is silent to the last digit; check the wiring"
            continue
        for levels, more, spread in ((without_hum, 0.0, 0.0), (with_hum, hum_power[k], hum_variance[k])):
            total, scattered = float(power[k] + more), float(variance[k] + spread)
            levels[channel] = _level(
                total,
                scattered,
                channel=channel,
                reference=reference,
                scatter=f"scatter of noise in {name}, {channel}",
                how=f"from about {2 * total**2 / scattered:.0f} independent samples",
            )
    return with_hum, without_hum


def _columns(samples: NDArray[np.float64], reference: LevelReference) -> NDArray[np.float64]:
    """Return left, right, lateral and vertical motion, each 1 rms at the reference level."""
    left, right = (samples - samples.mean(axis=0)).T
    left, right = left / reference.left.value, right / reference.right.value
    return np.stack([left, right, (left + right) / 2, (left - right) / 2], axis=1)


def _spectrum(samples: NDArray[np.float64], taper: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return one-sided power in each line; summed over all lines it is the mean square."""
    lines = np.fft.rfft(samples * taper[:, np.newaxis], axis=0)
    return np.asarray(2 * np.abs(lines) ** 2 / (taper.size * float((taper**2).sum())))


def _variance_of_power(
    spectrum: NDArray[np.float64], floor: NDArray[np.float64], taper: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Return the variance of the sum over a spectrum, shape (channels,).

    A line of noise has the square of its own mean as its variance. A steady vibration doesn't scatter but for what the
    noise under it adds: twice the product of both.
    """
    spread = taper.size * float((taper**4).sum()) / float((taper**2).sum()) ** 2
    scatter = (floor * (2 * spectrum - floor)).sum(axis=0)
    # A line by chance below half its noise counts against the others; all of them together never do.
    return np.asarray(spread * np.maximum(scatter, (floor**2).sum(axis=0) / 2))


def _level(
    power: float, variance: float, *, channel: str, reference: LevelReference, scatter: str, how: str
) -> Quantity:
    """Return a power as a level, its scatter and the reference's as sources of uncertainty."""
    components = {Source(scatter): _DB_OF_POWER * math.sqrt(variance) / power}
    for side, share in (("left", (1, 0, 0.5, 0.5)), ("right", (0, 1, 0.5, 0.5))):
        quantity = reference.left if side == "left" else reference.right
        if quantity.components is None:
            return Quantity.unknown_uncertainty(_DB_OF_POWER * math.log(power), "dB", why=quantity.why_unknown)
        for source, contribution in quantity.components.items():
            part = -2 * _DB_OF_POWER * share[CHANNELS.index(channel)] * contribution / quantity.value
            components[source] = components.get(source, 0.0) + part
    return Quantity(_DB_OF_POWER * math.log(power), "dB", components, how=how)


def _hum_line(line: Line, weighting: _Weighting, reference: LevelReference, name: str) -> HumLine:
    where = f"{line.harmonic * line.mains_hz:g} Hz in {name}"
    gain = float(weighting.power_gain(np.array([line.frequency_hz]))[0])
    level = {
        channel: _level(
            gain * float(line.power[k]),
            (gain * float(line.power_uncertainty[k])) ** 2,
            channel=channel,
            reference=reference,
            scatter=f"noise under hum at {where}, {channel}",
            how="a line of its own, freed of the noise under it",
        )
        for k, channel in enumerate(CHANNELS)
        if line.shown[k] and line.power[k] > 0
    }
    frequency = Quantity.measured(
        line.frequency_hz,
        "Hz",
        standard_uncertainty=line.frequency_uncertainty_hz,
        source=f"noise on the frequency of hum at {where}",
    )
    return HumLine(line.mains_hz, line.harmonic, frequency, level)


def _synchronous(
    found: SynchronousPower | None, reference: LevelReference, name: str, not_shown: dict[str, str]
) -> dict[str, Quantity]:
    if found is None:
        not_shown["turn_synchronous"] = "what repeats each turn needs at least four turns of silence"
        return {}
    levels: dict[str, Quantity] = {}
    for k, channel in enumerate(CHANNELS):
        power, uncertainty = float(found.power[k]), float(found.uncertainty[k])
        if power > _LEAST_SIGMAS * uncertainty:
            levels[channel] = _level(
                power,
                uncertainty**2,
                channel=channel,
                reference=reference,
                scatter=f"scatter of turns in {name}, {channel}",
                how=f"mean over {found.turns} turns",
            )
            continue
        most = max(power, 0.0) + 2 * uncertainty
        upper = f"at most {_DB_OF_POWER * math.log(most):.1f} dB" if most > 0 else "nothing at all"
        not_shown[f"turn_synchronous {channel}"] = (
            f"over {found.turns} turns nothing stands out of the noise that repeats each turn; it is {upper}"
        )
    return levels
