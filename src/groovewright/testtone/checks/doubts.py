"""A fact that the recording contradicts, what would be right, and what is withheld until it is settled."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Any, Literal, get_args

import numpy as np
from numpy.typing import NDArray

from groovewright.testtone.capture.recording import Recording
from groovewright.testtone.sheet.band_sheet import Band, BandSheet

Fact = Literal[
    "starts",
    "frequency",
    "speed_rpm",
    "played speed",
    "equalised",
    "channels",
    "level",
    "band",
    "clipping",
    "distortion",
]

Wiring = Literal["as recorded", "swapped", "left inverted", "right inverted"]
WIRINGS: tuple[Wiring, ...] = get_args(Wiring)


@dataclass(frozen=True)
class Doubt:
    """A fact that the recording contradicts.

    Attributes
    ----------
    fact : str
        Which: "starts", "frequency", "speed_rpm", "played speed", "equalised", "channels", "level", "band", "clipping"
        or "distortion".
    band : str
        Name of the band that it is about; empty where it is about the whole recording.
    what : str
        What the sheet says and what the recording shows, a sentence.
    right : mapping of str to value
        What would be right, as `settled` takes it: ``start_shift_s``, ``frequency_hz``, ``speed_rpm``, ``equalised`` or
        ``wiring``. Empty where nothing but another recording, or another sheet, would settle it.
    withheld : tuple of str
        Names of the quantities that are not shown because of it.
    """

    fact: Fact
    band: str
    what: str
    right: Mapping[str, Any] = field(default_factory=dict)
    withheld: tuple[str, ...] = ()

    @property
    def key(self) -> str:
        """What confirms that the sheet is right all the same: the fact, and the band it is about."""
        return f"{self.fact}: {self.band}" if self.band else self.fact

    def as_json(self) -> dict[str, Any]:
        """Return plain JSON types."""
        return {
            "fact": self.fact,
            "band": self.band,
            "what": self.what,
            "right": dict(self.right),
            "withheld": list(self.withheld),
        }


def settled(sheet: BandSheet, doubt: Doubt) -> BandSheet:
    """Return the sheet as a doubt says that it would be right.

    A doubt about the wiring changes no sheet: give `analyse_capture` its ``wiring``.

    Raises
    ------
    ValueError
        If nothing on the sheet would settle it.
    """
    right = doubt.right
    if "start_shift_s" in right:
        shift_s = float(right["start_shift_s"])
        return replace(sheet, bands=tuple(_shifted(band, shift_s) for band in sheet.bands))
    if "frequency_hz" in right:
        hz = (float(right["frequency_hz"]),)
        return replace(
            sheet,
            bands=tuple(replace(b, frequency_hz=hz) if b.name == doubt.band else b for b in sheet.bands),
        )
    if "speed_rpm" in right:
        return replace(sheet, speed_rpm=float(right["speed_rpm"]))
    if "equalised" in right:
        return replace(sheet, equalised=bool(right["equalised"]))
    raise ValueError(f"nothing on the sheet settles this: {doubt.what}")


def _shifted(band: Band, shift_s: float) -> Band:
    return band if band.start_s is None else replace(band, start_s=max(0.0, band.start_s + shift_s))


class WiredRecording:
    """The same recording with its channels put right.

    Parameters
    ----------
    recording : Recording
        With two channels.
    wiring : str
        How they were recorded: one of `WIRINGS`.
    """

    def __init__(self, recording: Recording, wiring: Wiring) -> None:
        if wiring not in WIRINGS:
            raise ValueError(f"wiring {wiring!r} is not known; give one of {', '.join(WIRINGS)}")
        self.sample_rate_hz = recording.sample_rate_hz
        self.channel_count = recording.channel_count
        self.frame_count = recording.frame_count
        self._recording, self._wiring = recording, wiring

    def read(self, start_frame: int, frame_count: int) -> NDArray[np.float64]:
        """Return these frames; see `Recording.read`."""
        samples = self._recording.read(start_frame, frame_count)
        if self._wiring == "swapped":
            return samples[:, ::-1]
        if self._wiring == "as recorded":
            return samples
        signs = [-1.0, 1.0] if self._wiring == "left inverted" else [1.0, -1.0]
        return np.asarray(samples * np.array(signs))
