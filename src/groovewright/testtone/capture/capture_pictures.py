"""What the pictures of a capture are drawn from: plain arrays with their unit in the name."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class SpeedCurve:
    """Speed against time over one band.

    Attributes
    ----------
    band : str
        Name of the band.
    time_s : ndarray, shape (n,)
        From the start of the recording. [s]
    deviation_percent, without_eccentricity_percent : ndarray, shape (n,)
        Deviation from the nominal speed, as measured and with the once-per-turn sine taken out. [%]
    """

    band: str
    time_s: Array
    deviation_percent: Array
    without_eccentricity_percent: Array


@dataclass(frozen=True, eq=False)
class SpeedSpectrum:
    """Spectrum of the deviation of speed over one band.

    Attributes
    ----------
    band : str
        Name of the band.
    frequency_hz, amplitude_percent : ndarray, shape (n,)
        Peak deviation that a steady variation of each frequency has. [Hz], [%]
    """

    band: str
    frequency_hz: Array
    amplitude_percent: Array


@dataclass(frozen=True, eq=False)
class RasterPicture:
    """Deviation of speed over the platter's turn, a row for each turn.

    Attributes
    ----------
    band : str
        Name of the band.
    angle_deg : ndarray, shape (angles,)
        Platter angle from the start of the band. [deg]
    turn : ndarray, shape (turns,)
        Number of each turn, from 1.
    deviation_percent : ndarray, shape (turns, angles)
        NaN where the band holds no signal there. [%]
    """

    band: str
    angle_deg: Array
    turn: Array
    deviation_percent: Array


@dataclass(frozen=True, eq=False)
class RadiusFit:
    """An angle error against groove radius, as measured and as fitted.

    Attributes
    ----------
    what : str
        ``"tracking error"`` or ``"vertical tracking angle error"``.
    bands : tuple of str
        Band of each point.
    radius_mm, error_deg, standard_uncertainty_deg : ndarray, shape (points,)
        Measured points. [mm], [deg]
    distortion_percent : ndarray, shape (points,)
        Second harmonic of velocity that each point stands for, signed as the error is. [%]
    fit_radius_mm, fit_error_deg, fit_low_deg, fit_high_deg : ndarray, shape (n,)
        The fitted curve with its 95 % band; empty where nothing could be fitted. [mm], [deg]
    fit_distortion_percent : ndarray, shape (n,)
        Second harmonic that the fitted curve gives at the peak velocity of the bands. [%]
    target_error_deg : ndarray, shape (n,)
        What the target geometry has at `fit_radius_mm`; empty without a target. [deg]
    """

    what: str
    bands: tuple[str, ...]
    radius_mm: Array
    error_deg: Array
    standard_uncertainty_deg: Array
    distortion_percent: Array
    fit_radius_mm: Array
    fit_error_deg: Array
    fit_low_deg: Array
    fit_high_deg: Array
    fit_distortion_percent: Array
    target_error_deg: Array


@dataclass(frozen=True, eq=False)
class LevelCurve:
    """Level against frequency: a response from a sweep, or a spectrum of noise.

    Attributes
    ----------
    band : str
        Name of the band.
    trace : str
        What it is of: ``"left"``, ``"right"``, ``"lateral"`` or ``"vertical"``.
    frequency_hz, level_db : ndarray, shape (n,)
        [Hz], [dB]
    reference : str
        What 0 dB is, in a few words.
    """

    band: str
    trace: str
    frequency_hz: Array
    level_db: Array
    reference: str


@dataclass(frozen=True, eq=False)
class LadderCurve:
    """Distortion of one channel up a ladder of rising levels.

    Attributes
    ----------
    channel : str
        ``"left"`` or ``"right"``.
    peak_velocity_cm_s, distortion_percent : ndarray, shape (steps,)
        [cm/s], [%]
    breaks_at_cm_s : float or None
        Level at which tracking breaks down; None if it holds on every step. [cm/s]
    """

    channel: str
    peak_velocity_cm_s: Array
    distortion_percent: Array
    breaks_at_cm_s: float | None


@dataclass(frozen=True, eq=False)
class CapturePictures:
    """Everything that can be drawn of a capture; a tuple is empty where the sheet has no band for it."""

    speed: tuple[SpeedCurve, ...] = ()
    speed_spectra: tuple[SpeedSpectrum, ...] = ()
    rasters: tuple[RasterPicture, ...] = ()
    radius_fits: tuple[RadiusFit, ...] = ()
    responses: tuple[LevelCurve, ...] = ()
    noise_spectra: tuple[LevelCurve, ...] = ()
    ladders: tuple[LadderCurve, ...] = ()
