"""Intermodulation of two tones: by the modulation method and by the difference-tone method.

Modulation method (SMPTE RP 120: 60 Hz and 7 kHz, 4 to 1; the DIN variant has 250 Hz and 8 kHz): a low, loud tone and a
high, soft one. RP 120 asks for the amplitude modulation of the higher tone; IEC 60268-3 for the sidebands themselves,
those of one order added, over the higher tone. In a groove they differ: tracking error shifts the high tone in time
and makes sidebands without amplitude modulation, so both are given, and the phase modulation apart.

Difference-tone method (IEC 60268-3): two high tones alike; the products fall at their difference and beside them, over
twice the higher tone.

The formulas are from memory of those standards (the modulation method's confirmed by a text that restates it, the
difference-tone method's by none): compare with the documents before conformity is claimed.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from groovewright.measurement.quantity import Quantity
from groovewright.testtone.capture.recording import Recording
from groovewright.testtone.finding.band_finder import LocatedBand
from groovewright.testtone.tones.two_tones import Product, TwoToneFit, fit_two_tones

CHANNEL_NAMES = ("left", "right")

LEAST_FREQUENCY_RATIO = 4.0
"""Two tones at least so far apart are meant for the modulation method, nearer ones for the difference-tone method."""

MODULATION_PRODUCTS: tuple[Product, ...] = ((1, 1), (-1, 1), (2, 1), (-2, 1), (2, 0), (3, 0))
DIFFERENCE_PRODUCTS: tuple[Product, ...] = ((-1, 1), (2, -1), (-1, 2))

FROM_MEMORY = "The formula is from memory of IEC 60268-3; compare with the document before conformity is claimed."
AS_RECORDED = "The amplitudes are those of the recording; a playback equalisation weighs the products and tones in it."

_LEAST_SIGMAS = 3.0

Parts = NDArray[np.complex128]


@dataclass(frozen=True)
class Intermodulation:
    """Intermodulation of one channel.

    Attributes
    ----------
    channel : str
        ``"left"`` or ``"right"``.
    method : str
        ``"modulation"`` or ``"difference tone"``.
    frequency : tuple of float
        Of both tones as played, the lower first. [Hz]
    quantities : mapping of str to Quantity
        ``second_order``, ``third_order`` and ``total`` (root of the sum of their squares); by the modulation method
        also ``amplitude_modulation`` and ``phase_modulation``. [%]; phase modulation in [deg]
    not_shown : mapping of str to str
        Why one of these is absent.
    notes : tuple of str
        What to mind.
    """

    channel: str
    method: str
    frequency: tuple[float, float]
    quantities: Mapping[str, Quantity]
    not_shown: Mapping[str, str]
    notes: tuple[str, ...]


def intermodulation_of(recording: Recording, located: LocatedBand) -> tuple[Intermodulation, ...]:
    """Return the intermodulation of each channel, by the method that the band's two frequencies are meant for."""
    low_hz, high_hz = min(located.band.frequency_hz), max(located.band.frequency_hz)
    if high_hz >= LEAST_FREQUENCY_RATIO * low_hz:
        return modulation_method(recording, located)
    return difference_tone_method(recording, located)


def modulation_method(recording: Recording, located: LocatedBand) -> tuple[Intermodulation, ...]:
    """Return the intermodulation of each channel by the modulation method.

    Parameters
    ----------
    recording : Recording
        Read a block at a time.
    located : LocatedBand
        A two-tone band and where it stands.
    """
    fit = fit_two_tones(recording, located, MODULATION_PRODUCTS)
    figures: dict[str, tuple[str, Callable[[_Means], list[float]]]] = {
        "second_order": ("%", lambda v: [100 * (v.size((1, 1)) + v.size((-1, 1))) / v.size((0, 1))]),
        "third_order": ("%", lambda v: [100 * (v.size((2, 1)) + v.size((-2, 1))) / v.size((0, 1))]),
        "amplitude_modulation": ("%", lambda v: [100 * abs(v.modulation(order)[0]) for order in (1, 2)]),
        "phase_modulation": ("deg", lambda v: [math.degrees(abs(v.modulation(order)[1])) for order in (1, 2)]),
    }
    return tuple(
        _channel(fit, channel, "modulation", figures, located.band.name) for channel in range(recording.channel_count)
    )


def difference_tone_method(recording: Recording, located: LocatedBand) -> tuple[Intermodulation, ...]:
    """Return the intermodulation of each channel by the difference-tone method; see `modulation_method`."""
    fit = fit_two_tones(recording, located, DIFFERENCE_PRODUCTS)
    figures: dict[str, tuple[str, Callable[[_Means], list[float]]]] = {
        "second_order": ("%", lambda v: [50 * v.size((-1, 1)) / v.size((0, 1))]),
        "third_order": ("%", lambda v: [50 * (v.size((2, -1)) + v.size((-1, 2))) / v.size((0, 1))]),
    }
    return tuple(
        _channel(fit, channel, "difference tone", figures, located.band.name)
        for channel in range(recording.channel_count)
    )


@dataclass(frozen=True)
class _Means:
    """Mean amplitudes of one channel's products."""

    amplitudes: Mapping[Product, complex]

    def size(self, product: Product) -> float:
        return abs(self.amplitudes[product])

    def modulation(self, order: int) -> tuple[complex, complex]:
        """Return the amplitude and the phase modulation of the higher tone at `order` times the lower. [1], [rad]"""
        tone = self.amplitudes[0, 1]
        upper, lower = self.amplitudes[order, 1] / tone, self.amplitudes[-order, 1] / tone
        return upper + lower.conjugate(), (upper - lower.conjugate()) / 1j


def _channel(
    fit: TwoToneFit,
    channel: int,
    method: str,
    figures: Mapping[str, tuple[str, Callable[[_Means], list[float]]]],
    name: str,
) -> Intermodulation:
    parts = fit.parts[:, :, channel]
    quantities: dict[str, Quantity] = {}
    not_shown: dict[str, str] = {}
    if not (np.abs(parts.mean(axis=0)[fit.products.index((0, 1))]) > 0):
        reason = f"the {CHANNEL_NAMES[channel]} channel holds no tone"
        not_shown = dict.fromkeys((*figures, "total"), reason)
    else:
        orders = [figures["second_order"][1], figures["third_order"][1]]
        every = dict(figures)
        every["total"] = ("%", lambda v: [orders[0](v)[0], orders[1](v)[0]])
        for key, (unit, figure) in every.items():
            value, uncertainty = _jackknife(fit.products, parts, figure)
            if value <= _LEAST_SIGMAS * uncertainty:
                most = value + 2 * uncertainty
                not_shown[key] = f"it does not stand out of the noise; it is at most {most:.2g} {unit}"
                continue
            quantities[key] = Quantity.measured(
                value,
                unit,
                standard_uncertainty=uncertainty,
                source=f"noise on {key.replace('_', ' ')} in {name}, {CHANNEL_NAMES[channel]}",
                degrees_of_freedom=parts.shape[0] - 1,
            )
    notes = (AS_RECORDED, FROM_MEMORY)
    return Intermodulation(CHANNEL_NAMES[channel], method, fit.frequency_hz, quantities, not_shown, notes)


def _jackknife(
    products: tuple[Product, ...], parts: Parts, figure: Callable[[_Means], list[float]]
) -> tuple[float, float]:
    """Return a figure over all parts, its standard uncertainty by leaving out one part at a time.

    The figure is the root of the sum of the squares of its members, each freed of what noise adds to a magnitude.
    """
    count = parts.shape[0]
    whole = np.array(figure(_Means(dict(zip(products, parts.mean(axis=0), strict=True)))))
    left = (parts.sum(axis=0) - parts) / (count - 1)
    members = np.array([figure(_Means(dict(zip(products, row, strict=True)))) for row in left])
    spread = (count - 1) / count * ((members - members.mean(axis=0)) ** 2).sum(axis=0)
    # Noise adds its variance once more to the square of a magnitude: the part across the product's own phase.
    squares = whole**2 - spread
    value = math.sqrt(max(0.0, float(squares.sum())))
    total = np.sqrt((members**2).sum(axis=1))
    variance = (count - 1) / count * float(((total - total.mean()) ** 2).sum())
    return value, math.sqrt(variance)
