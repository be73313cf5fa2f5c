"""Resonance of the arm on the cartridge's compliance: its frequency and Q, from a slow sweep or from noise.

In both, what the cartridge sees of the groove's motion is s^2 / (s^2 + w s/Q + w^2): the body follows the groove far
below resonance and stands still far above it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from groovewright.measurement.propagation import propagate_all
from groovewright.measurement.quantity import Quantity
from groovewright.testtone.tones.equalisation import SubsonicFilter

LOWEST_HZ, HIGHEST_HZ = 4.0, 25.0
"""Where the resonance of an arm is looked for: with room on both sides of what cartridges in use have. [Hz]"""

LOWEST_Q, HIGHEST_Q = 0.55, 40.0
"""Below the lower one there is no peak to find."""


@dataclass(frozen=True)
class ArmResonance:
    """Resonance in one direction.

    Attributes
    ----------
    direction : str
        ``"lateral"`` or ``"vertical"``.
    method : str
        What it was found from, in a few words.
    frequency : Quantity
        Undamped frequency. [Hz]
    q : Quantity
        Quality factor. [1]
    damping_ratio, logarithmic_decrement : Quantity
        The same damping in the other two ways in which it is quoted. [1]
    notes : tuple of str
        What to mind.
    subsonic : SubsonicFilter or None
        That a sweep shows in the playback chain.
    """

    direction: str
    method: str
    frequency: Quantity
    q: Quantity
    damping_ratio: Quantity
    logarithmic_decrement: Quantity
    notes: tuple[str, ...]
    subsonic: SubsonicFilter | None = None


def logarithmic_decrement(damping_ratio: float) -> float:
    """Return the natural logarithm of one swing over the next of a freely decaying system.

    Parameters
    ----------
    damping_ratio : float
        Damping over critical damping, 1 / (2 Q); from 0 up to, not including, 1.

    References
    ----------
    .. [1] W. T. Thomson, Theory of Vibration with Applications, section 2.7.

    Examples
    --------
    >>> round(logarithmic_decrement(0.1), 4)
    0.6315
    """
    if not 0 <= damping_ratio < 1:
        raise ValueError(f"a damping ratio of {damping_ratio:g} does not swing; it must be 0 or more and below 1")
    return 2 * math.pi * damping_ratio / math.sqrt(1 - damping_ratio**2)


def body_response(frequency_hz: ArrayLike, *, resonance_hz: float, q: float) -> NDArray[np.complex128]:
    """Return what the cartridge sees of the groove's motion, as a complex factor, shape of `frequency_hz`."""
    x = np.asarray(frequency_hz, dtype=float) / resonance_hz
    return np.asarray(-(x**2) / (1 - x**2 + 1j * x / q))


def resonance_from(frequency: Quantity, q: Quantity, *, direction: str, method: str) -> ArmResonance:
    """Return the result, with the damping in every way in which it is quoted, from a fitted frequency and Q."""
    damping = propagate_all(
        lambda **at: {
            "damping_ratio": 1 / (2 * at["q"]),
            "logarithmic_decrement": logarithmic_decrement(1 / (2 * at["q"])),
        },
        {"q": q},
        units={"damping_ratio": "1", "logarithmic_decrement": "1"},
        how=method,
    )
    notes = (
        "Compliance at the resonance follows from this frequency and the moving mass; it may be far from the quoted.",
    )
    return ArmResonance(
        direction, method, frequency, q, damping["damping_ratio"], damping["logarithmic_decrement"], notes
    )
