"""Signed second harmonic of a tone: how far, and to which side, the stylus leans from the groove it reads.

The tone is read as the motion of the stylus that its cut names: both channels alike for a lateral tone, opposed for a
vertical one. Each channel is first divided by its own fundamental, which removes its gain and its crosstalk, so that
both carry the same ratio and can be averaged.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from groovewright.testtone.sheet.band_sheet import Band
from groovewright.testtone.tones.equalisation import (
    TIME_CONSTANTS_S,
    SubsonicFilter,
    equalisation_response,
    equalisation_shift,
    network_source,
    subsonic_response,
)
from groovewright.testtone.tones.tone_fit import ToneFit, real_covariance
from groovewright.tonearm.distortion import second_harmonic_ratio

FAINTEST_CHANNEL = 0.1
"""A channel whose fundamental is below this share of the other's is left out: it is dead, or the record is mono."""

FEWEST_TURNS, FEWEST_STEPS = 0.8, 6
"""A shorter band can't tell its mean from the swing that an off-centre record gives it."""

NEWTON_STEPS = 50

USUAL_CORNER_HZ = 20.0
"""Of the subsonic filter that IEC 60098 had (7950 us). Half of what it does is the doubt of a chain that nobody knows.
[Hz]"""


@dataclass(frozen=True, eq=False)
class SignedHarmonic:
    """Second harmonic of the velocity against the first, at one band.

    Attributes
    ----------
    band : Band
        What was cut; lateral or vertical.
    frequency_hz : float
        Fundamental as played. [Hz]
    ratio : complex
        V2 conj(V1)^2 / |V1|^3, the playback equalisation removed. Its phase is phase(V2) - 2 phase(V1): 0 or pi for a
        leaning stylus, by the sign of the lean and the polarity of the recording.
    ratio_covariance : ndarray, shape (2, 2)
        Of its real and imaginary part, from the noise of the recording.
    channels_opposed : bool
        True where the channels' fundamentals have opposite signs, as a vertical tone's should.
    channels_used : tuple of int
        0 left, 1 right.
    turn_removed : bool
        Whether a swing once a turn was taken off; a band much shorter than a turn can't show it.
    network_shifts : mapping of str to complex
        By how much one standard uncertainty of each time constant of the playback equalisation, by its source,
        changes the ratio.
    """

    band: Band
    frequency_hz: float
    ratio: complex
    ratio_covariance: NDArray[np.float64]
    channels_opposed: bool
    channels_used: tuple[int, ...]
    turn_removed: bool
    network_shifts: Mapping[str, complex] = field(default_factory=dict)

    @property
    def index(self) -> float:
        """Signed e = (peak velocity / groove speed) tan(lean) that alone would give the in-phase part."""
        return float(index_of_second_harmonic(self.ratio.real))

    @property
    def index_standard_uncertainty(self) -> float:
        """Standard uncertainty of `index` from the noise of the recording."""
        step = 1e-6
        slope = (second_harmonic_ratio(self.index + step) - second_harmonic_ratio(self.index - step)) / (2 * step)
        return float(np.sqrt(self.ratio_covariance[0, 0]) / slope)


def index_of_second_harmonic(ratio: ArrayLike) -> NDArray[np.float64]:
    """Return e of Kepler's equation for a signed second harmonic, by inverting J_2(2 e) / J_1(e).

    Parameters
    ----------
    ratio : array_like
        Second harmonic of the velocity over the first, signed.

    Returns
    -------
    ndarray, shape of `ratio`
        Between -1 and 1.

    Raises
    ------
    ValueError
        If the ratio is more than any stylus in contact with its groove can give.

    Examples
    --------
    >>> float(index_of_second_harmonic(second_harmonic_ratio(-0.3)).round(12))
    -0.3
    """
    wanted = np.asarray(ratio, dtype=float)
    edge = np.nextafter(1.0, 0.0)
    most = float(second_harmonic_ratio(edge))
    beyond = ~(np.abs(wanted) <= most)
    if beyond.any():
        raise ValueError(
            f"a second harmonic of {100 * wanted[beyond].flat[0]:.3g} % of the tone is more than a leaning stylus can "
            f"give ({100 * most:.0f} %); check the band's frequency and the equalisation on its sheet"
        )
    index = np.array(wanted, dtype=float)
    step = 1e-6
    for _ in range(NEWTON_STEPS):
        at = np.clip(index, -1 + 2 * step, 1 - 2 * step)
        slope = (second_harmonic_ratio(at + step) - second_harmonic_ratio(at - step)) / (2 * step)
        change = (wanted - second_harmonic_ratio(index)) / slope
        index = np.clip(index + change, -edge, edge)
        if (np.abs(change) <= 1e-15).all():
            break
    return index


def signed_second_harmonic(
    fit: ToneFit,
    *,
    equalised: bool,
    speed_rpm: float,
    equalisation_percent: float = 0.0,
    subsonic: SubsonicFilter | Literal["not known"] | None = None,
) -> SignedHarmonic:
    """Return the signed second harmonic of a lateral or vertical tone.

    An off-centre record turns the groove's tangent to and fro once a turn, 0.2 mm by a tenth of a degree at 115 mm.
    Over a whole number of turns that cancels; over any other, it is fitted and taken off.

    Parameters
    ----------
    fit : ToneFit
        Amplitudes of harmonics 1 and 2, in one channel or two.
    equalised : bool
        True where the recording went through a playback equalisation, which is then removed at both frequencies.
    speed_rpm : float
        Speed at which the record was cut. [rpm]
    equalisation_percent : float
        Standard uncertainty of the time constants of that playback equalisation, and of the corner of a filter. [%]
    subsonic : SubsonicFilter, None or "not known"
        Of the playback chain, which is removed too. One that is not known may be there or not.

    Returns
    -------
    SignedHarmonic

    Raises
    ------
    ValueError
        If the tone moves neither laterally nor vertically, or its second harmonic was not measured.
    """
    band = fit.band
    if band.cut not in ("lateral", "vertical"):
        raise ValueError(
            f"band {band.name!r} is cut {band.cut} only; a lean of the stylus needs a lateral or vertical one"
        )
    first, second = fit.index(1), fit.index(2)
    hz = np.array([fit.frequency_hz, 2 * fit.frequency_hz])
    gain = equalisation_response(hz) if equalised else np.ones(2, dtype=complex)
    if isinstance(subsonic, SubsonicFilter):
        gain = gain * subsonic_response(hz, subsonic.corner_hz, subsonic.order)
    v1, v2 = fit.amplitudes[:, first] / gain[0], fit.amplitudes[:, second] / gain[1]
    used = np.flatnonzero(np.abs(v1) >= FAINTEST_CHANNEL * np.abs(v1).max())
    # Alone, the right channel of a vertical tone still moves against the left one of the lateral tones.
    opposed = (v1[1] * v1[0].conjugate()).real < 0 if used.size == 2 else band.cut == "vertical"
    share = np.where(used == 0, 1.0, -1.0 if opposed else 1.0) / used.size
    weights = _weights_without_turn(fit, speed_rpm)
    v1, ratios = v1[used], _ratios(v1[used], v2[used])
    if weights is None:
        ratio, noise = share @ ratios, fit.covariance
    else:
        course = _ratios(fit.course[:, used, first] / gain[0], fit.course[:, used, second] / gain[1])
        ratio, noise = weights @ course @ share, fit.course_covariance * float(weights @ weights)
    noise = noise[:, used[:, np.newaxis], used]
    covariance = _through(share * v1.conj() ** 2 / np.abs(v1) ** 3, 0 * v1, noise[second] / abs(gain[1]) ** 2)
    # With x = error / V1 the ratio moves by ratio (2 conj(x) - 3 Re(x)).
    covariance += _through(
        -1.5 * share * ratios / v1, 0.5 * share * ratios / v1.conj(), noise[first] / abs(gain[0]) ** 2
    )
    return SignedHarmonic(
        band=band,
        frequency_hz=fit.frequency_hz,
        ratio=complex(ratio),
        ratio_covariance=covariance,
        channels_opposed=bool(opposed),
        channels_used=tuple(int(channel) for channel in used),
        turn_removed=weights is not None,
        network_shifts={
            **(_network_shifts(hz, share * ratios, used, equalisation_percent) if equalised else {}),
            **_subsonic_shift(hz, complex(share @ ratios), subsonic, equalisation_percent),
        },
    )


def _turned(first: complex, second: complex) -> complex:
    """Return by what V2 conj(V1)^2 / |V1|^3 turns and grows where it is divided by networks that are off by these."""
    return abs(first) ** 3 / (second * first.conjugate() ** 2)


def _subsonic_shift(
    hz: NDArray[np.float64],
    ratio: complex,
    subsonic: SubsonicFilter | Literal["not known"] | None,
    percent: float,
) -> dict[str, complex]:
    """Return what a subsonic filter may change of a ratio: its corner, or whether there is one at all."""
    if subsonic is None or percent == 0:
        return {}
    if isinstance(subsonic, SubsonicFilter):
        corner_hz, order = subsonic.corner_hz * (1 + percent / 100), subsonic.order
        before = subsonic_response(hz, subsonic.corner_hz, order)
        first, second = subsonic_response(hz, corner_hz, order) / before
        return {"shape of the subsonic filter": ratio * (_turned(first, second) - 1)}
    first, second = subsonic_response(hz, USUAL_CORNER_HZ, 1)
    return {"subsonic filter of the playback chain, not known": ratio * (_turned(first, second) - 1) / 2}


def _network_shifts(
    hz: NDArray[np.float64], shares: NDArray[np.complex128], used: NDArray[np.intp], percent: float
) -> dict[str, complex]:
    """Return what each time constant of each channel changes, each channel's share of the ratio given."""
    shifts = {}
    for constant, tau in enumerate(TIME_CONSTANTS_S):
        first, second = equalisation_shift(hz, constant, percent)
        factor = _turned(first, second)
        for share, channel in zip(shares, used, strict=True):
            shifts[network_source(tau, ("left", "right")[channel])] = complex(share * (factor - 1))
    return shifts


def _ratios(v1: NDArray[np.complex128], v2: NDArray[np.complex128]) -> NDArray[np.complex128]:
    return np.asarray(v2 * v1.conj() ** 2 / np.abs(v1) ** 3)


def _weights_without_turn(fit: ToneFit, speed_rpm: float) -> NDArray[np.float64] | None:
    """Return the weights of the steps of a tone's course whose sum is its mean without a once-per-turn swing.

    None for a band that is too short to tell the two apart.
    """
    if fit.course_s.size < FEWEST_STEPS:
        return None
    # The outermost steps hold what the demodulation of a tone that begins and ends there rings.
    angle = 2 * np.pi * speed_rpm / 60 * fit.frequency_hz / fit.band.frequency_hz[0] * fit.course_s[1:-1]
    if angle[-1] - angle[0] < 2 * np.pi * FEWEST_TURNS:
        return None
    inner = np.linalg.pinv(np.column_stack((np.ones(angle.size), np.cos(angle), np.sin(angle))))[0]
    return np.pad(inner, 1)


def _through(
    direct: NDArray[np.complex128], conjugate: NDArray[np.complex128], covariance: NDArray[np.complex128]
) -> NDArray[np.float64]:
    """Return the covariance of sum(direct x + conjugate conj(x)), real and imaginary part, for complex errors x."""
    by_real, by_imaginary = direct + conjugate, 1j * (direct - conjugate)
    jacobian = np.block([[by_real.real, by_imaginary.real], [by_real.imag, by_imaginary.imag]])
    return np.asarray(jacobian @ real_covariance(covariance) @ jacobian.T)
