"""Crosstalk, azimuth, balance and polarity of two channels, from a left cut and a right cut band.

Both bands give the transfer matrix T of a tone: columns are the cut channel, rows the output. A generator turned by d
about the cantilever gives T = gains [[1, k], [k, 1]] [[cos d, sin d], [-sin d, cos d]], with a leak k that is alike
both ways. Each row over its own diagonal is then free of the gains, and the two crosstalks are tan(d + atan k) and
tan(atan k - d): half the difference of their arctangents is the turn, half the sum the leak. No turn gives an
imaginary part, so that is leak too.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from groovewright.measurement.quantity import Quantity, Source, correlated_quantities
from groovewright.testtone.sheet.allowances import EXACT, Allowances, cut_source
from groovewright.testtone.tones.equalisation import TIME_CONSTANTS_S, equalisation_shift, network_source
from groovewright.testtone.tones.faint_level import DB_PER_NEPER, FaintLevel, faint_level
from groovewright.testtone.tones.tone_fit import ToneFit

SAME_FREQUENCY = 0.01
"""Bands whose tones differ by more than this share are not one tone's columns."""

LEFT, RIGHT = 0, 1


@dataclass(frozen=True, eq=False)
class ChannelMatrix:
    """How two channels are mixed.

    Attributes
    ----------
    frequency_hz : float
        Of the tone. [Hz]
    transfer : ndarray, shape (2, 2)
        Complex; columns are the cut channel, rows the output, left first. Its scale is such that the left cut gives
        the left output 1.
    crosstalk_left_into_right, crosstalk_right_into_left : Quantity
        Output of the channel that is not cut, relative to what the same output gives when its own channel is cut as
        high, so that the balance of the outputs doesn't enter. [dB]
    azimuth_rotation : Quantity
        Turn of the generator about the cantilever; positive lets a right cut into the left output in phase, and a left
        cut into the right output out of phase. [deg]
    crosstalk_leak : Quantity
        What no turning mends, root mean square of both ways: the part alike both ways and the imaginary parts. [dB]
    crosstalk_at_best_azimuth : Quantity
        Crosstalk of the worse way once the turn is taken out. [dB]
    channel_balance : Quantity
        Gain of the left output over that of the right. [dB]
    polarity : int or None
        1 where both outputs have the same polarity, -1 where they are opposed, None where no band tells.
    notes : tuple of str
        What the results rest on.
    """

    frequency_hz: float
    transfer: NDArray[np.complex128]
    crosstalk_left_into_right: Quantity
    crosstalk_right_into_left: Quantity
    azimuth_rotation: Quantity
    crosstalk_leak: Quantity
    crosstalk_at_best_azimuth: Quantity
    channel_balance: Quantity
    polarity: int | None
    notes: tuple[str, ...]


@dataclass(frozen=True, eq=False)
class _Parts:
    """Real numbers that everything is made of, in the order of `_parts`, and what makes them uncertain.

    `covariance` is that of noise; `unseen` has their change with one standard uncertainty of what no noise shows.
    """

    values: NDArray[np.float64]
    covariance: NDArray[np.float64]
    unseen: Mapping[str, NDArray[np.float64]]

    def level(self, rows: NDArray[np.float64]) -> tuple[FaintLevel, NDArray[np.float64]]:
        """Return the level of the vector that these rows make of the parts, and its change with each part."""
        whole = self.covariance + sum(np.outer(change, change) for change in self.unseen.values())
        level = faint_level(rows @ self.values, rows @ whole @ rows.T)
        return level, level.gradient_db @ rows


def channel_matrix(
    left_fit: ToneFit,
    right_fit: ToneFit,
    reference_fit: ToneFit | None = None,
    *,
    allowances: Allowances = EXACT,
    equalised: bool = True,
    record_name: str = "this test record",
) -> ChannelMatrix:
    """Return how the channels are mixed.

    Parameters
    ----------
    left_fit, right_fit : ToneFit
        Of a band cut in the left channel only and of one cut in the right only, of one frequency.
    reference_fit : ToneFit or None
        Of a lateral or vertical band. It tells the polarity. At the frequency of the other two it also tells the phase
        between the outputs and how high the left and the right band are cut relative to each other, both of which are
        otherwise taken from the sheet or as equal.
    allowances : Allowances
        How far the record's cut and the playback equalisation may be off.
    equalised : bool
        Whether the recording went through a playback equalisation.
    record_name : str
        Labels what the record's cut is off by, which captures of one record share.

    Raises
    ------
    ValueError
        If the bands are not such a pair, or the cut channel is not the louder output.

    Notes
    -----
    Bands play one after the other, so the phase between the left and the right cut is not recorded: it follows from
    `reference_fit`, or from the outputs having the same phase. Uncertainties come from the noise of the bands to first
    order; a level that the noise hides is an upper bound, and its uncertainty is unknown.
    """
    for fit, cut, channel in ((left_fit, "left", LEFT), (right_fit, "right", RIGHT)):
        _refuse_as_column(fit, cut, channel)
    _refuse_two_frequencies(left_fit, right_fit)
    fits = [left_fit, right_fit]
    same_tone = reference_fit is not None and _same_frequency(left_fit, reference_fit)
    polarity = None if reference_fit is None else channel_polarity(reference_fit)
    if reference_fit is not None and same_tone:
        fits.append(reference_fit)
    fallback = (polarity or 1) * _relative_cut(left_fit, right_fit)
    notes = _notes(left_fit, right_fit, reference_fit, same_tone=same_tone)

    def parts(values: NDArray[np.float64]) -> NDArray[np.float64]:
        return _parts(_transfer(values, fits, fallback))

    values, covariance = _stacked(fits)
    carried = _carried(parts, values, covariance)
    unseen = _unseen(carried[0], allowances, record_name, matched=len(fits) == 3)
    if equalised:
        unseen |= _of_the_networks(left_fit.frequency_hz, allowances)
    found = _Parts(*carried, unseen)
    quantities = _quantities(found, fits)
    return ChannelMatrix(
        frequency_hz=left_fit.frequency_hz,
        transfer=_transfer(values, fits, fallback),
        polarity=polarity,
        notes=notes,
        **quantities,
    )


def channel_polarity(fit: ToneFit) -> int:
    """Return 1 where both outputs of a lateral or vertical band have the same polarity, -1 where they are opposed.

    Raises
    ------
    ValueError
        If the band is cut in one channel only, has one channel, or one output is too faint beside the other to tell.
    """
    _refuse_mono(fit)
    if fit.band.cut not in ("lateral", "vertical"):
        raise ValueError(f"band {fit.band.name!r} is cut {fit.band.cut} only; a lateral or vertical one tells polarity")
    if 0 in (fit.amplitude(LEFT), fit.amplitude(RIGHT)):
        raise ValueError(f"one output of band {fit.band.name!r} is silent; neither polarity would explain that")
    ratio = fit.amplitude(RIGHT) / fit.amplitude(LEFT) * (1 if fit.band.cut == "lateral" else -1)
    if abs(ratio.real) < abs(ratio.imag) or not 0.1 < abs(ratio) < 10:
        raise ValueError(
            f"the outputs of band {fit.band.name!r} differ by {20 * math.log10(abs(ratio)):.1f} dB and "
            f"{math.degrees(math.atan2(ratio.imag, ratio.real)):.0f} degrees; neither polarity would explain that"
        )
    return 1 if ratio.real > 0 else -1


def _refuse_mono(fit: ToneFit) -> None:
    if fit.amplitudes.shape[0] != 2:
        raise ValueError(f"band {fit.band.name!r} has one channel; crosstalk and balance need two")


def _refuse_as_column(fit: ToneFit, cut: str, channel: int) -> None:
    _refuse_mono(fit)
    if fit.band.cut != cut:
        raise ValueError(f"band {fit.band.name!r} is cut {fit.band.cut}; the {cut} column needs one cut {cut}")
    wanted, other = abs(fit.amplitude(channel)), abs(fit.amplitude(1 - channel))
    if wanted <= other:
        raise ValueError(
            f"band {fit.band.name!r} is cut {cut}, yet the other output is the louder by "
            f"{20 * math.log10(other / max(wanted, 1e-12)):.1f} dB; the channels are swapped, or the cuts on the sheet"
        )


def _same_frequency(one: ToneFit, other: ToneFit) -> bool:
    return abs(other.frequency_hz / one.frequency_hz - 1) <= SAME_FREQUENCY


def _refuse_two_frequencies(left_fit: ToneFit, right_fit: ToneFit) -> None:
    if not _same_frequency(left_fit, right_fit):
        raise ValueError(
            f"bands {left_fit.band.name!r} and {right_fit.band.name!r} hold {left_fit.frequency_hz:.1f} and "
            f"{right_fit.frequency_hz:.1f} Hz; crosstalk both ways needs one frequency"
        )


def _relative_cut(left_fit: ToneFit, right_fit: ToneFit) -> float:
    """Return how high the left band is cut over the right, as the sheet has it; 1 where it doesn't say."""
    left, right = left_fit.band.peak_velocity_cm_s, right_fit.band.peak_velocity_cm_s
    return left / right if isinstance(left, float) and isinstance(right, float) else 1.0


def _notes(left_fit: ToneFit, right_fit: ToneFit, reference: ToneFit | None, *, same_tone: bool) -> tuple[str, ...]:
    notes = []
    if reference is None:
        notes.append(
            "No lateral or vertical band tells the polarity of the channels; it is taken as the same. If it is "
            "opposed, the azimuth rotation has the other sign."
        )
    if not same_tone:
        known = all(fit.band.peak_velocity_cm_s is not None for fit in (left_fit, right_fit))
        level = "as high as the sheet says" if known else "equally high"
        notes.append(
            f"Bands {left_fit.band.name!r} and {right_fit.band.name!r} are taken to be cut {level}, and the outputs to "
            "have the same phase; a lateral band of the same frequency would tell both."
        )
    return tuple(notes)


def _stacked(fits: list[ToneFit]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return the fundamentals of all bands as real numbers and their covariance; bands are independent."""
    size = 4 * len(fits)
    values, covariance = np.zeros(size), np.zeros((size, size))
    for k, fit in enumerate(fits):
        fundamental = fit.amplitudes[:, fit.index(1)]
        rows = slice(4 * k, 4 * k + 4)
        values[rows] = np.concatenate([fundamental.real, fundamental.imag])
        covariance[rows, rows] = fit.real_covariance()
    return values, covariance


def _transfer(values: NDArray[np.float64], fits: list[ToneFit], fallback: float) -> NDArray[np.complex128]:
    """Return T from the fundamentals of the bands; `fallback` is what the right column is multiplied by else."""
    bands = values.reshape(-1, 2, 2)
    fundamentals = bands[:, 0] + 1j * bands[:, 1]
    left, right = fundamentals[0], fundamentals[1]
    if len(fits) == 3:
        # A lateral cut moves both walls alike, a vertical one opposed: both outputs are left + (+-) factor * right.
        both = fundamentals[2]
        factor = (both[RIGHT] * left[LEFT] - both[LEFT] * left[RIGHT]) / (
            both[LEFT] * right[RIGHT] - both[RIGHT] * right[LEFT]
        )
        factor *= 1 if fits[2].band.cut == "lateral" else -1
    else:
        factor = fallback * (left[LEFT] / abs(left[LEFT])) / (right[RIGHT] / abs(right[RIGHT]))
    return np.asarray(np.stack([left, factor * right], axis=1) / left[LEFT])


def _parts(transfer: NDArray[np.complex128]) -> NDArray[np.float64]:
    """Return turn, leak (real, imaginary), odd imaginary part, crosstalks (real, imaginary), log of the balance."""
    into_left = transfer[LEFT, RIGHT] / transfer[LEFT, LEFT]
    into_right = transfer[RIGHT, LEFT] / transfer[RIGHT, RIGHT]
    first, second = np.arctan(into_left), np.arctan(into_right)
    leak = np.tan((first + second) / 2)
    gains = transfer[LEFT, LEFT] / np.cos(first) / (transfer[RIGHT, RIGHT] / np.cos(second))
    odd = (first - second) / 2
    return np.array(
        [
            odd.real,
            leak.real,
            leak.imag,
            odd.imag,
            into_left.real,
            into_left.imag,
            into_right.real,
            into_right.imag,
            math.log(abs(gains)),
        ]
    )


def _carried(
    model: Callable[[NDArray[np.float64]], NDArray[np.float64]],
    values: NDArray[np.float64],
    covariance: NDArray[np.float64],
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return the model's values and their covariance to first order."""
    step = 1e-5 * float(np.abs(values).max())
    slopes = np.stack(
        [(model(values + step * unit) - model(values - step * unit)) / (2 * step) for unit in np.eye(values.size)],
        axis=1,
    )
    return model(values), slopes @ covariance @ slopes.T


_UNIT = np.eye(9)
_TURN, _BALANCE = _UNIT[0], _UNIT[8]
_INTO_LEFT, _INTO_RIGHT = _UNIT[4:6], _UNIT[6:8]
_LEAK = _UNIT[1:4]
# With the turn taken out the ways are leak +- i odd.
_LEFT_OVER = (np.array([_UNIT[1], _UNIT[2] + _UNIT[3]]), np.array([_UNIT[1], _UNIT[2] - _UNIT[3]]))


def _unseen(
    values: NDArray[np.float64], allowances: Allowances, record_name: str, *, matched: bool
) -> dict[str, NDArray[np.float64]]:
    """Return by how much one standard uncertainty of each error of the cut changes the parts.

    A turned head is a turned generator to all bands alike. One wall cut louder than the other scales the right column,
    unless a lateral band `matched` both, whose own walls then differ.
    """
    leak = allowances.cut_leak_percent / 100
    louder = allowances.cut_balance_db / DB_PER_NEPER
    # Two bands, each with a level of its own, tell one ratio.
    apart = 0.0 if matched else math.sqrt(2) * allowances.cut_band_db / DB_PER_NEPER
    scaled = np.concatenate([np.zeros(4), -values[4:6], values[6:8], [1.0]])
    changes = {
        "azimuth": math.radians(allowances.cut_azimuth_deg) * (_TURN + _INTO_LEFT[0] - _INTO_RIGHT[0]),
        "leak in phase": leak * (_LEAK[0] + _INTO_LEFT[0] + _INTO_RIGHT[0]),
        "leak a quarter turn late": leak * (_LEAK[1] + _INTO_LEFT[1] + _INTO_RIGHT[1]),
        "leak opposed, a quarter turn late": leak * (_LEAK[2] + _INTO_LEFT[1] - _INTO_RIGHT[1]),
        "balance": louder * scaled,
        "levels of left and right band": apart * scaled,
    }
    return {cut_source(what, record_name): change for what, change in changes.items() if change.any()}


def _of_the_networks(frequency_hz: float, allowances: Allowances) -> dict[str, NDArray[np.float64]]:
    """Return by how much the balance changes with each time constant of each channel's equalisation."""
    changes = {}
    for constant, tau in enumerate(TIME_CONSTANTS_S):
        shift = equalisation_shift(frequency_hz, constant, allowances.equalisation_percent)
        change = math.log(abs(complex(shift)))
        for side, sign in (("left", 1.0), ("right", -1.0)):
            if change:
                changes[network_source(tau, side)] = sign * change * _BALANCE
    return changes


def _quantities(found: _Parts, fits: list[ToneFit]) -> dict[str, Quantity]:
    """Return the results as quantities that share the noise of the bands."""
    worse = max(_LEFT_OVER, key=lambda rows: float(np.linalg.norm(rows @ found.values)))
    levels = {
        "crosstalk_left_into_right": found.level(_INTO_RIGHT),
        "crosstalk_right_into_left": found.level(_INTO_LEFT),
        "crosstalk_leak": found.level(_LEAK),
        "crosstalk_at_best_azimuth": found.level(worse),
    }
    rows = [math.degrees(1) * _TURN, DB_PER_NEPER * _BALANCE, *(gradient for _, gradient in levels.values())]
    values = [float(row @ found.values) for row in rows[:2]] + [level.level_db for level, _ in levels.values()]
    names = ["azimuth_rotation", "channel_balance", *levels]
    slopes = np.stack(rows)
    bands = " and ".join(repr(fit.band.name) for fit in fits)
    quantities = correlated_quantities(
        values,
        slopes @ found.covariance @ slopes.T,
        units=["deg", *["dB"] * 5],
        source=f"noise of bands {bands}",
        degrees_of_freedom=float(min(fit.degrees_of_freedom[0] for fit in fits)),
        how=f"from bands {bands}",
    )
    added = {label: slopes @ change for label, change in found.unseen.items()}
    whole = [
        replace(
            quantity,
            components={**(quantity.components or {}), **{Source(label): float(by[k]) for label, by in added.items()}},
        )
        for k, quantity in enumerate(quantities)
    ]
    return {
        name: _bound(quantity) if name in levels and levels[name][0].is_bound else quantity
        for name, quantity in zip(names, whole, strict=True)
    }


def _bound(quantity: Quantity) -> Quantity:
    why = (
        f"the noise hides it, or what the record's own cut may leak; it is below {quantity.value:.1f} dB with a "
        "probability of 95 %"
    )
    return Quantity.unknown_uncertainty(quantity.value, quantity.unit, why=why, how=f"upper bound {quantity.how}")
