"""What a real deck, record and recorder do besides: roughness that no analysis is told of, and events on the way."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal, get_args

import numpy as np
from numpy.typing import NDArray

EventKind = Literal["skip", "locked groove", "dropout", "needle drop", "thump", "tick burst"]
EVENT_KINDS: tuple[EventKind, ...] = get_args(EventKind)

Wiring = Literal["right", "swapped", "left inverted", "right inverted", "left dead", "right dead", "mono"]
WIRINGS: tuple[Wiring, ...] = get_args(Wiring)

UNSTEADY_SINES = 48
"""Sines whose sum stands for flutter that is not steady: so many that none stands out, and that their beats last longer
than a band."""

UNSTEADY_HZ = (0.3, 20.0)
"""Between which unsteady flutter lies, alike in every octave; above, it hardly counts through the weighting. [Hz]"""

KNOT_S = 1 / 500
"""Between moments so far apart, a sum of sines up to 20 Hz is drawn as a cubic, within 1e-6 of its size. [s]"""

_WALLS = np.array([[1.0, 1.0], [1.0, -1.0]]) / math.sqrt(2)


@dataclass(frozen=True)
class Event:
    """Something that happens once.

    Attributes
    ----------
    kind : str
        One of `EVENT_KINDS`.
    at_s : float
        When it begins. [s]
    size : float
        Turns of a skip (negative: back) or of a locked groove; level that is left in a dropout, 0 to 1; peak of the
        others, full scale 1.
    lasts_s : float
        How long a dropout, a thump or a tick burst lasts. [s]
    """

    kind: EventKind
    at_s: float
    size: float
    lasts_s: float = 0.05


@dataclass(frozen=True)
class Rough:
    """Roughness of deck, record and recorder. What is left out is perfect.

    Attributes
    ----------
    equalisation_left_percent, equalisation_right_percent : tuple of three floats
        Errors of the replay network's time constants of 3180, 318 and 75 us in each channel. [%]
    subsonic_hz, subsonic_order : float or None, int
        High-pass of Butterworth's shape in the phono stage, of order 1 or 2; None for none. [Hz]
    tip_radius_um : float
        Radius with which the tip touches each wall; 0 for a point. [um]
    cut_azimuth_deg : float
        How far the cutting head was turned; counts as a generator's turn does. [deg]
    cut_level_db, cut_balance_db, cut_scatter_db : float
        True level of all bands over the stated one, of the left wall over the right, and rms of what each band's own
        level is off by. [dB]
    cut_flutter_percent : float
        Rms of the record's own unsteady flutter. [%]
    unsteady_flutter_percent : float
        Rms of the platter's unsteady flutter. [%]
    clock_error_ppm : float
        How much too fast the recorder's clock runs. [ppm]
    warp_mm, warp_cycles_per_turn : float, int
        Amplitude of the record's warp, and waves a turn. [mm]
    warp_lever : float
        Height of the arm's vertical bearing over the record, over the effective length: what a warp moves the stylus
        along the groove, for its height.
    wiring : str
        One of `WIRINGS`.
    clip_at : float or None
        Where a stage before the recorder's gain clips, full scale 1.0; None for nowhere.
    gain_after_db : float
        What is changed in level after that, and after the recorder. [dB]
    events : tuple of Event
    """

    equalisation_left_percent: tuple[float, float, float] = (0.0, 0.0, 0.0)
    equalisation_right_percent: tuple[float, float, float] = (0.0, 0.0, 0.0)
    subsonic_hz: float | None = None
    subsonic_order: int = 1
    tip_radius_um: float = 0.0
    cut_azimuth_deg: float = 0.0
    cut_level_db: float = 0.0
    cut_balance_db: float = 0.0
    cut_scatter_db: float = 0.0
    cut_flutter_percent: float = 0.0
    unsteady_flutter_percent: float = 0.0
    clock_error_ppm: float = 0.0
    warp_mm: float = 0.0
    warp_cycles_per_turn: int = 1
    warp_lever: float = 0.1
    wiring: Wiring = "right"
    clip_at: float | None = None
    gain_after_db: float = 0.0
    events: tuple[Event, ...] = ()

    def __post_init__(self) -> None:
        if self.subsonic_order not in (1, 2):
            raise ValueError(f"a subsonic filter of order {self.subsonic_order} is not made here; it must be 1 or 2")
        if self.wiring not in WIRINGS:
            raise ValueError(f"wiring {self.wiring!r} is not known; write one of {', '.join(WIRINGS)}")

    @property
    def clock(self) -> float:
        """Seconds that pass in a second of the recorder's clock."""
        return 1 / (1 + self.clock_error_ppm * 1e-6)


def cut_direction(shares: tuple[float, float], rough: Rough, random: np.random.Generator) -> tuple[float, float]:
    """Return the shares, lateral and vertical, that a band truly has: turned, weighed and louder as the head cut it.

    Parameters
    ----------
    shares : tuple of two floats
        That were meant.
    rough : Rough
    random : Generator
        For the band's own level.
    """
    turn = math.radians(rough.cut_azimuth_deg)
    own_db = rough.cut_level_db + rough.cut_scatter_db * random.standard_normal()
    levels_db = own_db + np.array([0.5, -0.5]) * rough.cut_balance_db
    turned = np.array([[math.cos(turn), math.sin(turn)], [-math.sin(turn), math.cos(turn)]])
    walls = 10 ** (levels_db / 20) * (turned @ (_WALLS @ np.array(shares)))
    lateral, vertical = (_WALLS @ walls).tolist()
    return lateral, vertical


@dataclass(frozen=True, eq=False)
class Wander:
    """Speed that wanders: a sum of many sines.

    Attributes
    ----------
    omega, peak, phase : ndarray
        Angular frequency, peak of the relative speed and phase of its cosine at the start. [rad/s] [1] [rad]
    """

    omega: NDArray[np.float64]
    peak: NDArray[np.float64]
    phase: NDArray[np.float64]

    @classmethod
    def drawn(cls, rms_percent: float, random: np.random.Generator) -> Wander:
        """Return one drawn at random with this rms."""
        edges = np.geomspace(*UNSTEADY_HZ, UNSTEADY_SINES + 1)
        hz = random.uniform(edges[:-1], edges[1:])
        peak = random.rayleigh(1.0, UNSTEADY_SINES)
        peak *= rms_percent / 100 / math.sqrt(float(peak @ peak) / 2)
        return cls(2 * np.pi * hz, peak, random.uniform(0, 2 * np.pi, UNSTEADY_SINES))

    def passed(self, time_s: NDArray[np.float64]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Return what it adds to the time passed since the start, and to the speed; moments in rising order. [s] [1]"""
        from scipy.interpolate import CubicHermiteSpline

        low, high = float(time_s.min()), float(time_s.max())
        knots = np.linspace(low - KNOT_S, high + KNOT_S, max(8, math.ceil((high - low) / KNOT_S) + 3))
        angle = np.outer(knots, self.omega) + self.phase
        size = self.peak / self.omega
        course = CubicHermiteSpline(knots, np.sin(angle) @ size, np.cos(angle) @ self.peak)
        return course(time_s) - float(np.sin(self.phase) @ size), course(time_s, 1)


def played_time_s(time_s: NDArray[np.float64], events: tuple[Event, ...], turn_s: float) -> NDArray[np.float64]:
    """Return at which moment of an undisturbed playing the stylus stands where it is, after skips and locked grooves.

    The platter turns on, so each is a whole number of turns.
    """
    undisturbed = time_s.copy()
    for event in events:
        after = time_s >= event.at_s
        if event.kind == "skip":
            undisturbed[after] += event.size * turn_s
        elif event.kind == "locked groove":
            undisturbed[after] -= turn_s * np.minimum(np.floor((time_s[after] - event.at_s) / turn_s), event.size)
    return undisturbed


def added_s(events: tuple[Event, ...], turn_s: float) -> float:
    """Return by how much events make the whole recording longer. [s]"""
    turns = {"skip": -1.0, "locked groove": 1.0}
    return sum(turns.get(event.kind, 0.0) * event.size * turn_s for event in events)


def with_events(
    samples: NDArray[np.float64], time_s: NDArray[np.float64], events: tuple[Event, ...], random: np.random.Generator
) -> NDArray[np.float64]:
    """Return the samples, shape (2, frames), with the events that are no matter of the groove."""
    result = samples
    for event in events:
        since_s = time_s - event.at_s
        during = (since_s >= 0) & (since_s < event.lasts_s)
        if event.kind == "dropout":
            result = np.where(during, event.size * result, result)
        elif event.kind == "needle drop":
            # The stylus stands in the air before, and lands with a thump that dies away.
            result = np.where(since_s < 0, 1e-4 * result, result) + _thump(since_s, event.size, 35.0, 0.03)
        elif event.kind == "thump":
            # Up and down, as the suspension of a deck swings.
            result = result + np.array([[1.0], [-0.6]]) * _thump(since_s, event.size, 12.0, event.lasts_s / 3)
        elif event.kind == "tick burst":
            hits = random.random(time_s.size) < 0.004
            result = result + event.size * np.where(during & hits, random.standard_normal((2, time_s.size)), 0.0)
    return result


def _thump(since_s: NDArray[np.float64], peak: float, hz: float, decay_s: float) -> NDArray[np.float64]:
    after = np.maximum(since_s, 0.0)
    return np.where(since_s >= 0, peak * np.exp(-after / decay_s) * np.sin(2 * np.pi * hz * after), 0.0)


def wired(samples: NDArray[np.float64], wiring: Wiring) -> NDArray[np.float64]:
    """Return the samples, shape (2, frames), as the leads carry them."""
    left, right = samples
    mono = (left + right) / 2
    pairs = {
        "right": (left, right),
        "swapped": (right, left),
        "left inverted": (-left, right),
        "right inverted": (left, -right),
        "left dead": (np.zeros_like(left), right),
        "right dead": (left, np.zeros_like(right)),
        "mono": (mono, mono),
    }
    return np.stack(pairs[wiring])
