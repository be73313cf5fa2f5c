"""What happened while a tone was played: dropouts, skips, locked grooves and bursts of ticks, cut out and listed.

A tone is demodulated; a dropout shows in its size, a jump of the stylus into another groove in its phase. Where jumps
come a turn apart the groove is locked. Single ticks are no matter: the fits leave them out by themselves.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from groovewright.testtone.capture.recording import Recording
from groovewright.testtone.checks.band_check import part_of
from groovewright.testtone.finding.band_features import Features, tuning_of
from groovewright.testtone.finding.band_finder import LocatedBand
from groovewright.testtone.tones.demodulation import demodulate

Kind = Literal["dropout", "skip", "locked groove", "tick burst", "level jump"]

HALF_WIDTH_HZ, WIDTH_SHARE = 120.0, 0.4
"""Width of the look, and its most against the tone."""

LOST, GAINED = 0.7, 1.4
"""Of the tone's usual size: a fifth less or more is a rumbling level, half is a dropout."""

BEND_S, BEND_RAD = 0.01, 0.5
"""Phase against the mean of that so long before and after, from which on it jumps: a flutter of 0.3 % at 9 Hz bends
that of 3150 Hz by 0.3. [s] [rad]"""

LOST_S = 0.1
"""A tone that was lost for so long has no phase to compare. [s]"""

SMOOTHED_S = 0.01
"""Over which the size and the pitch are smoothed, so that a tick of less than a millisecond hardly counts. [s]"""

JOINED_S = 0.04
"""Flags closer than this are one event. [s]"""

SHORTEST_S = 0.015
"""A shorter loss of the tone, without a jump in phase, is a tick. [s]"""

JUMP_RAD = 0.7
"""Jump of the phase over an event that a tick does not make. [rad]"""

BURST_TIMES, BURST_SHARE = 10.0, 0.005
"""Power beside the tone, against the usual and against the tone, that a burst of ticks makes in a frame."""

BURST_FRAMES = 3
"""Frames that a burst fills at least; the features drop what is shorter."""

BESIDE_S = 0.03
"""Left off beside an event: what the filters of the look smear. [s]"""

LOCKED_ALIKE = 0.03
"""Part of a turn by which the time between two jumps may differ from a turn."""


@dataclass(frozen=True)
class RecordedEvent:
    """Something that happened in a band.

    Attributes
    ----------
    kind : str
        "dropout", "skip", "locked groove", "tick burst" or "level jump".
    start_s, duration_s : float
        [s]
    band : str
        Name of the band.
    """

    kind: Kind
    start_s: float
    duration_s: float
    band: str

    def as_json(self) -> dict[str, Any]:
        """Return plain JSON types."""
        return {"kind": self.kind, "start_s": self.start_s, "duration_s": self.duration_s, "band": self.band}


def events_of(recording: Recording, at: LocatedBand, *, turn_s: float) -> tuple[RecordedEvent, ...]:
    """Return what happened in a tone's band, in the order of time.

    Parameters
    ----------
    recording : Recording
    at : LocatedBand
        Of kind "tone".
    turn_s : float
        Of the record. [s]
    """
    (hz,) = at.band.frequency_hz
    both = 0.5 if at.band.cut == "lateral" else -0.5
    mix = {"left": (1.0, 0.0), "right": (0.0, 1.0)}.get(at.band.cut, (0.5, both))
    try:
        looks = [
            demodulate(
                recording,
                start_s=at.start_s,
                duration_s=at.duration_s,
                mix=one,
                carrier_hz=hz,
                half_width_hz=min(HALF_WIDTH_HZ, WIDTH_SHARE * hz),
            )
            for one in (mix, (mix[0], -mix[1]))
        ]
    except ValueError:
        # Too short, or beyond what the sample rate holds: the fit says so in its own words.
        return ()
    look = max(looks, key=lambda one: float(np.median(np.abs(one.samples))))
    flags = _flags(look.samples, look.rate_hz)
    edges = np.flatnonzero(np.diff(np.concatenate([[False], flags, [False]]).astype(np.int8)))
    found: list[RecordedEvent] = []
    for first, stop in zip(edges[::2].tolist(), edges[1::2].tolist(), strict=True):
        start_s, lasts_s = float(look.times_s[first]), (stop - first) / look.rate_hz
        kind = _kind(look.samples, look.rate_hz, first, stop, lasts_s)
        if kind is not None:
            found.append(RecordedEvent(kind, start_s, lasts_s, at.band.name))
    return _with_locked_grooves(sorted(found, key=lambda event: event.start_s), turn_s)


def _flags(samples: NDArray[np.complex128], rate_hz: float) -> NDArray[np.bool_]:
    """Return where the tone is lost, far too loud, or jumps in phase; near flags joined."""
    kernel = np.ones(max(1, round(SMOOTHED_S * rate_hz)))
    kernel /= kernel.sum()
    size = np.abs(samples)
    usual = float(np.median(size))
    smooth = np.convolve(np.pad(size, kernel.size // 2, mode="edge"), kernel, mode="valid")[: size.size]
    flags = (smooth < LOST * usual) | (smooth > GAINED * usual)
    far = max(1, round(BEND_S * rate_hz))
    if size.size > 2 * far:
        bend = np.angle(samples[: -2 * far] * samples[far:-far].conj() ** 2 * samples[2 * far :])
        flags[far:-far] |= np.abs(bend) > BEND_RAD
    # The first and last moments hold the band's fade.
    edge = min(flags.size // 4, round(JOINED_S * rate_hz))
    flags[:edge] = flags[flags.size - edge :] = False
    gap = max(1, round(JOINED_S * rate_hz))
    places = np.flatnonzero(flags)
    for before, after in pairwise(places):
        if 1 < after - before <= gap:
            flags[before:after] = True
    return np.asarray(flags)


def _kind(samples: NDArray[np.complex128], rate_hz: float, first: int, stop: int, lasts_s: float) -> Kind | None:
    """Return what an event is; None for a tick."""
    inside = np.abs(samples[first:stop])
    usual = float(np.median(np.abs(samples)))
    if lasts_s > LOST_S and float(np.median(inside)) < LOST * usual:
        return "dropout"
    beside, length = max(1, round(0.01 * rate_hz)), max(4, round(0.03 * rate_hz))
    before = samples[max(0, first - beside - length) : max(0, first - beside)]
    after = samples[stop + beside : stop + beside + length]
    if min(before.size, after.size) >= 4:
        gap = (stop - first) + 2 * beside
        turning = np.angle(np.vdot(before[:-1], before[1:]) + np.vdot(after[:-1], after[1:]))
        middle = gap + (before.size + after.size) / 2
        jump = np.angle(np.sum(after) * np.conj(np.sum(before)) * np.exp(-1j * turning * middle))
        if abs(jump) > JUMP_RAD:
            return "skip"
        if abs(math.log(float(np.abs(after).mean() / np.abs(before).mean()))) > math.log(GAINED):
            return "level jump"
    if lasts_s < SHORTEST_S:
        return None
    return "dropout" if float(np.min(inside)) < LOST * usual else None


def bursts_of(features: Features, at: LocatedBand) -> list[RecordedEvent]:
    """Return the stretches of a tone in which ticks come together: far more power beside the tone than usual."""
    first, stop = (round(moment / features.frame_s) for moment in (at.start_s, at.start_s + at.duration_s))
    beside = 1 - features.evidence[tuning_of(at.band)].share[first + 1 : stop - 1]
    if beside.size < BURST_FRAMES:
        return []
    loud = beside > max(BURST_SHARE, BURST_TIMES * float(np.median(beside)))
    # Where the tone itself is lost, that is another event.
    level_db = features.evidence[tuning_of(at.band)].level_db[first + 1 : stop - 1]
    loud &= level_db > np.median(level_db) - 1
    edges = np.flatnonzero(np.diff(np.concatenate([[False], loud, [False]]).astype(np.int8)))
    return [
        RecordedEvent(
            "tick burst", (first + 1 + begin) * features.frame_s, (end - begin) * features.frame_s, at.band.name
        )
        for begin, end in zip(edges[::2].tolist(), edges[1::2].tolist(), strict=True)
        if end - begin >= BURST_FRAMES
    ]


def _with_locked_grooves(events: Sequence[RecordedEvent], turn_s: float) -> tuple[RecordedEvent, ...]:
    """Return the events, with skips that follow each other by a turn told as a locked groove."""
    skips = [event for event in events if event.kind == "skip"]
    locked = [(a, b) for a, b in pairwise(skips) if abs((b.start_s - a.start_s) / turn_s - 1) < LOCKED_ALIKE]
    if not locked:
        return tuple(events)
    start_s = locked[0][0].start_s
    last = locked[-1][1]
    groove = RecordedEvent("locked groove", start_s, last.start_s + last.duration_s - start_s, last.band)
    held = {id(event) for pair in locked for event in pair}
    return tuple(sorted([groove, *(e for e in events if id(e) not in held)], key=lambda event: event.start_s))


def without_events(at: LocatedBand, events: Sequence[RecordedEvent]) -> LocatedBand:
    """Return the longest part of a band that holds none of its events."""
    own = sorted((e for e in events if e.band == at.band.name), key=lambda event: event.start_s)
    if not own:
        return at
    stop_s = at.start_s + at.duration_s
    begins = [at.start_s, *(event.start_s + event.duration_s + BESIDE_S for event in own)]
    ends = [*(event.start_s - BESIDE_S for event in own), stop_s]
    begin_s, end_s = max(zip(begins, ends, strict=True), key=lambda part: part[1] - part[0])
    return part_of(at, begin_s, end_s)
