"""The arm's resonance from noise alone: a hump in a slow spectrum, where nothing sweeps through it.

Warps and the groove's own unevenness drive the arm all the time. That shows in what the cartridge gives out below
25 Hz and, since a swinging arm also carries the stylus to and fro along the groove, as sidebands of a tone: its speed.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from groovewright.measurement.quantity import correlated_quantities
from groovewright.testtone.capture.recording import Recording
from groovewright.testtone.resonance.arm_resonance import (
    HIGHEST_HZ,
    HIGHEST_Q,
    LOWEST_HZ,
    LOWEST_Q,
    ArmResonance,
    resonance_from,
)
from groovewright.testtone.resonance.low_rate import read_low_rate
from groovewright.testtone.tones.demodulation import Baseband
from groovewright.testtone.tones.equalisation import equalisation_response
from groovewright.testtone.tones.flat_taper import flat_taper

SHORTEST_S = 8.0
_EDGE_S = 1.0
_BAND_HZ = (0.6 * LOWEST_HZ, 1.4 * HIGHEST_HZ)
_AVERAGED_HZ = 0.1
"""Lines nearer together than this are averaged; no resonance of an arm is so sharp."""

_STEPS = 60
_STARTS_FOLLOWED = 8
_APART, _ALIKE_LIKELY = 1.15, 9.0
"""Two resonances that differ by this ratio are two answers; and how much less likely the second must be, as twice a
logarithm of likelihood."""

_LEAST_GAIN = 14.0
"""Twice the logarithm of likelihood that frequency and Q must add; 1 in 1000 without any resonance adds as much."""

_LARGEST_RELATIVE_UNCERTAINTY = 0.1

_SHAPE_RELATIVE = (0.006, 0.025)
"""Standard uncertainties of frequency and Q, relative to them, for a spectrum of what stirs the arm that bends
otherwise than the fit's: told from 300 simulated decks, where two minutes leave 0.8 and 4 % from the scatter."""

Vector = NDArray[np.float64]


@dataclass(frozen=True)
class _Spectrum:
    """Lines of a periodogram, and what is known of their shape.

    Attributes
    ----------
    frequency_hz, power : ndarray, shape (lines,)
        The lines between the limits of the search, `averaged` neighbours to one.
    averaged : int
        How many natural lines were averaged to one of these.
    known : ndarray, shape (lines,)
        Factor on the power of the arm's part that needs no fit, such as the playback curve.
    floor : ndarray, shape (lines,)
        Shape of the noise that doesn't come through the arm: the recorder's, or a demodulated tone's.
    arm : callable
        Power of the arm's response at frequencies over its resonance, for a Q.
    spread : float
        Variance of a sum over lines, over what it would be if lines were independent.
    """

    frequency_hz: Vector
    power: Vector
    averaged: int
    known: Vector
    floor: Vector
    arm: Callable[[Vector, float], Vector]
    spread: float

    def model(self, parameters: Vector) -> Vector:
        """Return the expected power for (ln level, slope, bend, ln floor) and perhaps (ln f0, ln Q)."""
        level, slope, bend, floor = parameters[:4]
        place = np.log(self.frequency_hz / math.sqrt(LOWEST_HZ * HIGHEST_HZ))
        through = self.known * np.exp(level + slope * place + bend * place**2)
        if parameters.size > 4:
            through = through * self.arm(self.frequency_hz / math.exp(parameters[4]), math.exp(parameters[5]))
        return np.asarray(through + math.exp(floor) * self.floor)


def resonance_from_noise(
    recording: Recording, *, start_s: float, duration_s: float, direction: str, equalised: bool, name: str = "silence"
) -> ArmResonance:
    """Return frequency and Q from what the cartridge gives out at low frequencies, under silence or any tone.

    Parameters
    ----------
    recording : Recording
        With a left and a right channel.
    start_s, duration_s : float
        The longer the better: 10 Hz with a Q of 3 is found to about 2 % in 20 s. [s]
    direction : str
        ``"lateral"``: both channels alike; ``"vertical"``: both opposed.
    equalised : bool
        Whether the recording went through the playback equalisation, whose response is then allowed for.
    name : str
        Of the band.

    Raises
    ------
    ValueError
        If the band is too short or no resonance stands out.
    """
    if direction not in ("lateral", "vertical"):
        raise ValueError(f"a resonance is lateral or vertical, not {direction!r}")
    if recording.channel_count != 2:
        raise ValueError("the recording has one channel; the arm's resonance needs left and right together")
    low = read_low_rate(recording, start_s=start_s, duration_s=duration_s, top_hz=2 * _BAND_HZ[1])
    sign = 1.0 if direction == "lateral" else -1.0
    signal = (low.samples[:, 0] + sign * low.samples[:, 1]) / 2
    frequency_hz, power, averaged, spread = _periodogram(signal, low.rate_hz, name)
    known = np.abs(equalisation_response(frequency_hz)) ** 2 if equalised else np.ones_like(frequency_hz)
    spectrum = _Spectrum(frequency_hz, power, averaged, known, np.ones_like(known), _cartridge, spread)
    return _found(spectrum, direction=direction, method=f"{direction} noise below {HIGHEST_HZ:g} Hz", name=name)


def resonance_from_carrier(baseband: Baseband, *, direction: str, name: str = "tone") -> ArmResonance:
    """Return frequency and Q from the speed of a tone, whose sidebands the swinging arm makes.

    Parameters
    ----------
    baseband : Baseband
        Of a steady tone, with a half width of 40 Hz or more.
    direction : str
        Which resonance it is taken for. A tone's speed shows both: sideways swings by the sine of the groove angle, up
        and down ones by the tangent of the vertical tracking angle. Only where one of them stands out alone is it named
        rightly, so prefer `resonance_from_noise` or a sweep where the sheet has a band for them.
    name : str
        Of the band.
    """
    if baseband.half_width_hz < _BAND_HZ[1]:
        raise ValueError(
            f"the tone was demodulated to {baseband.half_width_hz:g} Hz; the arm's sidebands reach {_BAND_HZ[1]:g} Hz"
        )
    phase = np.unwrap(np.angle(baseband.samples))
    speed_hz = np.diff(phase) * baseband.rate_hz / (2 * np.pi)
    frequency_hz, power, averaged, spread = _periodogram(speed_hz, baseband.rate_hz, name)
    # Differences of phase lose a little of the faster changes; white noise beside the tone has a phase that is white.
    known = np.sinc(frequency_hz / baseband.rate_hz) ** 2
    spectrum = _Spectrum(frequency_hz, power, averaged, known, known * frequency_hz**2, _body, spread)
    return _found(spectrum, direction=direction, method="sidebands of a tone", name=name)


def _cartridge(x: Vector, q: float) -> Vector:
    return np.asarray(x**4 / ((1 - x**2) ** 2 + (x / q) ** 2))


def _body(x: Vector, q: float) -> Vector:
    return np.asarray((1 + (x / q) ** 2) / ((1 - x**2) ** 2 + (x / q) ** 2))


def _periodogram(signal: Vector, rate_hz: float, name: str) -> tuple[Vector, Vector, int, float]:
    count = signal.size
    if count / rate_hz < SHORTEST_S:
        raise ValueError(
            f"{name} lasts {count / rate_hz:.1f} s; the arm's resonance needs at least {SHORTEST_S:g} s of noise, "
            f"better a minute"
        )
    taper = flat_taper(count, edge=_EDGE_S * rate_hz)
    straight = np.polyval(np.polyfit(np.arange(count), signal, 1), np.arange(count))
    power = np.abs(np.fft.rfft((signal - straight) * taper)) ** 2
    frequency_hz = np.fft.rfftfreq(count, 1 / rate_hz)
    inside = (frequency_hz >= _BAND_HZ[0]) & (frequency_hz <= _BAND_HZ[1])
    if not power[inside].sum() > 0:
        raise ValueError(f"{name} is silent to the last digit at low frequencies; no resonance can be found in it")
    spread = count * float((taper**4).sum()) / float((taper**2).sum()) ** 2
    averaged = max(1, int(_AVERAGED_HZ * count / rate_hz))
    whole = np.flatnonzero(inside)[: inside.sum() // averaged * averaged].reshape(-1, averaged)
    means = power[whole].mean(axis=1)
    return np.asarray(frequency_hz[whole].mean(axis=1)), np.asarray(means / means.mean()), averaged, spread


def _found(spectrum: _Spectrum, *, direction: str, method: str, name: str) -> ArmResonance:
    plain_cost, plain = _fitted(spectrum, np.array([0.0, 0.0, 0.0, math.log(spectrum.power.min() + 1e-9)]))
    starts = [
        np.concatenate([plain, [math.log(hz), math.log(q)]])
        for hz in np.geomspace(1.2 * LOWEST_HZ, HIGHEST_HZ / 1.2, 10)
        for q in (1.5, 5.0)
    ]
    nearest = np.argsort([_cost(spectrum, start) for start in starts])[:_STARTS_FOLLOWED]
    fits = sorted((_fitted(spectrum, starts[k]) for k in nearest), key=lambda fit: fit[0])
    cost, parameters = fits[0]
    resonance_hz, q = np.exp(parameters[4:])
    if 2 * (plain_cost - cost) < _LEAST_GAIN * spectrum.spread:
        raise ValueError(
            f"no resonance stands out of the low-frequency noise of {name}; record a longer band or a sweep"
        )
    slopes = _slopes(spectrum, parameters)
    # Lines of a steady vibration scatter more than noise does, and so does a spectrum that the model doesn't fit.
    beyond = max(1.0, spectrum.averaged * float(((spectrum.power / spectrum.model(parameters) - 1) ** 2).mean()))
    covariance = (
        np.linalg.pinv(slopes.T @ slopes, hermitian=True)[4:, 4:] * spectrum.spread * beyond / spectrum.averaged
    )
    covariance += np.diag(np.square(_SHAPE_RELATIVE))
    if not (
        LOWEST_HZ < resonance_hz < HIGHEST_HZ
        and 1.01 * LOWEST_Q < q < 0.99 * HIGHEST_Q
        and covariance[0, 0] < _LARGEST_RELATIVE_UNCERTAINTY**2
    ):
        raise ValueError(f"the low-frequency noise of {name} does not fix a resonance; record a longer band or a sweep")
    _refuse_another(spectrum, fits, name)
    scale = np.diag([resonance_hz, q])
    frequency, quality = correlated_quantities(
        [resonance_hz, q],
        scale @ covariance @ scale,
        units=["Hz", "1"],
        source=f"scatter of noise in {name}, {direction} resonance",
        how=method,
    )
    return resonance_from(frequency, quality, direction=direction, method=method)


def _refuse_another(spectrum: _Spectrum, fits: list[tuple[float, Vector]], name: str) -> None:
    """Refuse a resonance beside which another, far from it, is almost as likely."""
    cost, resonance_hz = fits[0][0], math.exp(fits[0][1][4])
    for other_cost, other in fits[1:]:
        other_hz = math.exp(other[4])
        if 2 * (other_cost - cost) > _ALIKE_LIKELY * spectrum.spread:
            break
        if LOWEST_HZ < other_hz < HIGHEST_HZ and abs(math.log(other_hz / resonance_hz)) > math.log(_APART):
            raise ValueError(
                f"the low-frequency noise of {name} may come from a resonance at {resonance_hz:.1f} Hz as well as from "
                f"one at {other_hz:.1f} Hz; record a longer band or a sweep"
            )


def _cost(spectrum: _Spectrum, parameters: Vector) -> float:
    """Return minus the logarithm of likelihood of exponentially distributed lines."""
    expected = spectrum.model(parameters)
    return spectrum.averaged * float((np.log(expected) + spectrum.power / expected).sum())


def _slopes(spectrum: _Spectrum, parameters: Vector) -> NDArray[np.float64]:
    """Return the slopes of the logarithm of the expected power, shape (lines, parameters)."""
    step = 1e-4
    return np.stack(
        [
            (np.log(spectrum.model(parameters + shift)) - np.log(spectrum.model(parameters - shift))) / (2 * step)
            for shift in step * np.eye(parameters.size)
        ],
        axis=1,
    )


def _fitted(spectrum: _Spectrum, parameters: Vector) -> tuple[float, Vector]:
    """Return the least cost and its parameters, by damped scoring."""
    cost, damping = _cost(spectrum, parameters), 1e-2
    lowest = np.array([-40.0, -12.0, -6.0, -25.0, math.log(LOWEST_HZ / 2), math.log(LOWEST_Q)])[: parameters.size]
    highest = np.array([40.0, 12.0, 6.0, 10.0, math.log(2 * HIGHEST_HZ), math.log(HIGHEST_Q)])[: parameters.size]
    for _ in range(_STEPS):
        slopes = _slopes(spectrum, parameters)
        score = slopes.T @ (spectrum.power / spectrum.model(parameters) - 1)
        normal = slopes.T @ slopes
        step = np.linalg.solve(normal + damping * np.diag(np.diag(normal) + 1e-3), score)
        tried = np.clip(parameters + np.clip(step, -1.0, 1.0), lowest, highest)
        new_cost = _cost(spectrum, tried)
        if not new_cost < cost:
            damping *= 6
            if damping > 1e6:
                break
            continue
        gained = cost - new_cost
        parameters, cost, damping = tried, new_cost, damping / 4
        if gained < 1e-5:
            break
    return cost, parameters
