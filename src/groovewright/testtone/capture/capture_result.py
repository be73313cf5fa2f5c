"""What a capture showed: quantities by name, what could not be shown and why, and the arrays for its pictures."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from groovewright.measurement.quantity import Quantity
from groovewright.testtone.capture.capture_pictures import CapturePictures
from groovewright.testtone.finding.band_finder import LocatedBand

if TYPE_CHECKING:
    from groovewright.testtone.checks.doubts import Doubt
    from groovewright.testtone.checks.events import RecordedEvent


@dataclass(frozen=True)
class CaptureName:
    """One quantity that a capture can show.

    Attributes
    ----------
    name : str
        Its key in JSON and in the job book.
    label : str
        Its name on a screen.
    unit : str
        Unit of its value.
    group : str
        Heading under which it stands.
    listed_by : str
        ``"radius"``, ``"frequency"`` or ``"peak_velocity"`` where there is a list of it by that; empty otherwise.
    """

    name: str
    label: str
    unit: str
    group: str
    listed_by: str = ""


SPEED, CHANNELS, TRACKING, RESONANCE, NOISE, DISTORTION = (
    "Speed, wow and flutter",
    "Channels",
    "Tracking",
    "Arm resonance",
    "Noise",
    "Distortion and tracking ability",
)

CAPTURE_NAMES = (
    CaptureName("speed_error", "speed error", "%", SPEED),
    CaptureName("wow_flutter_weighted_2sigma", "wow and flutter, weighted, 2 sigma", "%", SPEED),
    CaptureName(
        "wow_flutter_weighted_2sigma_without_eccentricity",
        "wow and flutter, weighted, 2 sigma, without eccentricity",
        "%",
        SPEED,
    ),
    CaptureName("wow_flutter_weighted_quasi_peak", "wow and flutter, weighted, quasi-peak", "%", SPEED),
    CaptureName(
        "wow_flutter_weighted_quasi_peak_without_eccentricity",
        "wow and flutter, weighted, quasi-peak, without eccentricity",
        "%",
        SPEED,
    ),
    CaptureName("wow_flutter_unweighted_2sigma", "wow and flutter, unweighted, 2 sigma", "%", SPEED),
    CaptureName(
        "wow_flutter_unweighted_2sigma_without_eccentricity",
        "wow and flutter, unweighted, 2 sigma, without eccentricity",
        "%",
        SPEED,
    ),
    CaptureName("eccentricity", "record off centre by", "mm", SPEED),
    CaptureName("crosstalk_left_into_right", "crosstalk, left into right", "dB", CHANNELS),
    CaptureName("crosstalk_right_into_left", "crosstalk, right into left", "dB", CHANNELS),
    CaptureName("azimuth_rotation", "azimuth rotation", "deg", CHANNELS),
    CaptureName("crosstalk_leak", "leak that no rotation mends", "dB", CHANNELS),
    CaptureName("crosstalk_at_best_azimuth", "crosstalk left at the best azimuth", "dB", CHANNELS),
    CaptureName("channel_balance", "channel balance, left over right", "dB", CHANNELS),
    CaptureName("tracking_error", "tracking error", "deg", TRACKING, "radius"),
    CaptureName("effective_length_error", "effective length error", "mm", TRACKING),
    CaptureName("zenith_error", "zenith error", "deg", TRACKING),
    CaptureName("vertical_tracking_angle_error", "vertical tracking angle error", "deg", TRACKING),
    CaptureName("resonance_lateral", "lateral resonance", "Hz", RESONANCE),
    CaptureName("resonance_lateral_q", "Q of the lateral resonance", "1", RESONANCE),
    CaptureName("resonance_vertical", "vertical resonance", "Hz", RESONANCE),
    CaptureName("resonance_vertical_q", "Q of the vertical resonance", "1", RESONANCE),
    CaptureName("rumble_band_level", "noise in the rumble band, lateral", "dB", NOISE),
    CaptureName("rumble_band_level_vertical", "noise in the rumble band, vertical", "dB", NOISE),
    CaptureName("rumble_band_level_without_hum", "noise in the rumble band, lateral, without hum", "dB", NOISE),
    CaptureName("turn_synchronous_noise", "part of it that repeats each turn", "dB", NOISE),
    CaptureName("weighted_noise_level", "noise through the loaded weighting, lateral", "dB", NOISE),
    CaptureName("hum", "hum", "dB", NOISE, "frequency"),
    CaptureName("total_harmonic_distortion", "total harmonic distortion", "%", DISTORTION, "radius"),
    CaptureName("intermodulation", "intermodulation", "%", DISTORTION, "radius"),
    CaptureName("intermodulation_of_amplitude", "intermodulation of amplitude alone", "%", DISTORTION, "radius"),
    CaptureName("tracking_ability_left", "left channel breaks down at", "cm/s", DISTORTION),
    CaptureName("tracking_ability_right", "right channel breaks down at", "cm/s", DISTORTION),
)
"""Every quantity by name, in the order in which it is shown."""


@dataclass(frozen=True)
class ListedQuantity:
    """One entry of a quantity that there is a list of.

    Attributes
    ----------
    quantity : Quantity
        The entry itself.
    at : Quantity
        Radius, frequency or peak velocity at which it holds.
    band : str
        Name of the band that it was measured in.
    channel : str
        Where the entry is of one channel or direction alone, that; empty otherwise.
    """

    quantity: Quantity
    at: Quantity
    band: str
    channel: str = ""


@dataclass(frozen=True)
class CaptureResult:
    """What a capture showed.

    Attributes
    ----------
    quantities : mapping of str to Quantity, or to a tuple of ListedQuantity
        By the names of `CAPTURE_NAMES`, in that order. A quantity that the sheet gives no bands for is absent; so is
        one that could not be shown, whose reason is in `not_shown`.
    not_shown : mapping of str to str
        Why a quantity that the sheet has bands for, or that was asked for, could not be shown; a sentence each.
    notes : tuple of str
        Warnings such as clipping, and notes on reading a quantity; a sentence each.
    bands : tuple of LocatedBand
        Every band of the sheet that was found, and where.
    pictures : CapturePictures
        Arrays for the pictures.
    channel_polarity : str
        ``"same"``, ``"opposed"``, or empty where no band tells.
    doubts : tuple of Doubt
        Facts that the recording contradicts, with what would be right and what is withheld until that is settled.
    events : tuple of RecordedEvent
        What happened while tones were played, and was cut out.
    """

    quantities: Mapping[str, Quantity | tuple[ListedQuantity, ...]]
    not_shown: Mapping[str, str]
    notes: tuple[str, ...]
    bands: tuple[LocatedBand, ...]
    pictures: CapturePictures = field(default_factory=CapturePictures)
    channel_polarity: str = ""
    doubts: tuple[Doubt, ...] = ()
    events: tuple[RecordedEvent, ...] = ()

    def as_json(self) -> dict[str, Any]:
        """Return the one object that the command prints.

        A quantity is an object of three keys. Entries of a list have the same three and, beside them, the radius or
        frequency at which they hold, a quantity itself, the name of their band and, where they are of one channel or
        direction alone, that.
        """
        listed_by = {known.name: known.listed_by for known in CAPTURE_NAMES}
        found: dict[str, Any] = {
            name: held.as_json()
            if isinstance(held, Quantity)
            else [_listed_json(entry, listed_by[name]) for entry in held]
            for name, held in self.quantities.items()
        }
        found["bands"] = [
            {
                "name": located.band.name,
                "start": Quantity.exact(located.start_s, "s").as_json(),
                "duration": Quantity.exact(located.duration_s, "s").as_json(),
                "how": located.how,
            }
            for located in self.bands
        ]
        if self.channel_polarity:
            found["channel_polarity"] = self.channel_polarity
        found["doubts"] = [doubt.as_json() for doubt in self.doubts]
        found["events"] = [event.as_json() for event in self.events]
        found["not_shown"] = dict(self.not_shown)
        found["notes"] = list(self.notes)
        return found


def _listed_json(entry: ListedQuantity, by: str) -> dict[str, Any]:
    found: dict[str, Any] = entry.quantity.as_json() | {by: entry.at.as_json(), "band": entry.band}
    return found | {"channel": entry.channel} if entry.channel else found
