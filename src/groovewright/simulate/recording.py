"""The recording that a known deck would make of a known record, a stretch at a time."""

from __future__ import annotations

import math
from collections import OrderedDict
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from groovewright.simulate.deck import REFERENCE_VELOCITY_CM_S, TrueDeck
from groovewright.simulate.filters import (
    CONSTANTS_S,
    CORRECTION_DELAY,
    Memory,
    body_filter,
    equaliser_filter,
    rumble_filters,
    subsonic_filter,
)
from groovewright.simulate.generator import generator_matrix, with_lost_grip, with_own_harmonics
from groovewright.simulate.groove import CutBand, CutGroove, cut_groove
from groovewright.simulate.noise import CLICK_DECAY_S, clicks, hum, rumble_scales, stretch_noise
from groovewright.simulate.platter import GrooveMotion, groove_motion
from groovewright.simulate.rough import Rough, Wander, added_s, played_time_s, wired, with_events
from groovewright.simulate.stylus import LARGEST_SKEW, rounded_velocity, skew_s_per_cm, traced_velocity
from groovewright.testtone.capture.recording import refuse_outside
from groovewright.testtone.sheet.band_sheet import BandSheet
from groovewright.tonearm.tracking import groove_angle

STRETCH_FRAMES = 1 << 16
"""Frames that are made together, so that a recording is the same however it is read."""

STRETCHES_KEPT = 32
"""In memory, the last ones used: a reader goes back by a band at most."""

Frames = slice | NDArray[np.intp]
"""Which frames of a stretch: a run of them, or each by its number."""

LOWEST_RATE_HZ, HIGHEST_RATE_HZ = 8_000.0, 384_000.0

_UPWARD = np.array([[0.0], [1.0]])

_KNOT_FRAMES = 64
"""Frames between which a tracking error, which changes with the turn of the record at most, runs straight."""

_WALLS = np.array([[1.0, 1.0], [1.0, -1.0]]) / math.sqrt(2)
"""Lateral and vertical velocity to left and right wall; each is its own inverse."""


class SimulatedRecording:
    """Samples of a known deck, made when they are read; see `groovewright.testtone.capture.recording.Recording`.

    Memory stays small: the last stretches made are kept, and of each one made the state of its filters, some 2 kB.

    Attributes
    ----------
    groove : CutGroove
        What was cut, with the places of its bands.
    deck : TrueDeck
        The truth.
    sample_rate_hz, channel_count, frame_count : float, int, int
        As of any recording. [Hz]
    loudest : float
        Largest magnitude of what was made so far, full scale 1.0; above that it is clipped.
    """

    def __init__(self, groove: CutGroove, deck: TrueDeck, *, sample_rate_hz: float, seed: int, equalised: bool) -> None:
        self.groove = groove
        self.deck = deck
        self.sample_rate_hz = sample_rate_hz
        self.channel_count = 2
        self._rough = deck.rough or Rough()
        self._turn_s = 60 / groove.speed_rpm / (1 + deck.speed_error_percent / 100)
        plays_s = groove.stop_s / (1 + deck.speed_error_percent / 100) + added_s(self._rough.events, self._turn_s)
        self.frame_count = math.ceil(plays_s / self._rough.clock * sample_rate_hz)
        self.loudest = 0.0
        self._seed = seed
        self._equalised = equalised
        self._memories: dict[int, Memory] = {0: Memory()}
        self._kept: OrderedDict[int, NDArray[np.float64]] = OrderedDict()
        self._wander, self._cut_wander = (
            Wander.drawn(rms, stretch_noise(seed, "flutter", number)) if rms else None
            for number, rms in enumerate((self._rough.unsteady_flutter_percent, self._rough.cut_flutter_percent))
        )

    def read(self, start_frame: int, frame_count: int) -> NDArray[np.float64]:
        """Return these frames, shape (frames, 2), full scale 1.0; see `Recording.read`."""
        refuse_outside(self, start_frame, frame_count)
        result = np.empty((frame_count, 2))
        done = 0
        while done < frame_count:
            stretch, skipped = divmod(start_frame + done, STRETCH_FRAMES)
            samples = self._stretch(stretch)[skipped : skipped + frame_count - done]
            result[done : done + len(samples)] = samples
            done += len(samples)
        return result

    def _stretch(self, stretch: int) -> NDArray[np.float64]:
        if stretch in self._kept:
            self._kept.move_to_end(stretch)
            return self._kept[stretch]
        # What the filters remember has to be carried forward from the last stretch that is known.
        first = stretch if self._is_memoryless else max(known for known in self._memories if known <= stretch)
        for number in range(first, stretch + 1):
            memory = self._memories.get(number, Memory()).copied()
            samples = self._made(number, memory)
            self._memories[number + 1] = memory
        self._kept[stretch] = samples
        if len(self._kept) > STRETCHES_KEPT:
            self._kept.popitem(last=False)
        return samples

    @property
    def _is_memoryless(self) -> bool:
        deck = self.deck
        remembering = (deck.resonance_lateral, deck.resonance_vertical, deck.rumble, deck.clicks_per_minute or None)
        return not self._equalised and all(part is None for part in remembering)

    def _made(self, stretch: int, memory: Memory) -> NDArray[np.float64]:
        """Return the samples of one stretch, shape (frames, 2), and leave `memory` as it is at its end."""
        deck = self.deck
        # The equaliser answers late by some frames, so everything before it runs early by as many.
        early = CORRECTION_DELAY if self._equalised else 0
        frames = stretch * STRETCH_FRAMES + np.arange(STRETCH_FRAMES)
        motion = self._motion((frames + early) / self.sample_rate_hz * self._rough.clock)
        walls, mean_square = self._walls(stretch, motion, memory)
        channels = generator_matrix(deck) @ with_own_harmonics(walls, mean_square, deck)
        samples = channels * self._full_scale_per_cm_s
        if self._equalised:
            samples = self._equalise(samples, memory)
        samples = with_events(
            samples,
            frames / self.sample_rate_hz * self._rough.clock,
            self._rough.events,
            stretch_noise(self._seed, "events", stretch),
        )
        if deck.hum:
            samples = samples + hum(deck.hum, frames / self.sample_rate_hz)
        if deck.recorder_noise_dbfs is not None:
            random = stretch_noise(self._seed, "recorder", stretch)
            rms = math.sqrt(0.5) * 10 ** (deck.recorder_noise_dbfs / 20)
            samples = samples + rms * random.standard_normal(samples.shape)
        return np.asarray(self._recorded(samples).T)

    def _motion(self, time_s: NDArray[np.float64]) -> GrooveMotion:
        """Return where the stylus stands at these moments, with skips, locked grooves and what the cut's speed did."""
        undisturbed_s = played_time_s(time_s, self._rough.events, self._turn_s)
        motion = groove_motion(undisturbed_s, self.groove, self.deck, self._wander)
        if self._cut_wander is None:
            return motion
        ahead_s, faster = self._cut_wander.passed(motion.cut_time_s)
        return replace(motion, cut_time_s=motion.cut_time_s + ahead_s, rate=motion.rate * (1 + faster))

    def _equalise(self, samples: NDArray[np.float64], memory: Memory) -> NDArray[np.float64]:
        """Return both channels behind the phono stage, each through its own network."""
        rough = self._rough
        errors = (rough.equalisation_left_percent, rough.equalisation_right_percent)
        channels = []
        for number, percent in enumerate(errors):
            bass_s, middle_s, treble_s = (
                tau * (1 + error / 100) for tau, error in zip(CONSTANTS_S, percent, strict=True)
            )
            network = equaliser_filter(self.sample_rate_hz, (bass_s, middle_s, treble_s))
            channels.append(memory.filtered(f"equaliser {number}", network, samples[number]))
        result = np.stack(channels)
        if rough.subsonic_hz is None:
            return result
        high_pass = subsonic_filter(rough.subsonic_hz, rough.subsonic_order, self.sample_rate_hz)
        return memory.filtered("subsonic", high_pass, result)

    def _recorded(self, samples: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return what is kept of both channels: clipped, wired and changed in level."""
        rough = self._rough
        if rough.clip_at is not None:
            samples = np.clip(samples, -rough.clip_at, rough.clip_at)
        self.loudest = max(self.loudest, float(np.abs(samples).max()))
        kept: NDArray[np.float64] = 10 ** (rough.gain_after_db / 20) * wired(np.clip(samples, -1.0, 1.0), rough.wiring)
        return kept

    @property
    def _full_scale_per_cm_s(self) -> float:
        # A lateral tone gives each channel its peak velocity over the square root of two.
        return 10 ** (self.deck.level_dbfs / 20) / (REFERENCE_VELOCITY_CM_S / math.sqrt(2))

    def _walls(
        self, stretch: int, motion: GrooveMotion, memory: Memory
    ) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Return the velocity of the stylus along both walls, and the mean square of what was cut. [cm/s]"""
        deck = self.deck
        rumble = self._rumble(stretch, memory)
        warp = None
        if self._rough.warp_mm:
            warp = height, upward = self._warp(motion)
            rumble = np.zeros((2, 2, STRETCH_FRAMES)) if rumble is None else rumble
            rumble[:, 1] += np.stack([height, upward])
            # The arm's bearing lies higher than the record, so a stylus that rises also goes along the groove.
            along = self._rough.warp_lever / self._groove_speed_cm_s(motion.cut_time_s)
            motion = replace(motion, cut_time_s=motion.cut_time_s + along * height, rate=motion.rate + along * upward)
        motion, body_velocity = self._moved_by_arm(motion, rumble, memory, warp)
        axes = np.zeros((2, STRETCH_FRAMES)) if rumble is None else rumble[1].copy()
        mean_square = np.zeros((2, STRETCH_FRAMES))
        for band, part in self._bands_within(motion.cut_time_s):
            shares = np.array(band.lateral_and_vertical)[:, None]
            time_s = motion.cut_time_s[part]
            skew = self._skew(band, motion, part)
            if self._rough.tip_radius_um:
                axes[:, part] += self._rounded(band, motion, part, skew)
            else:
                axes[:, part] += shares * traced_velocity(band, time_s, motion.rate[part], skew)
            mean_square[:, part] += (_WALLS @ shares) ** 2 * band.mean_square(time_s)
        walls = _WALLS @ (axes - body_velocity)
        if any(threshold is not None for threshold in deck.mistracking_cm_s):
            random = stretch_noise(self._seed, "rattle", stretch)
            walls = with_lost_grip(walls, deck, random.standard_normal((2, STRETCH_FRAMES)))
        return walls + self._surface(stretch, memory), mean_square

    def _rounded(
        self, band: CutBand, motion: GrooveMotion, part: Frames, skew: NDArray[np.float64]
    ) -> NDArray[np.float64]:
        """Return lateral and vertical velocity of a band as a round tip reads both walls, shape (2, frames)."""
        time_s = motion.cut_time_s[part]
        walls = [
            rounded_velocity(
                band,
                time_s,
                motion.rate[part],
                skew,
                side=side,
                tip_radius_um=self._rough.tip_radius_um,
                groove_speed_cm_s=self._groove_speed_cm_s(time_s),
            )
            for side in (1, -1)
        ]
        return np.asarray(_WALLS @ np.stack(walls))

    def _warp(self, motion: GrooveMotion) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Return height and upward velocity of the record's surface under the stylus. [cm] [cm/s]"""
        rough = self._rough
        omega = rough.warp_cycles_per_turn * 2 * math.pi * self.groove.speed_rpm / 60
        angle, height_cm = omega * motion.cut_time_s, rough.warp_mm / 10
        return height_cm * np.sin(angle), height_cm * omega * motion.rate * np.cos(angle)

    def _bands_within(self, cut_time_s: NDArray[np.float64]) -> list[tuple[CutBand, Frames]]:
        """Return the bands that pass in this stretch, and which frames of it each fills."""
        found: list[tuple[CutBand, Frames]] = []
        for band in self.groove.bands:
            if self._rough.events:
                # A stylus that skips back or is caught in a groove meets a band again.
                met = np.flatnonzero((cut_time_s >= band.start_s) & (cut_time_s < band.stop_s))
                if met.size:
                    found.append((band, met))
                continue
            start, stop = np.searchsorted(cut_time_s, (band.start_s, band.stop_s))
            if stop > start:
                found.append((band, slice(int(start), int(stop))))
        return found

    def _skew(self, band: CutBand, motion: GrooveMotion, part: Frames) -> NDArray[np.float64]:
        cutting_angle_deg = true_cutting_angle_deg(self.groove, self.deck)
        return skew_s_per_cm(
            band,
            tracking_error_deg=self._tracking_error_deg(motion, part),
            vertical_angle_deg=cutting_angle_deg + self.deck.vertical_tracking_angle_error_deg,
            cutting_angle_deg=cutting_angle_deg,
            groove_speed_cm_s=self._groove_speed_cm_s(motion.cut_time_s[part]),
        )

    def _groove_speed_cm_s(self, cut_time_s: NDArray[np.float64]) -> NDArray[np.float64]:
        return 2 * math.pi * self.groove.speed_rpm / 60 * self.groove.radius_mm(cut_time_s) / 10

    def _tracking_error_deg(self, motion: GrooveMotion, part: Frames) -> NDArray[np.float64]:
        radius_mm = motion.stylus_radius_mm[part]
        if self.deck.geometry is None:
            return np.zeros_like(radius_mm)
        knots = np.append(np.arange(0, len(radius_mm) - 1, _KNOT_FRAMES), len(radius_mm) - 1)
        error_deg = self.deck.tracking_error_deg(radius_mm[knots])
        return np.interp(np.arange(len(radius_mm)), knots, error_deg) + np.degrees(motion.tangent_turn_rad[part])

    def _rumble(self, stretch: int, memory: Memory) -> NDArray[np.float64] | None:
        """Return displacement and velocity of the rumble, each lateral and vertical, shape (2, 2, frames)."""
        rumble = self.deck.rumble
        if rumble is None:
            return None
        white = stretch_noise(self._seed, "rumble", stretch).standard_normal((2, STRETCH_FRAMES))
        white *= rumble_scales(rumble, self.sample_rate_hz)[:, None]
        pair = rumble_filters(rumble.low_corner_hz, rumble.high_corner_hz, self.sample_rate_hz)
        names = ("rumble displacement", "rumble velocity")
        return np.stack([memory.filtered(name, each, white) for name, each in zip(names, pair, strict=True)])

    def _moved_by_arm(
        self,
        motion: GrooveMotion,
        rumble: NDArray[np.float64] | None,
        memory: Memory,
        warp: tuple[NDArray[np.float64], NDArray[np.float64]] | None,
    ) -> tuple[GrooveMotion, NDArray[np.float64]]:
        """Return the motion in the groove with what the moving arm adds, and the arm's velocity, shape (2, frames)."""
        deck = self.deck
        velocity = np.zeros((2, STRETCH_FRAMES))
        if deck.resonance_lateral is None and deck.resonance_vertical is None:
            return motion, velocity
        displacement = np.zeros((2, STRETCH_FRAMES))
        moving = np.zeros((2, 2, STRETCH_FRAMES)) if rumble is None else rumble.copy()
        for band, part in self._bands_within(motion.cut_time_s):
            cut = np.stack(band.motion(motion.cut_time_s[part]))
            cut[1] *= motion.rate[part]
            moving[:, :, part] += np.array(band.lateral_and_vertical)[:, None] * cut[:, None, :]
        for axis, resonance in enumerate((deck.resonance_lateral, deck.resonance_vertical)):
            if resonance is not None:
                follows = body_filter(resonance.frequency_hz, resonance.q, self.sample_rate_hz)
                displacement[axis], velocity[axis] = memory.filtered(f"arm {axis}", follows, moving[:, axis])
        # A swinging arm carries the stylus along the groove by the sine of the groove angle. One that rises over a
        # stylus that stays draws it against the record, on to what was cut later, by the tangent of the vertical
        # angle: seen from the arm, the stylus falls.
        vertical_angle_deg = true_cutting_angle_deg(self.groove, deck) + deck.vertical_tracking_angle_error_deg
        along = np.array([self._sine_of_groove_angle(), math.tan(math.radians(vertical_angle_deg))])
        over_record = displacement, velocity
        if warp is not None:
            # An arm that rides over a warp with the record does not rise against it.
            over_record = displacement - _UPWARD * warp[0], velocity - _UPWARD * warp[1]
        per_cm_s = 1 / self._groove_speed_cm_s(motion.cut_time_s)
        moved = GrooveMotion(
            motion.cut_time_s + along @ over_record[0] * per_cm_s,
            motion.rate + along @ over_record[1] * per_cm_s,
            motion.stylus_radius_mm,
            motion.tangent_turn_rad,
        )
        return moved, velocity

    def _sine_of_groove_angle(self) -> float:
        true = self.deck.true_geometry
        if true is None:
            return 0.0
        middle_mm = float(np.mean(self.groove.radii_mm))
        angle_deg = groove_angle(
            middle_mm, effective_length_mm=true.effective_length_mm, pivot_to_spindle_mm=true.pivot_to_spindle_mm
        )
        return math.sin(math.radians(float(angle_deg)))

    def _surface(self, stretch: int, memory: Memory) -> NDArray[np.float64]:
        """Return the surface noise and clicks of both walls, shape (2, frames). [cm/s]"""
        deck = self.deck
        total = np.zeros((2, STRETCH_FRAMES))
        if deck.surface_noise_db is not None:
            random = stretch_noise(self._seed, "surface", stretch)
            rms_cm_s = REFERENCE_VELOCITY_CM_S / 2 * 10 ** (deck.surface_noise_db / 20)
            total += rms_cm_s * random.standard_normal(total.shape)
        if deck.clicks_per_minute:
            blows = clicks(
                stretch_noise(self._seed, "clicks", stretch),
                STRETCH_FRAMES,
                per_frame=deck.clicks_per_minute / 60 / self.sample_rate_hz,
                mean_velocity_cm_s=deck.click_velocity_cm_s,
            )
            decay = math.exp(-1 / (CLICK_DECAY_S * self.sample_rate_hz))
            total += memory.filtered("clicks", (np.array([1.0]), np.array([1.0, -decay])), blows)
        return total


def true_cutting_angle_deg(groove: CutGroove, deck: TrueDeck) -> float:
    """Return the vertical angle at which the record was truly cut: by the deck sheet, or else the band sheet. [deg]"""
    own_deg = deck.vertical_cutting_angle_deg
    return groove.cutting_angle_deg if own_deg is None else own_deg


def simulate_recording(
    sheet: BandSheet, deck: TrueDeck, *, sample_rate_hz: float = 96_000.0, seed: int = 0
) -> SimulatedRecording:
    """Return the recording that a deck would make of the record that a band sheet describes.

    The stylus is set down where cutting began; a band that is cut from 12 s on is heard from 12 s on if the platter
    turns at nominal speed. The same seed gives the same samples, in whatever blocks they are read.

    Parameters
    ----------
    sheet : BandSheet
        Each band with its duration, and with its peak velocity unless silent. Where a start is missing, the band
        follows the one before after half a second. A sheet that says `equalised` gets a recording through the replay
        response of IEC 60098; any other the bare velocity.
    deck : TrueDeck
        Its truth.
    sample_rate_hz : float
        8 to 384 kHz. [Hz]
    seed : int
        Of noise and clicks, 0 or more.

    Raises
    ------
    ValueError
        If a band cannot be cut or played: it lacks something, the stylus cannot reach it, or the tilt is too large.
    """
    if not LOWEST_RATE_HZ <= sample_rate_hz <= HIGHEST_RATE_HZ:
        raise ValueError(
            f"sample_rate_hz is {sample_rate_hz:g}; it must be {LOWEST_RATE_HZ:g} to {HIGHEST_RATE_HZ:g} Hz"
        )
    groove = cut_groove(sheet, deck.rough, seed=seed)
    for band in groove.bands:
        _refuse_out_of_play(band, groove, deck, sample_rate_hz)
    return SimulatedRecording(groove, deck, sample_rate_hz=float(sample_rate_hz), seed=seed, equalised=sheet.equalised)


def _refuse_out_of_play(band: CutBand, groove: CutGroove, deck: TrueDeck, sample_rate_hz: float) -> None:
    highest_hz = max(band.band.frequency_hz)
    if highest_hz >= sample_rate_hz / 2:
        raise ValueError(
            f"band {band.band.name!r} reaches {highest_hz:g} Hz, which a sample rate of {sample_rate_hz:g} Hz cannot "
            f"hold; choose one above {2 * highest_hz:g} Hz"
        )
    radius_mm = np.linspace(*band.band.radius_mm, 16)
    cutting_angle_deg = true_cutting_angle_deg(groove, deck)
    skew = skew_s_per_cm(
        band,
        tracking_error_deg=deck.tracking_error_deg(radius_mm),
        vertical_angle_deg=cutting_angle_deg + deck.vertical_tracking_angle_error_deg,
        cutting_angle_deg=cutting_angle_deg,
        groove_speed_cm_s=2 * math.pi * groove.speed_rpm / 60 * radius_mm / 10,
    )
    largest = float(np.max(np.abs(skew))) * sum(band.velocities_cm_s)
    if largest > LARGEST_SKEW:
        raise ValueError(
            f"band {band.band.name!r} is cut so high, or the stylus so far off the tangent, that it could not follow "
            f"(e is {largest:.2f}, at most {LARGEST_SKEW:g}); lower the peak velocity or the angle error"
        )
