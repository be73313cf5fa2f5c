"""The arm's resonance from a slow sweep through it, fitted in level and phase together.

The sweep goes evenly in octaves or in hertz a second, as a band sheet declares it. Its start and pace are fitted too,
since speed and the band's place are never known exactly; so is the swing that was there when the span begins, and the
speed's own swing once a turn: 0.2 mm off centre shift the phase of 10 Hz by two degrees, which a resonance that rests
on phase would take for its own.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from groovewright.measurement.quantity import Source, correlated_quantities
from groovewright.testtone.capture.recording import Recording
from groovewright.testtone.resonance.arm_resonance import (
    HIGHEST_HZ,
    HIGHEST_Q,
    LOWEST_HZ,
    LOWEST_Q,
    ArmResonance,
    body_response,
    resonance_from,
)
from groovewright.testtone.resonance.low_rate import read_low_rate
from groovewright.testtone.resonance.sweep_course import SweepCourse
from groovewright.testtone.sheet.allowances import EXACT, Allowances, cut_source
from groovewright.testtone.sheet.band_sheet import Pace
from groovewright.testtone.tones.equalisation import (
    BASS_S,
    TIME_CONSTANTS_S,
    SubsonicFilter,
    equalisation_response,
    equalisation_shift,
    network_source,
    recording_response,
    subsonic_response,
)
from groovewright.testtone.tones.flat_taper import flat_taper

METHOD_OF_FREQUENCY, METHOD_OF_Q = 5e-5, 3e-4
"""Relative standard uncertainty of the method itself: what the ends of a sweep and the rates of a low copy leave where
there is no noise."""

SWEEP_METHOD = "sweep, level and phase"

SHORTEST_S = 4.0
_PAD_S = 4.0
_EDGE_S = 0.3
_SMOOTHED_S = 0.7
_NOISE_HZ = 4.0
_WIDER = 1.25
_LEAST_SHARE = 0.25
"""Share of the signal's power that the fit must account for; noise alone gives a few hundredths."""

LOWEST_CORNER_HZ, HIGHEST_CORNER_HZ = 1.0, 60.0
START_CORNER_HZ, USUAL_HZ, USUAL_Q = 15.0, 9.5, 3.0
"""Where the search for a subsonic filter starts: they are built to pass 30 Hz and to stop warps below 4 Hz; and the
resonance of an arm as it should be. [Hz], [Hz], [1]"""

CLEAR_GAIN = 10.83
"""Fall of chi-square with one more parameter that chance makes once in a thousand sweeps."""

BASS = TIME_CONSTANTS_S.index(BASS_S)

USUAL_SWING = 0.002
"""Standard deviation of what an off-centre record swings the speed by, either phase: 0.2 mm at 100 mm, which IEC 60098
allows holes to be off; rule of thumb that records are as far off as they may."""

FIT_TOLERANCE, CHOICE_TOLERANCE = 1e-8, 1e-4
"""Gain of a step, of the sum of squares, below which it is the last; the latter where fits are only compared."""

_STEPS = 40
_START_Q = (2.0, 5.0, 12.0)
_START_PLACES, _STARTS_FOLLOWED = 9, 2

Vector = NDArray[np.float64]


@dataclass(frozen=True)
class _Sweep:
    """What is held fixed while the parameters (ln f0, ln Q, ln start, pace) are sought.

    After these come ln of the corner of a subsonic filter, where one is sought, and the cosine and sine of the speed's
    swing once a turn, where that is.

    The pace is relative to the frequency at all times (octaves) or to that at the start (hertz). [1/s]
    The parts of a subsonic filter, of order 1 or 2, and the playback's time constant of 3180 us may be off by so many
    percent, and the cut may rise by so many dB an octave.
    """

    signal: Vector
    rate_hz: float
    taper: Vector
    lines: NDArray[np.intp]
    pad: int
    equalised: bool
    evenly_in: Pace
    cut_with_equalisation: bool
    subsonic_order: int = 0
    bass_percent: float = 0.0
    tilt_db_per_octave: float = 0.0
    subsonic_off_percent: float = 0.0
    swing_hz: float | None = None

    def columns(self, parameters: Vector) -> NDArray[np.complex128]:
        """Return spectra of the sweep's two phases and of the two swings that die away, shape (lines, 4)."""
        resonance_hz, q, start_hz = np.exp(parameters[:3])
        pace = parameters[3]
        count = self.signal.size
        pad = self.pad
        time_s = self._time_s
        if self.swing_hz is not None:
            # As cut, the sweep is a course in the record's own time.
            turn = 2 * np.pi * self.swing_hz
            time_s = time_s + (parameters[-2] * self._turned[0] + parameters[-1] * self._turned[1]) / turn
        turning = np.exp(2j * np.pi * start_hz * self.course(time_s, pace)[0]) * self._wide_taper
        frequency_hz = self._frequency_hz
        response = self._playback * body_response(frequency_hz, resonance_hz=resonance_hz, q=q)
        if self.tilt_db_per_octave:
            rise = self.tilt_db_per_octave / (20 * math.log10(2))
            response = response * (np.maximum(frequency_hz, LOWEST_HZ / 2) / resonance_hz) ** rise
        if self.subsonic_order:
            corner_hz = math.exp(parameters[4])
            response = response * subsonic_response(
                frequency_hz, corner_hz, self.subsonic_order, off_percent=self.subsonic_off_percent
            )
        # The sweep turns one way only, so nothing stands at negative frequencies.
        spectrum = np.zeros_like(turning)
        spectrum[1 : 1 + frequency_hz.size] = response * np.fft.fft(turning)[1 : 1 + frequency_hz.size]
        seen = np.fft.ifft(spectrum)[pad : pad + count]
        since_s = np.arange(count) / self.rate_hz
        swing = np.exp(2 * np.pi * resonance_hz * since_s * (1j * math.sqrt(1 - 0.25 / q**2) - 0.5 / q))
        parts = np.stack([seen.real, -seen.imag, swing.real, swing.imag]) * self.taper
        return np.asarray(np.fft.rfft(parts)[:, self.lines].T)

    @cached_property
    def _time_s(self) -> Vector:
        return np.asarray((np.arange(self.signal.size + 2 * self.pad) - self.pad) / self.rate_hz)

    @cached_property
    def _turned(self) -> NDArray[np.float64]:
        """Sine, and cosine turned over, of the turns since the start; shape (2, samples)."""
        angle = 2 * np.pi * (self.swing_hz or 0.0) * self._time_s
        return np.stack([np.sin(angle), -np.cos(angle)])

    @cached_property
    def _wide_taper(self) -> Vector:
        return flat_taper(self._time_s.size, edge=self.pad / 2)

    @cached_property
    def _frequency_hz(self) -> Vector:
        """Those above 0, in the order of a transform. [Hz]"""
        return np.asarray(np.arange(1, (self._time_s.size + 1) // 2) * self.rate_hz / self._time_s.size)

    @cached_property
    def _playback(self) -> NDArray[np.complex128]:
        """What no parameter changes of the response."""
        hz = self._frequency_hz
        response = np.ones(hz.size, dtype=complex)
        if self.equalised:
            response *= equalisation_response(hz)
        if self.cut_with_equalisation:
            response *= recording_response(hz)
        if self.bass_percent:
            response *= equalisation_shift(hz, BASS, self.bass_percent)
        return response

    def course(self, time_s: Vector, pace: float) -> tuple[Vector, Vector]:
        """Return the turns made since the start, over its frequency, and their slope with the pace. [s], [s^2]"""
        if self.evenly_in == "hertz":
            return time_s + pace * time_s**2 / 2, time_s**2 / 2
        cycles = np.expm1(pace * time_s) / pace
        return cycles, (time_s * np.exp(pace * time_s) - cycles) / pace

    @property
    def noise_kernel(self) -> Vector:
        """Weights over neighbouring lines, by which the noise is smoothed."""
        return np.hanning(2 * round(_NOISE_HZ * self.signal.size / self.rate_hz / 2) + 3)[1:-1]

    @cached_property
    def spectrum(self) -> NDArray[np.complex128]:
        """The signal's own spectrum at the same lines."""
        return np.asarray(np.fft.rfft(self.signal * self.taper)[self.lines])


def resonance_from_sweep(
    recording: Recording,
    *,
    start_s: float,
    duration_s: float,
    from_hz: float,
    to_hz: float,
    direction: str,
    equalised: bool,
    evenly_in: Pace = "octaves",
    cut_with_equalisation: bool = False,
    name: str = "sweep",
    allowances: Allowances = EXACT,
    record_name: str = "this test record",
    turn_hz: float | None = None,
) -> ArmResonance:
    """Return frequency and Q of the arm's resonance from a sweep through it.

    Parameters
    ----------
    recording : Recording
        With a left and a right channel.
    start_s, duration_s : float
        The sweep. [s]
    from_hz, to_hz : float
        Where it starts and ends; only what lies between 4 and 25 Hz is used. [Hz]
    direction : str
        ``"lateral"``: both channels alike; ``"vertical"``: both opposed.
    equalised : bool
        Whether the recording went through the playback equalisation, whose response is then part of the fit.
    evenly_in : {"octaves", "hertz"}
        What the sweep covers evenly in time.
    cut_with_equalisation : bool
        Whether it was cut with the recording equalisation, whose response is then part of the fit too.
    name : str
        Of the band.
    allowances : Allowances
        How far the cut's level along the sweep and the playback equalisation may be off.
    record_name : str
        Labels the former, which captures of one record share.
    turn_hz : float, optional
        Turns a second. The swing that an off-centre record gives the speed is then part of the fit. [Hz]

    Raises
    ------
    ValueError
        If the sweep doesn't pass the resonance, is too short or too fast, or nothing like one is found.
    """
    signs = {"lateral": 1.0, "vertical": -1.0}
    if direction not in signs:
        raise ValueError(f"a resonance is lateral or vertical, not {direction!r}")
    if recording.channel_count != 2:
        raise ValueError("the recording has one channel; the arm's resonance needs left and right together")
    if from_hz == to_hz:
        raise ValueError(f"{name} starts and ends at {from_hz:g} Hz; a sweep needs two frequencies that differ")
    course = SweepCourse.from_ends((from_hz, to_hz), evenly_in, start_s=0.0, stop_s=duration_s)
    begin_s, last_s = _part(course, name)
    low = read_low_rate(
        recording, start_s=start_s + begin_s, duration_s=last_s - begin_s, top_hz=2 * _WIDER * HIGHEST_HZ
    )
    signal = (low.samples[:, 0] + signs[direction] * low.samples[:, 1]) / 2
    begin_hz, end_hz = course.frequency_hz(np.array([begin_s, last_s])).tolist()
    ends_hz = sorted((begin_hz, end_hz))
    sweep = _prepared(
        signal - signal.mean(),
        low.rate_hz,
        ends_hz,
        equalised=equalised,
        evenly_in=evenly_in,
        cut_with_equalisation=cut_with_equalisation,
    )
    first = _start_of_sweep(sweep, begin_hz, course.slope / begin_hz if evenly_in == "hertz" else course.slope)
    starts = [
        np.array([math.log(hz), math.log(q), *first])
        for hz in np.geomspace(1.1 * ends_hz[0], ends_hz[1] / 1.1, _START_PLACES)
        for q in _START_Q
    ]
    squares = [float((_residual(sweep, start) ** 2).sum()) for start in starts]
    nearest = np.argsort(squares)[:_STARTS_FOLLOWED]
    _, parameters = min((_fitted(sweep, starts[k]) for k in nearest), key=lambda fit: fit[0])
    weight = _weight(sweep, parameters)
    if turn_hz is not None:
        sweep, parameters = replace(sweep, swing_hz=turn_hz), np.append(parameters, [0.0, 0.0])
        _, parameters = _fitted(sweep, parameters, weight, tolerance=CHOICE_TOLERANCE)
        weight = _weight(sweep, parameters)
    misfit, parameters = _fitted(sweep, parameters, weight)
    sweep, parameters, weight, misfit, hidden = _with_subsonic_filter(sweep, parameters, weight, misfit)
    _refuse_unlike(sweep, parameters, ends_hz, name)
    spread = sweep.taper.size * float((sweep.taper**4).sum()) / float((sweep.taper**2).sum()) ** 2
    fitted = parameters.size + 4
    freedom = 2 * sweep.lines.size / spread - fitted
    slopes = _slopes(lambda at: _residual(sweep, at, weight), parameters)
    covariance = np.linalg.inv(slopes.T @ slopes) * spread * misfit / (2 * sweep.lines.size - fitted)
    # Weights taken from the same noise make the fit a little worse, and look a little better, than known ones would.
    kernel = sweep.noise_kernel
    covariance *= 1 + 2 * spread * float(kernel @ kernel) / float(kernel.sum()) ** 2
    covariance = covariance[:2, :2] + np.diag([METHOD_OF_FREQUENCY**2, METHOD_OF_Q**2])
    resonance_hz, q = np.exp(parameters[:2])
    scale = np.diag([resonance_hz, q])
    method = f"{direction} {SWEEP_METHOD}"
    frequency, quality = correlated_quantities(
        [resonance_hz, q],
        scale @ covariance @ scale,
        units=["Hz", "1"],
        source=f"noise on {name}, {direction} resonance",
        degrees_of_freedom=max(1.0, freedom),
        how=method,
    )
    unseen = _unseen(sweep, parameters, weight, allowances, record_name)
    if hidden is not None:
        unseen[f"subsonic filter that {name} hides, {direction} resonance"] = hidden
    frequency, quality = (
        replace(
            quantity,
            components={
                **(quantity.components or {}),
                **{Source(label): float(quantity.value * change[k]) for label, change in unseen.items()},
            },
        )
        for k, quantity in enumerate((frequency, quality))
    )
    found = resonance_from(frequency, quality, direction=direction, method=method)
    if not sweep.subsonic_order:
        return found
    about = (
        f"{name} shows a subsonic filter of order {sweep.subsonic_order} at {math.exp(parameters[4]):.1f} Hz in the "
        "playback chain; it is taken off."
    )
    subsonic = SubsonicFilter(math.exp(float(parameters[4])), sweep.subsonic_order)
    return replace(found, notes=(*found.notes, about), subsonic=subsonic)


def _with_subsonic_filter(
    sweep: _Sweep, parameters: Vector, weight: Vector, misfit: float
) -> tuple[_Sweep, Vector, Vector, float, Vector | None]:
    """Return the fit with a subsonic filter where one clearly shows, or else the plain one and what one may hide.

    What may hide is the change of (ln f0, ln Q) that the likeliest filter would make.
    """
    best: tuple[float, _Sweep, Vector, Vector] | None = None
    for order in (1, 2):
        filtered = replace(sweep, subsonic_order=order)
        # Without its filter the sweep may look so unlike a resonance that the plain fit is no place to start from.
        usual = np.array([*np.log([USUAL_HZ, USUAL_Q]), *parameters[2:]])
        for start in (parameters, usual):
            sought = np.insert(start, 4, math.log(START_CORNER_HZ))
            _, first = _fitted(filtered, sought, weight, tolerance=CHOICE_TOLERANCE)
            own = _weight(filtered, first)
            _, found = _fitted(filtered, first, own, tolerance=CHOICE_TOLERANCE)
            # What is left of the signal, each line against what is left around it: the logarithm of a likelihood.
            left = -float(np.log(_weight(filtered, found)).sum())
            if best is None or left < best[0]:
                best = left, filtered, found, own
    assert best is not None
    _, filtered, found, own = best
    _, found = _fitted(filtered, found, own)
    square, plain = (
        float((_residual(each, at, own) ** 2).sum()) for each, at in ((filtered, found), (sweep, parameters))
    )
    spread = sweep.taper.size * float((sweep.taper**4).sum()) / float((sweep.taper**2).sum()) ** 2
    gained = (plain - square) / (square * spread) * (2 * sweep.lines.size - found.size - 4)
    if gained > CLEAR_GAIN:
        return filtered, found, own, square, None
    return sweep, parameters, weight, misfit, found[:2] - parameters[:2]


def _unseen(
    sweep: _Sweep, parameters: Vector, weight: Vector, allowances: Allowances, record_name: str
) -> dict[str, Vector]:
    """Return the change of (ln f0, ln Q) with one standard uncertainty of what the sweep cannot show."""
    changes = {}
    tilt, percent = allowances.cut_tilt_db_per_octave, allowances.equalisation_percent
    if tilt:
        turned = _fitted(replace(sweep, tilt_db_per_octave=tilt), parameters, weight)[1]
        changes[cut_source("level along a sweep", record_name)] = turned[:2] - parameters[:2]
    if sweep.subsonic_order and percent:
        # Its corner is found; its shape is that of parts as good as those of the equalisation, each channel's its own.
        moved = _fitted(replace(sweep, subsonic_off_percent=percent), parameters, weight)[1]
        changes["shape of the subsonic filter"] = moved[:2] - parameters[:2]
    if sweep.equalised and percent:
        # Both channels make the signal, each with a network of its own.
        off = _fitted(replace(sweep, bass_percent=percent), parameters, weight)[1]
        for side in ("left", "right"):
            changes[network_source(BASS_S, side)] = (off[:2] - parameters[:2]) / 2
    return changes


def _part(course: SweepCourse, name: str) -> tuple[float, float]:
    """Return when the sweep is between 4 and 25 Hz, from its start. [s]"""
    crossings = sorted(course.time_s(np.array([LOWEST_HZ / _WIDER, HIGHEST_HZ * _WIDER])).tolist())
    begin_s, last_s = max(0.0, crossings[0]), min(course.stop_s, crossings[1])
    if last_s - begin_s < SHORTEST_S:
        raise ValueError(
            f"{name} spends {max(0.0, last_s - begin_s):.1f} s between {LOWEST_HZ:g} and {HIGHEST_HZ:g} Hz; the arm's "
            f"resonance needs at least {SHORTEST_S:g} s there, so use a slower sweep of low frequencies"
        )
    return begin_s, last_s


def _prepared(
    signal: Vector,
    rate_hz: float,
    ends_hz: list[float],
    *,
    equalised: bool,
    evenly_in: Pace,
    cut_with_equalisation: bool,
) -> _Sweep:
    # Lengths without large prime factors, for which a transform is many times faster.
    from scipy.fft import prev_fast_len

    signal = signal[: prev_fast_len(signal.size)]
    pad = (prev_fast_len(signal.size + 2 * round(_PAD_S * rate_hz)) - signal.size) // 2
    frequency_hz = np.fft.rfftfreq(signal.size, 1 / rate_hz)
    lines = np.flatnonzero((frequency_hz > ends_hz[0] / _WIDER) & (frequency_hz < ends_hz[1] * _WIDER))
    taper = flat_taper(signal.size, edge=_EDGE_S * rate_hz)
    return _Sweep(signal, rate_hz, taper, lines, pad, equalised, evenly_in, cut_with_equalisation)


def _start_of_sweep(sweep: _Sweep, start_hz: float, pace: float) -> tuple[float, float]:
    """Return ln of the start and the pace that the signal's own phase has.

    The signal is turned back by the sweep as declared first. What is left turns slowly, so that a narrow filter can
    keep out the noise that the arm's resonance makes all the time.
    """
    count = sweep.signal.size
    time_s = np.arange(count) / sweep.rate_hz
    declared = 2 * np.pi * start_hz * sweep.course(time_s, pace)[0]
    kernel = np.hanning(2 * round(_SMOOTHED_S * sweep.rate_hz / 2) + 3)[1:-1]
    slow = np.convolve(sweep.signal * sweep.taper * np.exp(-1j * declared), kernel, mode="same")
    phase = np.unwrap(np.angle(slow)) + declared
    logarithm, weight = math.log(start_hz), np.minimum(np.abs(slow), np.median(np.abs(slow)))
    for _ in range(6):
        cycles, along_pace = sweep.course(time_s, pace)
        begin = 2 * np.pi * math.exp(logarithm)
        slopes = np.stack([np.ones(count), begin * cycles, begin * along_pace], axis=1) * weight[:, np.newaxis]
        step = np.linalg.lstsq(slopes, (phase - begin * cycles) * weight, rcond=None)[0]
        logarithm += float(np.clip(step[1], -0.1, 0.1))
        pace += float(np.clip(step[2], -0.2 * abs(pace), 0.2 * abs(pace)))
    return logarithm, pace


def _residual(sweep: _Sweep, parameters: Vector, weight: Vector | None = None) -> Vector:
    """Return what the best of the linear parts leaves of the spectrum, real parts and then imaginary ones."""
    scale = np.ones(sweep.lines.size) if weight is None else weight
    columns = sweep.columns(parameters) * scale[:, np.newaxis]
    wanted = sweep.spectrum * scale
    system = np.concatenate([columns.real, columns.imag])
    target = np.concatenate([wanted.real, wanted.imag])
    left = np.asarray(target - system @ np.linalg.lstsq(system, target, rcond=None)[0])
    if sweep.swing_hz is None or weight is None:
        return left
    # Weighted, the lines are about as large as their noise, and so is a usual swing.
    return np.append(left, parameters[-2:] / USUAL_SWING)


def _slopes(function: Callable[[Vector], Vector], parameters: Vector) -> NDArray[np.float64]:
    # The pace of the sweep is the only parameter that isn't a logarithm; it acts over the whole length of the sweep.
    sizes = [1e-4, 1e-3, 1e-6, 1e-5 * abs(parameters[3])]
    sizes += [1e-3] * (parameters.size % 2) + [1e-4, 1e-4] * (parameters.size > 5)
    steps = np.array(sizes)
    return np.stack(
        [
            (function(parameters + step) - function(parameters - step)) / (2 * size)
            for size, step in zip(steps, np.diag(steps), strict=True)
        ],
        axis=1,
    )


def _fitted(
    sweep: _Sweep, parameters: Vector, weight: Vector | None = None, *, tolerance: float = FIT_TOLERANCE
) -> tuple[float, Vector]:
    """Return the least sum of squares and its parameters, by damped Gauss-Newton steps."""

    def function(at: Vector) -> Vector:
        return _residual(sweep, at, weight)

    residual = function(parameters)
    square, damping = float(residual @ residual), 1e-3
    slopes = _slopes(function, parameters)
    for _ in range(_STEPS):
        normal = slopes.T @ slopes
        step = np.linalg.solve(normal + damping * np.diag(np.diag(normal)), -slopes.T @ residual)
        tried = parameters + np.clip(step, -0.3, 0.3)
        tried[1] = np.clip(tried[1], math.log(LOWEST_Q), math.log(HIGHEST_Q))
        tried[0] = np.clip(tried[0], math.log(LOWEST_HZ / 2), math.log(2 * HIGHEST_HZ))
        if sweep.subsonic_order:
            tried[4] = np.clip(tried[4], math.log(LOWEST_CORNER_HZ), math.log(HIGHEST_CORNER_HZ))
        new = function(tried)
        new_square = float(new @ new)
        if new_square >= square:
            damping *= 8
            # A step that is this small gains nothing that matters.
            if damping > 1e6 or -float(residual @ (slopes @ step)) < tolerance * square:
                break
            continue
        gained = square - new_square
        parameters, residual, square, damping = tried, new, new_square, damping / 4
        if gained < tolerance * square:
            break
        slopes = _slopes(function, parameters)
    return square, parameters


def _weight(sweep: _Sweep, parameters: Vector) -> Vector:
    """Return one over the noise in each line: what the fit leaves, smoothed over about 2 Hz.

    The arm's resonance stands in the noise as well, so no simple curve would do.
    """
    halves = _residual(sweep, parameters)[: 2 * sweep.lines.size].reshape(2, -1)
    left = np.log((halves**2).sum(axis=0) + np.finfo(float).tiny)
    kernel = sweep.noise_kernel
    smooth = np.convolve(left, kernel, mode="same") / np.convolve(np.ones(left.size), kernel, mode="same")
    return np.asarray(np.exp(-smooth / 2))


def _refuse_unlike(sweep: _Sweep, parameters: Vector, ends_hz: list[float], name: str) -> None:
    residual = _residual(sweep, parameters)
    share = 1 - float(residual @ residual) / float((np.abs(sweep.spectrum) ** 2).sum())
    resonance_hz, q = np.exp(parameters[:2])
    if share < _LEAST_SHARE:
        raise ValueError(
            f"{name} holds no sweep that an arm's resonance would shape: {100 * share:.0f} % of the signal fits one; "
            f"check its frequencies, its start and which way it was cut"
        )
    if not 1.05 * ends_hz[0] < resonance_hz < ends_hz[1] / 1.05 or not 1.01 * LOWEST_Q < q < 0.99 * HIGHEST_Q:
        raise ValueError(
            f"{name} passes from {ends_hz[0]:.1f} to {ends_hz[1]:.1f} Hz and shows no resonance between; use a sweep "
            f"with a wider range"
        )
