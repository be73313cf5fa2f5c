"""The groove as it was cut: where its middle lies, and how fast it moves, at each moment of the cutting."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from groovewright.simulate.noise import stretch_noise
from groovewright.simulate.rough import Rough, cut_direction
from groovewright.testtone.sheet.band_sheet import USUAL_CUTTING_ANGLE_DEG, Band, BandSheet
from groovewright.testtone.tones.equalisation import recording_response

LEAD_IN_S = 0.5
"""Silence before the first band where the sheet does not say when it starts. [s]"""

GAP_S = 0.5
"""Silence between bands where the sheet does not say when one starts, and after the last. [s]"""

FADE_S = 0.005
"""Time in which a cut swells at its band's start and fades at its end. [s]"""

_LATERAL_AND_VERTICAL = {
    "lateral": (1.0, 0.0),
    "vertical": (0.0, 1.0),
    "left": (math.sqrt(0.5), math.sqrt(0.5)),
    "right": (math.sqrt(0.5), -math.sqrt(0.5)),
}


@dataclass(frozen=True)
class CutBand:
    """A band with its place in the cutting settled.

    Attributes
    ----------
    band : Band
        What was cut.
    start_s, stop_s : float
        When the cutter was there. [s]
    velocities_cm_s : tuple of float
        Peak velocity of each of its tones, along the direction of its cut. [cm/s]
    lateral_and_vertical : tuple of two floats
        Shares of the cut outward and upward; their squares add up to 1 where the record was cut as it should be.
    """

    band: Band
    start_s: float
    stop_s: float
    velocities_cm_s: tuple[float, ...]
    lateral_and_vertical: tuple[float, float]

    @property
    def shortest_period_s(self) -> float:
        """Period of its highest frequency. [s]"""
        return 1 / max(self.band.frequency_hz)

    def mean_square(self, cut_time_s: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return the mean square of the velocity along the cut over its periods, at moments of the cutting."""
        x = cut_time_s - self.start_s
        swell, _ = self._envelope(x)
        constant = swell**2 * sum(peak**2 for peak in self.velocities_cm_s) / 2
        if not self.band.cut_with_equalisation:
            return constant
        inside = np.clip(x, 0.0, self.stop_s - self.start_s)
        return np.asarray(constant * np.abs(recording_response(self._sweep_hz(inside))) ** 2)

    def motion(self, cut_time_s: NDArray[np.float64]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Return the groove's displacement along its cut, and its velocity, at moments of the cutting. [cm] [cm/s]"""
        x = cut_time_s - self.start_s
        swell, slope = self._envelope(x)
        displacement, velocity = self._unfaded(x)
        return swell * displacement, swell * velocity + slope * displacement

    def _unfaded(self, x: NDArray[np.float64]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        if self.band.kind == "sweep":
            return self._sweep(x)
        displacement, velocity = np.zeros_like(x), np.zeros_like(x)
        for frequency_hz, peak in zip(self.band.frequency_hz, self.velocities_cm_s, strict=True):
            omega = 2 * math.pi * frequency_hz
            displacement += peak / omega * np.sin(omega * x)
            velocity += peak * np.cos(omega * x)
        return displacement, velocity

    def _sweep(self, x: NDArray[np.float64]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        # The displacement's own fall goes into the velocity.
        from_hz = self.band.frequency_hz[0]
        omega = 2 * math.pi * self._sweep_hz(x)
        if self.band.evenly_in == "hertz":
            phase = 2 * math.pi * (from_hz * x + self._pace * x**2 / 2)
            fall = -2 * math.pi * self._pace / omega
        else:
            phase = (omega - 2 * math.pi * from_hz) / self._pace
            fall = np.full_like(x, -self._pace)
        (peak,) = self.velocities_cm_s
        size, turn = peak / omega, np.zeros_like(x)
        if self.band.cut_with_equalisation:
            logarithm, its_slope = self._equalisation(x)
            size, phase = size * np.exp(logarithm.real), phase + logarithm.imag
            fall, turn = fall + its_slope.real, its_slope.imag
        displacement = size * np.sin(phase)
        return displacement, size * (omega + turn) * np.cos(phase) + fall * displacement

    @property
    def _pace(self) -> float:
        """How fast a sweep runs. [1/s of the logarithm of its frequency, or Hz/s]"""
        from_hz, to_hz = self.band.frequency_hz
        covered = to_hz - from_hz if self.band.evenly_in == "hertz" else math.log(to_hz / from_hz)
        return covered / (self.stop_s - self.start_s)

    def _sweep_hz(self, x: NDArray[np.float64]) -> NDArray[np.float64]:
        from_hz = self.band.frequency_hz[0]
        if self.band.evenly_in == "hertz":
            # Beside the band nothing sounds; a straight course would run to 0 Hz there.
            return np.maximum(from_hz + self._pace * x, min(self.band.frequency_hz) / 2)
        return np.asarray(from_hz * np.exp(self._pace * x))

    def _equalisation(self, x: NDArray[np.float64]) -> tuple[NDArray[np.complex128], NDArray[np.complex128]]:
        """Return the logarithm of the recording equalisation along a sweep, and its slope in time."""
        step_s = 1e-4 / abs(self._pace) * (min(self.band.frequency_hz) if self.band.evenly_in == "hertz" else 1.0)
        before, at, after = (np.log(recording_response(self._sweep_hz(x + step))) for step in (-step_s, 0.0, step_s))
        return at, np.asarray((after - before) / (2 * step_s))

    def _envelope(self, x: NDArray[np.float64]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        length_s = self.stop_s - self.start_s
        fade_s = min(FADE_S, length_s / 4)
        nearest_end_s = np.minimum(x, length_s - x)
        swell = np.ones_like(x)
        slope = np.zeros_like(x)
        fading = nearest_end_s < fade_s
        if fading.any():
            part = np.clip(nearest_end_s[fading] / fade_s, 0.0, 1.0)
            swell[fading] = 0.5 - 0.5 * np.cos(np.pi * part)
            rising = np.where(x[fading] < length_s / 2, 1.0, -1.0)
            slope[fading] = rising * 0.5 * np.pi / fade_s * np.sin(np.pi * part)
        return swell, slope


@dataclass(frozen=True)
class CutGroove:
    """All bands of a record in the order of their cutting.

    Attributes
    ----------
    bands : tuple of CutBand
        Those that hold a tone; silence between them.
    speed_rpm : float
        Of the cutting. [rpm]
    radius_times_s, radii_mm : ndarray
        Moments and radii between which the radius runs in straight lines. [s] [mm]
    stop_s : float
        When the cutting ends. [s]
    cutting_angle_deg : float
        Vertical angle of the cutting that the sheet gives, or the usual one. [deg]
    """

    bands: tuple[CutBand, ...]
    speed_rpm: float
    radius_times_s: NDArray[np.float64]
    radii_mm: NDArray[np.float64]
    stop_s: float
    cutting_angle_deg: float

    def radius_mm(self, cut_time_s: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return the groove radius at moments of the cutting, shape of `cut_time_s`. [mm]"""
        return np.asarray(np.interp(cut_time_s, self.radius_times_s, self.radii_mm))


def cut_groove(sheet: BandSheet, rough: Rough | None = None, *, seed: int = 0) -> CutGroove:
    """Return the groove that a band sheet describes.

    Parameters
    ----------
    sheet : BandSheet
        Bands without a start follow the one before after a short silence; each must have a duration, and each that
        is not silent a peak velocity.
    rough : Rough, optional
        What is wrong with the cut.
    seed : int
        Of what each band's own level is off by.

    Raises
    ------
    ValueError
        If a band lacks what cutting it takes, or two bands overlap.
    """
    bands: list[CutBand] = []
    times_s: list[float] = []
    radii_mm: list[float] = []
    free_from_s, gap_s = 0.0, LEAD_IN_S
    random = stretch_noise(seed, "cut", 0)
    for band in sheet.bands:
        if band.duration_s is None:
            raise ValueError(f"band {band.name!r} has no duration_s, without which it cannot be cut")
        start_s = free_from_s + gap_s if band.start_s is None else band.start_s
        if start_s < free_from_s - 1e-9:
            raise ValueError(
                f"band {band.name!r} starts at {start_s:g} s, before the one above ends, {free_from_s:g} s"
            )
        stop_s = start_s + band.duration_s
        times_s += [start_s, stop_s]
        radii_mm += band.radius_mm
        if band.kind != "silence":
            meant = _LATERAL_AND_VERTICAL[band.cut]
            shares = meant if rough is None else cut_direction(meant, rough, random)
            bands.append(CutBand(band, start_s, stop_s, _velocities_cm_s(band), shares))
        free_from_s, gap_s = stop_s, GAP_S
    given_deg = sheet.vertical_cutting_angle_deg
    return CutGroove(
        tuple(bands),
        sheet.speed_rpm,
        np.array(times_s),
        np.array(radii_mm),
        free_from_s + GAP_S,
        USUAL_CUTTING_ANGLE_DEG if given_deg is None else given_deg,
    )


def _velocities_cm_s(band: Band) -> tuple[float, ...]:
    tones = 2 if band.kind == "two-tone" else 1
    given = band.peak_velocity_cm_s
    if given is None:
        raise ValueError(f"band {band.name!r} has no peak_velocity_cm_s, without which it cannot be cut")
    velocities = given if isinstance(given, tuple) else (given,)
    if len(velocities) != tones:
        raise ValueError(f"band {band.name!r} has {len(velocities)} peak velocities for {tones} tone(s); give {tones}")
    return velocities
