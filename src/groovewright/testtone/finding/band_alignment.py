"""Bands laid over a recording in their order, so that what all of them find there adds up to most.

Every stretch between two changes of the signal earns something as a given band: more the more of its power lies at
the band's frequency, less where its level wanders, where it moves the wrong way or is too short or long. A stretch
that belongs to no band earns nothing. The best sum is found exactly, by dynamic programming.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from groovewright.testtone.finding.band_features import RUMBLE_HZ, Evidence, Features, Floats, Tuning, tuning_of
from groovewright.testtone.sheet.band_sheet import Band

EVEN = 0.5
"""Share of power at which a frame speaks neither for a band nor against it."""

WRONG_CUT = 0.2
WANDERING_PER_DB2 = 0.1
MOST_WANDERING = 0.6
WRONG_LENGTH = 0.3
OFF_COURSE_PER_OCTAVE2 = 0.3
LENGTH_ALLOWANCE = 0.04
SILENT_REWARD = 0.25
LOUD_IN_SILENCE = 0.2
SILENT_WANDERS_DB = 3.0
SILENT_BELOW_LOUD_DB = 20.0
ABOVE_FLOOR_DB = 10.0
LOWEST_BELOW_LOUD_DB = 40.0
SMALLEST_CHANGE = 0.7
MOST_CHANGES = 1000
SHORTEST_FRAMES = 4


@dataclass(frozen=True)
class Stretch:
    """Frames from `first` up to, not including, `stop`."""

    first: int
    stop: int


def align(features: Features, bands: Sequence[Band], zone: Stretch, *, starts_at: int | None) -> list[Stretch | None]:
    """Return where each band stands in the zone, None for one that is not there.

    With `starts_at` the first band is known to start at that frame.
    """
    edges = _changes(features, bands, zone)
    if starts_at is not None:
        edges = np.union1d(edges, [starts_at])
    lengths = edges[np.newaxis, :] - edges[:, np.newaxis]
    best = np.zeros(len(edges))
    steps: list[tuple[NDArray[np.intp], NDArray[np.intp]]] = []
    for number, band in enumerate(bands):
        earned = _earned(features, band, edges, lengths)
        if number == 0 and starts_at is not None:
            earned[edges != starts_at] = -np.inf
        sums = best[:, np.newaxis] + earned
        starts = np.argmax(sums, axis=0)
        ended = sums[starts, np.arange(len(edges))]
        taken = ended > best
        reached = np.where(taken, ended, best)
        ends = _running_argmax(reached)
        best = reached[ends]
        steps.append((np.where(taken, starts, -1), ends))
    return _retraced(edges, steps)


def loud_level_db(features: Features) -> float:
    """Return the level that only a tenth of the frames exceed. [dB]"""
    return float(np.percentile(features.level_db, 90))


def presence(features: Features, tuning: Tuning) -> Floats:
    """Return how much of a frame is a band's tone: its share, and nothing where that is only rumble or hum.

    What rumble and hum are is seen in the frames that hold little above them.
    """
    evidence = features.evidence[tuning]
    quiet = features.level_db < loud_level_db(features) - SILENT_BELOW_LOUD_DB
    if min(tuning.frequency_hz) > RUMBLE_HZ or np.count_nonzero(quiet) < SHORTEST_FRAMES:
        return evidence.share
    floor_db, loud_db = np.percentile(evidence.level_db[quiet], 10), np.percentile(evidence.level_db, 95)
    if loud_db - floor_db < 1.5 * ABOVE_FLOOR_DB:
        return evidence.share
    clear: Floats = evidence.share * np.clip((evidence.level_db - floor_db) / ABOVE_FLOOR_DB, 0, 1)
    return clear


def _running_argmax(values: Floats) -> NDArray[np.intp]:
    highest = np.maximum.accumulate(values)
    places = np.where(values >= highest, np.arange(len(values)), 0)
    return np.maximum.accumulate(places)


def _retraced(edges: NDArray[np.int64], steps: list[tuple[NDArray[np.intp], NDArray[np.intp]]]) -> list[Stretch | None]:
    found: list[Stretch | None] = []
    place = len(edges) - 1
    for starts, ends in reversed(steps):
        place = int(ends[place])
        start = int(starts[place])
        if start < 0:
            found.append(None)
            continue
        found.append(Stretch(int(edges[start]), int(edges[place])))
        place = start
    return found[::-1]


def _changes(features: Features, bands: Sequence[Band], zone: Stretch) -> NDArray[np.int64]:
    """Return the frames at which the signal changes, with both ends of the zone."""
    change = np.zeros(features.frame_count + 1)
    for tuning in {tuning_of(band) for band in bands if band.kind != "silence"}:
        evidence = features.evidence[tuning]
        there = evidence.share > EVEN
        for trace in (20 * evidence.share, *_traces(evidence)):
            change = np.maximum(change, _peaks(_step(np.where(there, trace, np.min(trace, initial=0.0)))))
    change = np.maximum(change, _peaks(_step(features.level_db) / 3))
    places = np.flatnonzero(change > SMALLEST_CHANGE)
    places = places[(places >= zone.first) & (places <= zone.stop)]
    most = max(MOST_CHANGES, 3 * len(bands))
    if len(places) > most:
        places = np.sort(places[np.argsort(change[places])[-most:]])
    if 3 * len(places) <= most:
        # An edge within a frame may belong to either side of it.
        places = np.concatenate([places - 1, places, places + 1])
    places = places[(places > zone.first) & (places < zone.stop)]
    return np.union1d(places, [zone.first, zone.stop]).astype(np.int64)


def _peaks(change: Floats) -> Floats:
    """Return the change where it is the greatest of five neighbours, and nothing elsewhere.

    Each trace has its own: a loud band's start must not hide the end of a faint one just before it.
    """
    greatest = np.lib.stride_tricks.sliding_window_view(np.pad(change, 2), 5).max(axis=1)
    peaks: Floats = np.where(change >= greatest, change, 0.0)
    return peaks


def _step(trace: Floats) -> Floats:
    """Return how far the mean of three frames after each edge lies from that of three before."""
    sums = np.cumsum(np.concatenate([[0.0], np.pad(trace, 3, mode="edge")]))
    means = (sums[3:] - sums[:-3]) / 3
    step: Floats = np.abs(means[3:] - means[:-3])
    return step


def _traces(evidence: Evidence) -> tuple[Floats, ...]:
    """Return what stays put within a tone, all scaled so that 1 is as much as 1 dB of level."""
    lowest_db = float(np.max(evidence.level_db, initial=-300.0)) - LOWEST_BELOW_LOUD_DB
    return (
        np.maximum(evidence.level_db, lowest_db),
        np.clip(evidence.balance_db, -15, 15),
        10 * evidence.likeness * (np.abs(evidence.balance_db) < 10),
    )


def _earned(features: Features, band: Band, edges: NDArray[np.int64], lengths: NDArray[np.int64]) -> Floats:
    """Return what each stretch, from edge (row) to edge (column), would earn as this band."""
    if band.kind == "silence":
        quiet = _quiet(features)
        frame_reward = np.where(quiet, SILENT_REWARD, -LOUD_IN_SILENCE)
        traces = _silent_traces(features, quiet)
    else:
        evidence = features.evidence[tuning_of(band)]
        frame_reward = presence(features, tuning_of(band)) - EVEN - WRONG_CUT * _moves_wrongly(evidence, band)
        traces = _pitch_and(evidence) if band.kind == "tone" else _traces(evidence)
    earned = _between(np.asarray(frame_reward, dtype=float), edges)
    if band.kind == "sweep":
        earned = earned - _off_course(features, band, edges, lengths)
    else:
        wandering = np.zeros_like(earned)
        for trace in traces:
            wandering += _variation(trace, edges, lengths)
        earned = earned - np.minimum(WANDERING_PER_DB2 * wandering, MOST_WANDERING * np.maximum(lengths, 0))
    if band.duration_s is not None:
        expected = band.duration_s / features.frame_s
        excess = np.maximum(np.abs(lengths - expected) - LENGTH_ALLOWANCE * expected - 3, 0)
        earned = earned - WRONG_LENGTH * np.minimum(excess, expected)
    return np.where(lengths >= SHORTEST_FRAMES, earned, -np.inf)


def _pitch_and(evidence: Evidence) -> tuple[Floats, ...]:
    """Return the traces of a single tone, its pitch among them: half a percent counts as much as 1 dB."""
    return (*_traces(evidence), np.log(np.maximum(evidence.line_hz, 1.0)) / 0.005)


def _quiet(features: Features) -> NDArray[np.bool_]:
    quiet = features.level_db < loud_level_db(features) - SILENT_BELOW_LOUD_DB
    for tuning in features.evidence:
        quiet &= presence(features, tuning) < 0.7
    return np.asarray(quiet)


def _silent_traces(features: Features, quiet: NDArray[np.bool_]) -> tuple[Floats, ...]:
    """Return the level, held near that of the quiet frames so that a scratch does not end a silence."""
    if not quiet.any():
        return ()
    usual_db = float(np.median(features.level_db[quiet]))
    return (np.clip(features.level_db, usual_db - SILENT_WANDERS_DB, usual_db + SILENT_WANDERS_DB),)


def _moves_wrongly(evidence: Evidence, band: Band) -> NDArray[np.bool_]:
    if band.cut == "left":
        return np.asarray(evidence.balance_db < 3)
    if band.cut == "right":
        return np.asarray(evidence.balance_db > -3)
    opposed = np.asarray(evidence.likeness * (1 if band.cut == "lateral" else -1) <= 0)
    return np.asarray((np.abs(evidence.balance_db) > 10) | opposed)


def _between(values: Floats, edges: NDArray[np.int64]) -> Floats:
    sums = np.concatenate([[0.0], np.cumsum(values)])[edges]
    between: Floats = np.asarray(sums[np.newaxis, :] - sums[:, np.newaxis])
    return between


def _variation(trace: Floats, edges: NDArray[np.int64], lengths: NDArray[np.int64]) -> Floats:
    """Return the sum of squared distances from the mean within each stretch."""
    centred = trace - np.mean(trace)
    within: Floats = _between(centred**2, edges) - _between(centred, edges) ** 2 / np.maximum(lengths, 1)
    return np.maximum(within, 0)


def _off_course(features: Features, band: Band, edges: NDArray[np.int64], lengths: NDArray[np.int64]) -> Floats:
    """Return what a stretch loses where its pitch does not run evenly from the first frequency to the last.

    What lies below a few lines of the spectrum cannot be told apart and counts as equal.
    """
    lowest_hz = 1.5 / features.frame_s
    ends_hz = np.maximum(band.frequency_hz, lowest_hz)
    line_hz = np.maximum(features.evidence[tuning_of(band)].line_hz, lowest_hz)
    if band.evenly_in == "hertz":
        # An octave is counted where the sweep is half way.
        octave_hz = math.log(2) * float(ends_hz.mean())
        (first, last), octaves = (ends_hz / octave_hz).tolist(), np.asarray(line_hz / octave_hz, dtype=np.float64)
    else:
        (first, last), octaves = np.log2(ends_hz).tolist(), np.asarray(np.log2(line_hz), dtype=np.float64)
    if first == last:
        return np.zeros(lengths.shape)
    frames = np.asarray(np.arange(features.frame_count) + 0.5, dtype=np.float64)
    safe = np.maximum(lengths, 1)
    sum_y, sum_y2 = _between(octaves, edges), _between(octaves**2, edges)
    sum_x = _between(frames, edges) - edges[:, np.newaxis] * safe
    sum_x2 = (
        _between(frames**2, edges) - 2 * edges[:, np.newaxis] * _between(frames, edges) + edges[:, None] ** 2 * safe
    )
    sum_xy = _between(frames * octaves, edges) - edges[:, np.newaxis] * sum_y
    slope = (last - first) / safe
    squares = sum_y2 - 2 * first * sum_y - 2 * slope * sum_xy + first**2 * safe + 2 * first * slope * sum_x
    squares = squares + slope**2 * sum_x2
    lost: Floats = np.minimum(OFF_COURSE_PER_OCTAVE2 * np.maximum(squares, 0), MOST_WANDERING * safe)
    return lost
