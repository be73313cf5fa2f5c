"""A deck whose every error is known, and everything that a recording made on it would suffer."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from groovewright.simulate.rough import Rough
from groovewright.testtone.sheet.band_sheet import LARGEST_CUTTING_ANGLE_DEG
from groovewright.tonearm.geometry import Geometry

REFERENCE_VELOCITY_CM_S = 5.0
"""Peak lateral velocity that the levels in dB of a deck refer to. [cm/s]"""


@dataclass(frozen=True)
class SpeedSine:
    """One sine of speed that runs in time, such as a motor's, whatever the platter's angle.

    Attributes
    ----------
    frequency_hz : float
        Above 0. [Hz]
    peak_percent : float
        Peak deviation of the speed. [%]
    phase_deg : float
        Phase of its cosine when the recording starts. [deg]
    """

    frequency_hz: float
    peak_percent: float
    phase_deg: float = 0.0


@dataclass(frozen=True)
class PlatterSine:
    """One sine of speed that is tied to the platter's angle, such as an uneven drive rim's.

    Attributes
    ----------
    cycles_per_turn : int
        1 or more.
    peak_percent : float
        Peak deviation of the speed. [%]
    phase_deg : float
        Phase of its cosine when the recording starts. [deg]
    """

    cycles_per_turn: int
    peak_percent: float
    phase_deg: float = 0.0


@dataclass(frozen=True)
class Resonance:
    """An arm's resonance with the cartridge's compliance.

    Attributes
    ----------
    frequency_hz : float
        Undamped frequency. [Hz]
    q : float
        Quality factor.
    """

    frequency_hz: float
    q: float


@dataclass(frozen=True)
class Rumble:
    """Low-frequency velocity noise of the groove: white noise, falling 6 dB an octave outside two corners.

    Attributes
    ----------
    lateral_db, vertical_db : float or None
        Rms over all frequencies, relative to the rms of a tone of 5 cm/s peak; None for none. [dB]
    low_corner_hz, high_corner_hz : float
        Where it is 3 dB down. [Hz]
    """

    lateral_db: float | None = None
    vertical_db: float | None = None
    low_corner_hz: float = 2.0
    high_corner_hz: float = 30.0


@dataclass(frozen=True)
class HumLine:
    """One line of hum, alike in both channels.

    Attributes
    ----------
    frequency_hz : float
        [Hz]
    level_dbfs : float
        Relative to a sine that reaches full scale. [dB]
    phase_deg : float
        Of its cosine when the recording starts. [deg]
    """

    frequency_hz: float
    level_dbfs: float
    phase_deg: float = 0.0


@dataclass(frozen=True)
class TrueDeck:
    """A deck known to the last digit. What is left out is perfect.

    Attributes
    ----------
    geometry : Geometry or None
        What the arm should be set to; None for an arm without tracking error.
    effective_length_error_mm, zenith_error_deg : float
        True effective length less that of `geometry`, and true offset angle less that of `geometry`. [mm] [deg]
    vertical_tracking_angle_error_deg : float
        Vertical angle of playback less that of cutting. Positive has, for a vertical tone, the opposite effect on the
        left channel to that of a positive tracking error for a lateral one. [deg]
    vertical_cutting_angle_deg : float or None
        At which the record was truly cut, 0 to 45; None for what its band sheet gives, or else 20. [deg]
    azimuth_rotation_deg : float
        Turn of the generator about the cantilever; positive lets a right cut into the left output in phase, and a
        left cut into the right output out of phase. [deg]
    leak_db : float or None
        Crosstalk that is alike, and in phase, both ways and that no turning mends; None for none. [dB]
    channel_gains_db : tuple of two floats
        Of the left and the right channel. [dB]
    polarity : tuple of two ints
        1, or -1 for a channel whose leads are swapped.
    second_harmonic_percent, third_harmonic_percent : float
        Of the generator itself, in the velocity of a channel's tone of 5 cm/s peak, in proportion to level and its
        square. Positive is in phase: the harmonic has a crest where the tone has its positive one. [%]
    speed_error_percent, drift_percent_per_minute : float
        Of the platter, at the start and from there on. [%] [%/min]
    flutter : tuple of SpeedSine
        Parts of the speed that run in time.
    platter_flutter : tuple of PlatterSine
        Parts of the speed that are tied to the platter.
    eccentricity_mm, eccentricity_phase_deg : float
        Distance of the grooves' centre from the spindle, and the platter angle of the start against the line through
        both. [mm] [deg]
    stylus_follows_arc : bool
        True lets the stylus move on the arc about the pivot, as it must with a pivoted arm: the speed of an off-centre
        record then swings by e / (r cos(groove angle)), and the groove's pitch takes some thousandths of a percent
        off every speed. False, or an arm without geometry, lets it move along a radius, with a swing of e/r.
    resonance_lateral, resonance_vertical : Resonance or None
        Of the arm; None for an arm that stands still at every frequency.
    mistracking_cm_s : tuple of two floats or None
        Velocity above which the stylus leaves the left and the right channel's wall; None for never. [cm/s]
    rumble : Rumble or None
        Low-frequency noise of groove and bearing.
    surface_noise_db : float or None
        White velocity noise of each wall, rms up to half the sample rate, relative to the rms that a lateral tone
        of 5 cm/s peak has in one channel. [dB]
    recorder_noise_dbfs : float or None
        White noise of each channel of the recorder, rms up to half the sample rate, relative to the rms of a sine
        that reaches full scale. [dB]
    clicks_per_minute, click_velocity_cm_s : float
        Average number of clicks, and their average peak in the velocity of a wall. [1/min] [cm/s]
    hum : tuple of HumLine
        Lines of hum.
    level_dbfs : float
        Where a lateral tone of 5 cm/s peak and 1 kHz stands, relative to a sine that reaches full scale. [dB]
    rough : Rough or None
        What deck, record and recorder do besides.
    """

    geometry: Geometry | None = None
    effective_length_error_mm: float = 0.0
    zenith_error_deg: float = 0.0
    vertical_tracking_angle_error_deg: float = 0.0
    vertical_cutting_angle_deg: float | None = None
    azimuth_rotation_deg: float = 0.0
    leak_db: float | None = None
    channel_gains_db: tuple[float, float] = (0.0, 0.0)
    polarity: tuple[int, int] = (1, 1)
    second_harmonic_percent: float = 0.0
    third_harmonic_percent: float = 0.0
    speed_error_percent: float = 0.0
    drift_percent_per_minute: float = 0.0
    flutter: tuple[SpeedSine, ...] = ()
    platter_flutter: tuple[PlatterSine, ...] = ()
    eccentricity_mm: float = 0.0
    eccentricity_phase_deg: float = 0.0
    stylus_follows_arc: bool = True
    resonance_lateral: Resonance | None = None
    resonance_vertical: Resonance | None = None
    mistracking_cm_s: tuple[float | None, float | None] = (None, None)
    rumble: Rumble | None = None
    surface_noise_db: float | None = None
    recorder_noise_dbfs: float | None = None
    clicks_per_minute: float = 0.0
    click_velocity_cm_s: float = 20.0
    hum: tuple[HumLine, ...] = ()
    level_dbfs: float = -14.0
    rough: Rough | None = None

    def __post_init__(self) -> None:
        if (self.effective_length_error_mm or self.zenith_error_deg) and self.geometry is None:
            raise ValueError("an error of effective length or zenith needs the geometry that it is an error of")
        angle_deg = self.vertical_cutting_angle_deg
        if angle_deg is not None and not 0 <= angle_deg <= LARGEST_CUTTING_ANGLE_DEG:
            raise ValueError(
                f"a record is not cut at a vertical angle of {angle_deg:g} deg; it must be 0 to "
                f"{LARGEST_CUTTING_ANGLE_DEG:g} deg"
            )
        if any(sign not in (-1, 1) for sign in self.polarity):
            raise ValueError(f"polarity is {self.polarity}; each channel's is 1 or -1")

    @property
    def moves_on_arc(self) -> bool:
        """Whether the stylus moves on an arc about a pivot, which needs the arm's geometry."""
        return self.stylus_follows_arc and self.geometry is not None

    @property
    def true_geometry(self) -> Geometry | None:
        """The arm as it really stands, both errors included; None for an arm without tracking error."""
        if self.geometry is None:
            return None
        return Geometry(
            self.geometry.pivot_to_spindle_mm,
            self.geometry.effective_length_mm + self.effective_length_error_mm,
            self.geometry.offset_angle_deg + self.zenith_error_deg,
        )

    def tracking_error_deg(self, radius_mm: ArrayLike) -> NDArray[np.float64]:
        """Return the true tracking error at each radius, shape of `radius_mm`. [deg]"""
        true = self.true_geometry
        return np.zeros(np.shape(radius_mm)) if true is None else true.tracking_error_deg(radius_mm)
