"""Digital filters that follow an analogue response, with their memory from one stretch of samples to the next."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

# IEC 60098: the replay response has one zero and two poles with these time constants, and is 0 dB at 1 kHz.
BASS_S, MIDDLE_S, TREBLE_S = 3180e-6, 318e-6, 75e-6

CONSTANTS_S = (BASS_S, MIDDLE_S, TREBLE_S)

CORRECTION_TAPS = 64
"""Long enough for 0.001 dB up to 91 % of half the sample rate at 44.1 and 96 kHz."""

CORRECTION_DELAY = CORRECTION_TAPS // 2

Coefficients = tuple[NDArray[np.float64], NDArray[np.float64]]


@dataclass
class Memory:
    """What the filters of one recording remember at one moment."""

    held: dict[str, NDArray[np.float64]] = field(default_factory=dict)

    def filtered(self, name: str, coefficients: Coefficients, samples: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return samples after a filter along their last axis, and remember its state under a name."""
        from scipy.signal import lfilter

        numerator, denominator = coefficients
        order = max(len(numerator), len(denominator)) - 1
        state = self.held.get(name)
        if state is None:
            state = np.zeros((*samples.shape[:-1], order))
        result, self.held[name] = lfilter(numerator, denominator, samples, axis=-1, zi=state)
        return np.asarray(result)

    def copied(self) -> Memory:
        """Return the same memory, independent of what happens to this one."""
        return Memory(dict(self.held))


def body_filter(frequency_hz: float, q: float, sample_rate_hz: float) -> Coefficients:
    """Return the filter from the groove's motion to that of the arm's body.

    The body follows the groove below resonance and stands still above it. What the cartridge sees is the rest,
    s^2 / (s^2 + w s/Q + w^2). The bilinear transform is exact at resonance and, as that lies a thousand times below
    the sample rate, within 1e-5 wherever the body moves at all.
    """
    return _bilinear(
        numerator=(0.0, 2 * math.pi * frequency_hz / q, (2 * math.pi * frequency_hz) ** 2),
        denominator=(1.0, 2 * math.pi * frequency_hz / q, (2 * math.pi * frequency_hz) ** 2),
        sample_rate_hz=sample_rate_hz,
        exact_at_hz=frequency_hz,
    )


def rumble_filters(low_corner_hz: float, high_corner_hz: float, sample_rate_hz: float) -> tuple[Coefficients, ...]:
    """Return the filters from white noise to rumble's displacement and to its velocity, in that order.

    The velocity is w2 s / ((s + w1)(s + w2)), with the corners w1 and w2.
    """
    low, high = 2 * math.pi * low_corner_hz, 2 * math.pi * high_corner_hz
    denominator = (1.0, low + high, low * high)
    at_hz = math.sqrt(low_corner_hz * high_corner_hz)
    return tuple(
        _bilinear(numerator=numerator, denominator=denominator, sample_rate_hz=sample_rate_hz, exact_at_hz=at_hz)
        for numerator in ((0.0, 0.0, high), (0.0, high, 0.0))
    )


def _bilinear(
    *,
    numerator: tuple[float, float, float],
    denominator: tuple[float, float, float],
    sample_rate_hz: float,
    exact_at_hz: float,
) -> Coefficients:
    # s becomes c (z - 1)/(z + 1), with c such that one frequency maps onto itself.
    omega = 2 * math.pi * exact_at_hz
    c = omega / math.tan(omega / (2 * sample_rate_hz))
    above, below = (
        np.array([p * c * c + q * c + r, 2 * (r - p * c * c), p * c * c - q * c + r])
        for p, q, r in (numerator, denominator)
    )
    return above / below[0], below / below[0]


def equaliser_response(
    frequency_hz: NDArray[np.float64], constants_s: tuple[float, float, float] = CONSTANTS_S
) -> NDArray[np.complex128]:
    """Return the analogue replay response of IEC 60098, or of other time constants, 0 dB at 1 kHz."""
    bass_s, middle_s, treble_s = constants_s

    def shape(at_hz: NDArray[np.float64]) -> NDArray[np.complex128]:
        s = 2j * np.pi * at_hz
        return np.asarray((1 + s * middle_s) / ((1 + s * bass_s) * (1 + s * treble_s)))

    return np.asarray(shape(frequency_hz) / abs(shape(np.array(1000.0))))


def subsonic_filter(corner_hz: float, order: int, sample_rate_hz: float) -> Coefficients:
    """Return a high-pass of Butterworth's shape, of order 1 or 2, 3 dB down at its corner."""
    omega = 2 * math.pi * corner_hz
    if order == 1:
        # A pole and a zero at the origin more leave the response as it is.
        numerator, denominator = (1.0, omega, 0.0), (1.0, 2 * omega, omega**2)
    else:
        numerator, denominator = (1.0, 0.0, 0.0), (1.0, math.sqrt(2) * omega, omega**2)
    return _bilinear(numerator=numerator, denominator=denominator, sample_rate_hz=sample_rate_hz, exact_at_hz=corner_hz)


@lru_cache(maxsize=8)
def equaliser_filter(sample_rate_hz: float, constants_s: tuple[float, float, float] = CONSTANTS_S) -> Coefficients:
    """Return a filter with the analogue replay response, `CORRECTION_DELAY` samples late.

    Poles and zero stand where the time constants put them; a short correction after them, fitted to amplitude and
    phase, undoes what sampling does to the treble.
    """
    bass_s, middle_s, treble_s = constants_s
    zero, bass, treble = (math.exp(-1 / (sample_rate_hz * tau)) for tau in (middle_s, bass_s, treble_s))
    numerator = np.array([1.0, -zero])
    denominator = np.convolve([1.0, -bass], [1.0, -treble])
    # Dense near zero frequency, where the response changes fastest on this scale, and up to 91 % of half the rate.
    omega = np.concatenate([np.geomspace(1e-4, 0.1, 200), np.linspace(0.1, 0.91 * np.pi, 1500)])
    delayed = np.exp(-1j * np.outer(omega, np.arange(CORRECTION_TAPS)))
    sampled = (1 - zero * np.exp(-1j * omega)) / ((1 - bass * np.exp(-1j * omega)) * (1 - treble * np.exp(-1j * omega)))
    wanted = (
        equaliser_response(omega * sample_rate_hz / (2 * np.pi), constants_s)
        * np.exp(-1j * omega * CORRECTION_DELAY)
        / sampled
    )
    weight = 1 / np.abs(wanted)
    system = delayed * weight[:, None]
    target = wanted * weight
    correction = np.linalg.lstsq(
        np.concatenate([system.real, system.imag]), np.concatenate([target.real, target.imag]), rcond=1e-10
    )[0]
    return np.convolve(numerator, correction), denominator
