"""Least squares fit of a tone's phase: mean speed, drift, once-per-turn part and steady flutter, all at once."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from groovewright.testtone.speed.phase_noise import OWN_BINS, covariance_under, noise_of, strongest_line
from groovewright.testtone.tones.demodulation import Baseband

FEWEST_TURNS = 1.2
"""Below this, once-per-turn and mean speed cannot be told apart."""

MOST_SAMPLES = 30_000
"""A longer stretch is thinned to this; steady flutters are then looked for up to a quarter of the lower rate."""

ROWS_AT_ONCE = 1024

THINNING_REACH, THINNING_SHAPE = 6.5, 10.06
"""Half length in low-rate samples, and shape, of a Kaiser low pass that fades by 100 dB within half the low rate."""

MOST_LINES = 12
MOST_REFUSED = 4

POLYNOMIAL = 3
"""Phase, speed and drift come first among the parameters."""


@dataclass(frozen=True, eq=False)
class FlutterLine:
    """One steady flutter found in the phase: ``cosine cos(w t) + sine sin(w t)`` with t from the middle."""

    frequency_hz: float
    cosine_rad: float
    sine_rad: float

    def phase_rad(self, seconds: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return its phase at times from the middle of the stretch. [rad]"""
        turned = 2 * np.pi * self.frequency_hz * seconds
        phase: NDArray[np.float64] = self.cosine_rad * np.cos(turned) + self.sine_rad * np.sin(turned)
        return phase

    def speed(self, seconds: NDArray[np.float64], mean_hz: float) -> NDArray[np.float64]:
        """Return the relative speed that it is, at times from the middle of the stretch."""
        turned = 2 * np.pi * self.frequency_hz * seconds
        swing: NDArray[np.float64] = self.sine_rad * np.cos(turned) - self.cosine_rad * np.sin(turned)
        return swing * (self.frequency_hz / mean_hz)

    def speed_peak(self, nominal_hz: float) -> float:
        """Return the peak of the relative speed that this flutter is."""
        return self.frequency_hz / nominal_hz * float(np.hypot(self.cosine_rad, self.sine_rad))


@dataclass(frozen=True, eq=False)
class PhaseFit:
    """What a tone's phase is made of.

    Attributes
    ----------
    middle_s : float
        The time at which `speed_error` holds. [s]
    speed_error, drift_per_s : float
        Mean relative speed error over the stretch, and its slope. [1, 1/s]
    once_per_turn : ndarray, shape (2,)
        At the middle: coefficients of cosine and sine of the turn's angle in the relative speed, divided by the
        radius where one is given: then they are an eccentricity in mm.
    growth_per_s : ndarray, shape (2,)
        How both change over the stretch, where they are seen to; else 0. [1/s of their unit]
    covariance : ndarray, shape (4, 4)
        Of speed error, drift and both coefficients, in this order. Rows of what was not fitted are 0.
    turns : float
        Turns of the platter within the stretch.
    has_turn : bool
        Whether the once-per-turn part was fitted.
    lines : tuple of FlutterLine
        Strongest first.
    times_s, phase_rad, tone_angle_rad, angle_rad, radius_mm : ndarray
        At every sample: time, unwrapped phase, angle of the tone's own turn, angle of the platter from the first
        sample, and groove radius (1 if unknown). Both angles are less what a once-per-turn part comes to lag.
    polynomial : ndarray, shape (3,)
        Phase, slope and curvature of the baseband's phase at the middle. [rad, rad/s, rad/s^2]
    """

    middle_s: float
    nominal_hz: float
    turn_hz: float
    speed_error: float
    drift_per_s: float
    once_per_turn: NDArray[np.float64]
    growth_per_s: NDArray[np.float64]
    covariance: NDArray[np.float64]
    turns: float
    has_turn: bool
    lines: tuple[FlutterLine, ...]
    times_s: NDArray[np.float64]
    phase_rad: NDArray[np.float64]
    tone_angle_rad: NDArray[np.float64]
    angle_rad: NDArray[np.float64]
    radius_mm: NDArray[np.float64]
    polynomial: NDArray[np.float64]

    def once_per_turn_speed(self) -> NDArray[np.float64]:
        """Return the once-per-turn part of the relative speed, at every sample."""
        pair = self.once_per_turn[:, None] + np.outer(self.growth_per_s, self.times_s - self.middle_s)
        speed: NDArray[np.float64] = pair[0] * np.cos(self.angle_rad) + pair[1] * np.sin(self.angle_rad)
        return speed / self.radius_mm

    def remainder_rad(self) -> NDArray[np.float64]:
        """Return the phase less everything fitted but the noise, at every sample. [rad]"""
        rest = self.phase_rad - _polynomial(self.times_s - self.middle_s) @ self.polynomial
        if self.has_turn:
            rest -= _swing(self, self.once_per_turn, self.growth_per_s)
        for line in self.lines:
            rest -= line.phase_rad(self.times_s - self.middle_s)
        return rest


def fit_phase(
    baseband: Baseband,
    *,
    nominal_hz: float,
    speed_rpm: float,
    radius_mm: tuple[float, float] | None = None,
    lag_rad: NDArray[np.float64] | None = None,
) -> PhaseFit:
    """Fit the phase of a demodulated tone.

    Phase, not frequency, is fitted: noise added to a recording is white in phase, so this is the estimate with the
    least scatter. Once-per-turn part, steady flutter and mean are fitted together, so that a number of turns that
    is not whole does not pull the mean. The angle of the record comes from the tone itself, which was cut into it.

    Parameters
    ----------
    baseband : Baseband
        The demodulated tone.
    nominal_hz : float
        Frequency at the right speed. [Hz]
    speed_rpm : float
        Nominal speed of the record. [rpm]
    radius_mm : tuple of float, optional
        Groove radius at the start and at the end of the stretch. [mm]
    lag_rad : ndarray, optional
        How far the once-per-turn part comes to lag behind the platter at each sample (see `arm_path`). [rad]

    Returns
    -------
    PhaseFit
        With a covariance that holds for noise white in phase and white in speed at once, as found in what is left.
    """
    phase = np.unwrap(np.angle(baseband.samples))
    times = baseband.times_s
    turn_hz = speed_rpm / 60
    # The tone stands still on the record, so its phase is the record's angle, however the platter wavers.
    cycles = baseband.carrier_hz * (times - times[0]) + (phase - phase[0]) / (2 * np.pi)
    angle = 2 * np.pi * turn_hz / nominal_hz * cycles
    if lag_rad is not None:
        angle = angle - lag_rad
    ends_mm = radius_mm or (1.0, 1.0)
    radius = np.linspace(ends_mm[0], ends_mm[1], times.size)
    whole = PhaseFit(
        middle_s=float((times[0] + times[-1]) / 2),
        nominal_hz=nominal_hz,
        turn_hz=turn_hz,
        speed_error=0.0,
        drift_per_s=0.0,
        once_per_turn=np.zeros(2),
        growth_per_s=np.zeros(2),
        covariance=np.zeros((4, 4)),
        turns=float(angle[-1] / (2 * np.pi)),
        has_turn=bool(angle[-1] / (2 * np.pi) >= FEWEST_TURNS),
        lines=(),
        times_s=times,
        phase_rad=phase,
        tone_angle_rad=angle,
        angle_rad=angle,
        radius_mm=radius,
        polynomial=np.zeros(POLYNOMIAL),
    )
    return _solved(whole, _thinned(whole), baseband.carrier_hz)


def _polynomial(seconds: NDArray[np.float64]) -> NDArray[np.float64]:
    return np.column_stack([np.ones_like(seconds), seconds, seconds**2 / 2])


def _turn_columns(fit: PhaseFit) -> NDArray[np.float64]:
    """Return the phase that a relative speed of cos and of sin of the turn's angle, over the radius, adds up to."""
    scale = fit.nominal_hz / fit.turn_hz / fit.radius_mm
    return np.column_stack([scale * np.sin(fit.angle_rad), -scale * np.cos(fit.angle_rad)])


def _thinned(fit: PhaseFit) -> PhaseFit:
    """Return the same stretch with no more samples than the fit needs, by a low pass that lets nothing fold."""
    group = -(-fit.times_s.size // MOST_SAMPLES)
    if group == 1:
        return fit
    half = math.ceil(THINNING_REACH * group)
    n = np.arange(-half, half + 1)
    taps = np.sinc(n / group) * np.kaiser(n.size, THINNING_SHAPE)
    taps /= taps.sum()

    def low(values: NDArray[np.float64]) -> NDArray[np.float64]:
        windows = np.lib.stride_tricks.sliding_window_view(values, taps.size)
        parts = [
            windows[k : k + group * ROWS_AT_ONCE : group] @ taps for k in range(0, len(windows), group * ROWS_AT_ONCE)
        ]
        slow: NDArray[np.float64] = np.concatenate(parts)
        return slow

    return replace(
        fit,
        times_s=fit.times_s[half : fit.times_s.size - half : group],
        phase_rad=low(fit.phase_rad),
        tone_angle_rad=low(fit.tone_angle_rad),
        angle_rad=low(fit.angle_rad),
        radius_mm=low(fit.radius_mm),
    )


def _flat_to_hz(fit: PhaseFit) -> float:
    """Return up to where the phase is as it was, thinned or not. [Hz]"""
    return 0.25 / float(fit.times_s[1] - fit.times_s[0])


def _solved(whole: PhaseFit, thin: PhaseFit, carrier_hz: float) -> PhaseFit:
    thin, columns, rest = _angle_of_platter(thin, thin.phase_rad, growing=False)
    length_s = float(thin.times_s[-1] - thin.times_s[0])
    taken_hz = [0.0]
    if whole.has_turn:
        taken_hz.append(float((thin.angle_rad[-1] - thin.angle_rad[0]) / (2 * np.pi * length_s)))
    thin, columns, lines = _steady_lines(thin, columns, rest, taken_hz)
    seconds = thin.times_s - thin.middle_s
    step_s = float(seconds[1] - seconds[0])
    if lines:
        design, solution, rest, lines = _with_lines(columns, lines, seconds, thin.phase_rad)
    else:
        design = columns
        solution, rest = _least_squares(columns, thin.phase_rad)
    used_hz = taken_hz + [line.frequency_hz for line in lines]
    noise = noise_of(rest, step_s, used_hz, flat_to_hz=_flat_to_hz(thin))
    wanted = 4 if whole.has_turn else 2
    covariance = np.zeros((4, 4))
    covariance[:wanted, :wanted] = covariance_under(design, slice(1, 1 + wanted), noise, step_s)
    # From radians a second to a share of the nominal frequency.
    scale = np.array([1 / (2 * np.pi * whole.nominal_hz)] * 2 + [1.0, 1.0])
    once_per_turn, growth = _turn_parameters(solution[: columns.shape[1]])
    return replace(
        whole,
        speed_error=float(carrier_hz / whole.nominal_hz - 1 + solution[1] * scale[0]),
        drift_per_s=float(solution[2] * scale[0]),
        once_per_turn=once_per_turn,
        growth_per_s=growth,
        covariance=covariance * np.outer(scale, scale),
        lines=tuple(sorted(lines, key=lambda line: -line.speed_peak(whole.nominal_hz))),
        angle_rad=_platter(whole, once_per_turn, growth),
        polynomial=solution[:POLYNOMIAL].copy(),
    )


def _turn_parameters(steady: NDArray[np.float64]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return the once-per-turn part at the middle and its growth from the parameters before those of the lines."""
    padded = np.concatenate([steady[POLYNOMIAL:], np.zeros(4)])
    return padded[:2].copy(), padded[2:4].copy()


def _steady_lines(
    thin: PhaseFit, columns: NDArray[np.float64], rest: NDArray[np.float64], taken_hz: list[float]
) -> tuple[PhaseFit, NDArray[np.float64], list[FlutterLine]]:
    """Return the steady flutters, each refined together with all others, one after the other as they stand out.

    With each the once-per-turn part is known better, and with it the angle of the platter and its columns.
    """
    seconds = thin.times_s - thin.middle_s
    step_s, length_s = float(seconds[1] - seconds[0]), float(seconds[-1] - seconds[0])
    lines: list[FlutterLine] = []
    refused_hz: list[float] = []
    growing = False
    while len(lines) < MOST_LINES and len(refused_hz) < MOST_REFUSED:
        looked_at = taken_hz + refused_hz + [line.frequency_hz for line in lines]
        found_hz = strongest_line(rest, step_s, looked_at, flat_to_hz=_flat_to_hz(thin))
        if found_hz is None:
            break
        refined = _with_lines(columns, [*lines, FlutterLine(found_hz, 0.0, 0.0)], seconds, thin.phase_rad)[3]
        met = _one_that_meets_another(refined, taken_hz, OWN_BINS / length_s)
        if met in taken_hz[1:] and not growing:
            # A swing that grows over the stretch leaves something beside the turn. A line would be drawn onto the turn
            # by it, and take the whole swing with it; so the once-per-turn part is let grow instead.
            refined, growing = lines, True
        elif met is not None:
            refused_hz.append(found_hz)
            refined = lines
        swings = sum((line.phase_rad(seconds) for line in refined), np.zeros_like(seconds))
        thin, columns, rest = _angle_of_platter(thin, thin.phase_rad - swings, growing=growing)
        lines = refined
        if lines:
            _, _, rest, lines = _with_lines(columns, lines, seconds, thin.phase_rad)
    return thin, columns, lines


def _one_that_meets_another(lines: list[FlutterLine], taken_hz: list[float], apart_hz: float) -> float | None:
    """Return the frequency that a line came too near to, if any did: that of drift, of the turn, or of a line."""
    placed = list(taken_hz)
    for line in lines:
        for hz in placed:
            if abs(line.frequency_hz - hz) < apart_hz:
                return hz
        placed.append(line.frequency_hz)
    return None


def _angle_of_platter(
    thin: PhaseFit, phase: NDArray[np.float64], *, growing: bool
) -> tuple[PhaseFit, NDArray[np.float64], NDArray[np.float64]]:
    """Return the stretch with the once-per-turn part taken out of its angle, the columns it gives, and what is left."""
    seconds = thin.times_s - thin.middle_s
    columns = _polynomial(seconds)
    if not thin.has_turn:
        return thin, columns, _least_squares(columns, phase)[1]
    for _ in range(3):
        turn = _turn_columns(thin)
        grown = [turn * seconds[:, None]] if growing else []
        columns = np.hstack([_polynomial(seconds), turn, *grown])
        solution, rest = _least_squares(columns, phase)
        thin = replace(thin, angle_rad=_platter(thin, *_turn_parameters(solution)))
    return thin, columns, rest


def _platter(
    fit: PhaseFit, once_per_turn: NDArray[np.float64], growth_per_s: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Return the angle of the platter: the tone's own angle less what the once-per-turn part adds to it."""
    turned = fit.tone_angle_rad - _swing(fit, once_per_turn, growth_per_s) * (fit.turn_hz / fit.nominal_hz)
    return turned


def _swing(fit: PhaseFit, once_per_turn: NDArray[np.float64], growth_per_s: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the phase that the once-per-turn part adds, at every sample. [rad]"""
    turn = _turn_columns(fit)
    swing: NDArray[np.float64] = turn @ once_per_turn + (fit.times_s - fit.middle_s) * (turn @ growth_per_s)
    return swing


def _least_squares(
    design: NDArray[np.float64], phase: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    scale = np.linalg.norm(design, axis=0)
    solution = np.linalg.lstsq(design / scale, phase, rcond=None)[0] / scale
    return solution, phase - design @ solution


def _normal_equations(design: NDArray[np.float64], phase: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return a least squares solution quickly; good enough for a step that is followed by another."""
    scale = np.linalg.norm(design, axis=0)
    scaled = design / scale
    solution: NDArray[np.float64] = np.linalg.lstsq(scaled.T @ scaled, scaled.T @ phase, rcond=None)[0] / scale
    return solution


def _with_lines(
    columns: NDArray[np.float64],
    lines: list[FlutterLine],
    seconds: NDArray[np.float64],
    phase: NDArray[np.float64],
) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64], list[FlutterLine]]:
    """Refine frequency and size of all lines together with everything else (Gauss-Newton)."""
    base = columns.shape[1]
    length_s = float(seconds[-1] - seconds[0])
    for _ in range(10):
        frequency = np.array([line.frequency_hz for line in lines])
        turned = 2 * np.pi * np.outer(seconds, frequency)
        cosine, sine = np.cos(turned), np.sin(turned)
        plain = np.hstack([columns, cosine, sine])
        solution = _normal_equations(plain, phase)
        rest = phase - plain @ solution
        a, b = solution[base : base + frequency.size], solution[base + frequency.size :]
        slopes = 2 * np.pi * seconds[:, None] * (b * cosine - a * sine)
        design = np.hstack([plain, slopes])
        moved = _normal_equations(design, rest)[-frequency.size :]
        lines = [
            FlutterLine(float(f + np.clip(m, -0.3 / length_s, 0.3 / length_s)), float(p), float(q))
            for f, m, p, q in zip(frequency, moved, a, b, strict=True)
        ]
        if np.abs(moved).max() * length_s < 1e-6:
            break
    frequency = np.array([line.frequency_hz for line in lines])
    turned = 2 * np.pi * np.outer(seconds, frequency)
    plain = np.hstack([columns, np.cos(turned), np.sin(turned)])
    solution, rest = _least_squares(plain, phase)
    a, b = solution[base : base + frequency.size], solution[base + frequency.size :]
    lines = [FlutterLine(float(f), float(p), float(q)) for f, p, q in zip(frequency, a, b, strict=True)]
    return design, solution, rest, lines
