"""Tracking ability: the level of a ladder of rising tones at which each channel breaks down, and which goes first.

A stylus that loses a wall for part of a swing adds harmonics and noise that the tone itself doesn't have. The right
channel is cut in the outer wall, which too little side-force compensation unloads; too much unloads the inner one.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from groovewright.measurement.quantity import Quantity
from groovewright.testtone.capture.recording import Recording
from groovewright.testtone.finding.band_finder import LocatedBand
from groovewright.testtone.resonance.low_rate import read_low_rate
from groovewright.testtone.tones.flat_taper import flat_taper

CHANNEL_NAMES = ("left", "right")
FEWEST_RUNGS = 3

HIGHEST_HARMONIC = 10
"""Residual distortion is counted up to this multiple of the tone, or as far as the sample rate reaches."""

JUMP = 1.5
"""Residual distortion this many times what the tracked rung below leads to expect counts as broken down."""

LEAST_DISTORTION = 0.005
"""Residual distortion below this share of the tone never counts as broken down."""

BROKEN_WITHOUT_COMPARISON = 0.10
"""Residual distortion of the lowest rung, with none below to compare with, that counts as broken down."""

_CYCLES_A_PART, _FEWEST_PARTS = 20.0, 4

_HALF_NOTCH = 0.25
"""From this share of the tone's frequency to either side of it the tone and its wow are left out."""

SIDE_FORCE_TOO_SMALL = "too little side-force compensation"
SIDE_FORCE_TOO_LARGE = "too much side-force compensation"
OTHER_CAUSES = "not a matter of side force"


@dataclass(frozen=True)
class Rung:
    """One level of the ladder.

    Attributes
    ----------
    name : str
        Of its band.
    peak_velocity_cm_s : float
        As cut. [cm/s]
    residual : mapping of str to Quantity
        Everything but the tone, between a quarter below it and its tenth harmonic, over the tone, by channel. [%]
    """

    name: str
    peak_velocity_cm_s: float
    residual: Mapping[str, Quantity]


@dataclass(frozen=True)
class TrackingAbility:
    """Where each channel breaks down, and what that says.

    Attributes
    ----------
    rungs : tuple of Rung
        From the lowest level to the highest.
    breakdown : mapping of str to Quantity
        By channel: middle between the last level that was tracked and the first that was not, as far apart as the
        rungs stand. Absent where a channel tracks every level or none. [cm/s]
    not_shown : mapping of str to str
        Why a channel has none.
    first : str
        ``"left"`` or ``"right"`` for the channel that breaks down at a lower level, else ``"both"`` or ``"none"``.
    finding : str
        What follows for the side-force compensation, or that nothing does.
    notes : tuple of str
        What to do, and what never to do.
    """

    rungs: tuple[Rung, ...]
    breakdown: Mapping[str, Quantity]
    not_shown: Mapping[str, str]
    first: str
    finding: str
    notes: tuple[str, ...]


def tracking_ability_of(recording: Recording, ladder: Sequence[LocatedBand]) -> TrackingAbility:
    """Return the level at which each channel breaks down.

    Parameters
    ----------
    recording : Recording
        With a left and a right channel.
    ladder : sequence of LocatedBand
        Lateral tones of one frequency with different peak velocities, in any order.

    Raises
    ------
    ValueError
        If the bands are no such ladder.
    """
    if recording.channel_count != 2:
        raise ValueError("the recording has one channel; tracking ability compares left and right, so record both")
    rising = sorted(ladder, key=_level)
    _refuse_no_ladder(rising)
    rungs = tuple(_rung(recording, located) for located in rising)
    return breakdown_of(rungs)


def breakdown_of(rungs: Sequence[Rung]) -> TrackingAbility:
    """Return where each channel breaks down on a ladder of rungs that rise in level."""
    levels = [rung.peak_velocity_cm_s for rung in rungs]
    broken = {name: _first_broken([rung.residual.get(name) for rung in rungs], levels) for name in CHANNEL_NAMES}
    breakdown: dict[str, Quantity] = {}
    not_shown: dict[str, str] = {}
    for name, first in broken.items():
        if any(name not in rung.residual for rung in rungs):
            not_shown[name] = f"the {name} channel holds no tone on every rung; check the wiring"
        elif first is None:
            not_shown[name] = f"the {name} channel tracks every level, up to {levels[-1]:g} cm/s"
        elif first == 0:
            not_shown[name] = f"the {name} channel is broken down on the lowest rung already, {levels[0]:g} cm/s"
        else:
            breakdown[name] = _between(levels[first - 1], levels[first], name)
    lost = any(name not in rung.residual for rung in rungs for name in CHANNEL_NAMES)
    first_channel = "none" if lost else _which_first(broken)
    finding, notes = _FINDINGS[first_channel]
    return TrackingAbility(tuple(rungs), breakdown, not_shown, first_channel, finding, notes)


_NEVER = "Leave the tracking force in the middle of the maker's range: more of it is no remedy for this."
_FINDINGS: dict[str, tuple[str, tuple[str, ...]]] = {
    "right": (
        SIDE_FORCE_TOO_SMALL,
        ("The right channel, in the outer wall, goes first: raise the compensation a little and play again.", _NEVER),
    ),
    "left": (
        SIDE_FORCE_TOO_LARGE,
        ("The left channel, in the inner wall, goes first: lower the compensation a little and play again.", _NEVER),
    ),
    "both": (
        OTHER_CAUSES,
        (
            "Both channels go at the same level, so side force is balanced to within a rung: look for a dirty or worn "
            "stylus, a worn groove, a stiff or aged suspension, an arm that sticks, or a limit of the cartridge.",
            _NEVER,
        ),
    ),
    "none": (OTHER_CAUSES, ("No channel is shown to break down before the other, so nothing follows for side force.",)),
}


def _level(located: LocatedBand) -> float:
    velocity = located.band.peak_velocity_cm_s
    if not isinstance(velocity, float | int):
        raise ValueError(
            f"band {located.band.name!r} has no peak_velocity_cm_s; each rung of a ladder needs the level it was cut at"
        )
    return float(velocity)


def _refuse_no_ladder(rising: Sequence[LocatedBand]) -> None:
    if len(rising) < FEWEST_RUNGS:
        raise ValueError(f"a ladder of {len(rising)} levels shows no breakdown; it needs at least {FEWEST_RUNGS}")
    for located in rising:
        if located.band.kind != "tone" or located.band.cut != "lateral":
            raise ValueError(
                f"band {located.band.name!r} is a {located.band.cut} {located.band.kind}; a ladder is of lateral "
                f"tones, which load both walls alike"
            )
    frequencies_hz = {located.band.frequency_hz[0] for located in rising}
    levels = [_level(located) for located in rising]
    if len(frequencies_hz) > 1 or len(set(levels)) < len(levels):
        raise ValueError("the bands of a ladder have one frequency and different peak velocities; leave the others out")


def _rung(recording: Recording, located: LocatedBand) -> Rung:
    """Return the residual distortion of both channels on one rung."""
    tone_hz = located.band.frequency_hz[0]
    top_hz = min((HIGHEST_HARMONIC + 0.5) * tone_hz, 0.44 * recording.sample_rate_hz)
    low = read_low_rate(recording, start_s=located.start_s, duration_s=located.duration_s, top_hz=top_hz)
    per_part = math.ceil(_CYCLES_A_PART / tone_hz * low.rate_hz)
    count = low.samples.shape[0] // per_part
    if count < _FEWEST_PARTS:
        raise ValueError(
            f"band {located.band.name!r} lasts {located.duration_s:.2f} s; residual distortion at {tone_hz:g} Hz needs "
            f"at least {_FEWEST_PARTS * _CYCLES_A_PART / tone_hz:.2f} s"
        )
    parts = low.samples[: count * per_part].reshape(count, per_part, 2)
    taper = flat_taper(per_part, edge=per_part / 2)
    power = np.abs(np.fft.rfft(parts * taper[:, np.newaxis], axis=1)) ** 2
    frequency_hz = np.fft.rfftfreq(per_part, 1 / low.rate_hz)
    near = np.abs(frequency_hz - tone_hz) <= _HALF_NOTCH * tone_hz
    counted = ~near & (frequency_hz > (1 - _HALF_NOTCH) * tone_hz) & (frequency_hz < top_hz)
    tone, rest = power[:, near].sum(axis=1), power[:, counted].sum(axis=1)
    residual = {
        name: _ratio(rest[:, k], tone[:, k], f"scatter of residual distortion in {located.band.name}, {name}")
        for k, name in enumerate(CHANNEL_NAMES)
        if tone[:, k].sum() > max(rest[:, k].sum(), 1e-6 * tone.sum() / 2)
    }
    return Rung(located.band.name, _level(located), residual)


def _ratio(rest: NDArray[np.float64], tone: NDArray[np.float64], source: str) -> Quantity:
    """Return the residual over the tone, with the scatter of its mean over the parts. [%]"""
    shares = rest / tone.mean()
    mean = float(shares.mean())
    if mean == 0:
        return Quantity.exact(0.0, "%", how="silent to the last digit beside the tone")
    scatter = float(shares.std(ddof=1)) / math.sqrt(shares.size)
    value = 100 * math.sqrt(mean)
    return Quantity.measured(
        value,
        "%",
        standard_uncertainty=value * scatter / (2 * mean),
        source=source,
        degrees_of_freedom=shares.size - 1,
    )


def _first_broken(residuals: Sequence[Quantity | None], levels: Sequence[float]) -> int | None:
    """Return the lowest rung from which on every one is broken down; None if the highest is not.

    Noise falls with the level, and a harmonic of a tracked groove grows as its square at most (the third one). So a
    rung is compared with the highest tracked one below it.
    """
    if any(residual is None for residual in residuals):
        return None
    values = [residual.value / 100 for residual in residuals if residual is not None]
    tracked: int | None = None
    first: int | None = None
    for k, value in enumerate(values):
        if tracked is None:
            limit = BROKEN_WITHOUT_COMPARISON
        else:
            limit = max(JUMP * values[tracked] * (levels[k] / levels[tracked]) ** 2, LEAST_DISTORTION)
        if value <= limit:
            tracked, first = k, None
        elif first is None:
            first = k
    return first


def _between(tracked_cm_s: float, broken_cm_s: float, name: str) -> Quantity:
    return Quantity.measured(
        (tracked_cm_s + broken_cm_s) / 2,
        "cm/s",
        standard_uncertainty=(broken_cm_s - tracked_cm_s) / math.sqrt(12),
        source=f"distance between the rungs, {name} channel",
        rectangular=True,
        how=f"tracks {tracked_cm_s:g} cm/s and not {broken_cm_s:g} cm/s; anything between is as likely",
    )


def _which_first(broken: Mapping[str, int | None]) -> str:
    left, right = (math.inf if broken[name] is None else float(broken[name] or 0) for name in CHANNEL_NAMES)
    if left == right:
        return "none" if math.isinf(left) else "both"
    return "left" if left < right else "right"
