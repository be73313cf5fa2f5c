"""What every part of the analysis of a capture works on."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Literal

from groovewright.measurement.quantity import Quantity
from groovewright.testtone.capture.recording import Recording
from groovewright.testtone.finding.band_finder import LocatedBand
from groovewright.testtone.finding.clipping import Clipping
from groovewright.testtone.noise.weighting_table import WeightingTable
from groovewright.testtone.sheet.allowances import CLOCK_SOURCE
from groovewright.testtone.sheet.band_sheet import BandSheet
from groovewright.testtone.tones.equalisation import TIME_CONSTANTS_S, SubsonicFilter, network_source
from groovewright.testtone.tones.tone_fit import ToneFit
from groovewright.tonearm.geometry import Geometry

CHAIN_SOURCES = (
    CLOCK_SOURCE,
    *(network_source(constant_s, side) for constant_s in TIME_CONSTANTS_S for side in ("left", "right")),
)
"""Errors of phono stage and recorder: the same in every capture that is made with them."""


@dataclass(frozen=True)
class TargetShift:
    """How the target moves with the pivot-to-spindle distance that it was chosen for.

    Attributes
    ----------
    distance : Quantity
        Pivot-to-spindle distance, with its uncertainty. [mm]
    farther : Geometry
        What the target would be with the pivot 1 mm farther from the spindle.
    """

    distance: Quantity
    farther: Geometry


@dataclass(frozen=True, eq=False)
class CaptureTask:
    """A recording with its bands located and its tones fitted.

    Attributes
    ----------
    recording : Recording
    sheet : BandSheet
    bands : tuple of LocatedBand
        In the order in which they play.
    fits : mapping of str to ToneFit
        By name of band; a tone that could not be fitted is in `refused`.
    refused : mapping of str to str
        Why not.
    geometry : Geometry or None
        What the arm should be set to.
    target_shift : TargetShift or None
        What the uncertainty of the pivot-to-spindle distance does to that.
    capture_name, record_name : str
        Label the noise of this capture and the levels of this record in every uncertainty that rests on them.
    clipping : Clipping
        What is clipped in it.
    weighting : WeightingTable or None
        That the user loaded.
    level_standard_uncertainty_db : float
        Of the peak velocities that the sheet states, one error common to all. [dB]
    subsonic : SubsonicFilter, None or "not known"
        Of the playback chain, as sweeps show it; "not known" where there are none.
    """

    recording: Recording
    sheet: BandSheet
    bands: tuple[LocatedBand, ...]
    fits: Mapping[str, ToneFit]
    refused: Mapping[str, str]
    geometry: Geometry | None
    target_shift: TargetShift | None
    capture_name: str
    record_name: str
    clipping: Clipping
    weighting: WeightingTable | None
    level_standard_uncertainty_db: float
    subsonic: SubsonicFilter | Literal["not known"] | None = "not known"

    @property
    def level_source(self) -> str:
        """What the error of the record's stated levels is called; captures of one record share it."""
        return f"level of {self.record_name}"

    @property
    def cutting_source(self) -> str:
        """What the error of the vertical angle at which the record was cut is called."""
        return f"vertical cutting angle of {self.record_name}"

    @property
    def shared_sources(self) -> tuple[str, ...]:
        """Errors of record, distance, phono stage and recorder, which other captures and readings have alike."""
        of_distance = () if self.target_shift is None else tuple(self.target_shift.distance.components or ())
        return self.level_source, self.cutting_source, *CHAIN_SOURCES, *(source.label for source in of_distance)

    def fitted(self, bands: Iterable[LocatedBand]) -> list[ToneFit]:
        """Return the fits of those of these tones that have one."""
        return [self.fits[at.band.name] for at in bands if at.band.name in self.fits]

    def first_refusal(self, bands: Iterable[LocatedBand]) -> str:
        """Return why the first of these tones that has no fit has none; empty where all have one."""
        return next((self.refused[at.band.name] for at in bands if at.band.name in self.refused), "")
