"""Where the bands of a sheet stand in a recording."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from groovewright.testtone.band_sheet import Band


@dataclass(frozen=True)
class LocatedBand:
    """A band and the stretch of the recording that it fills.

    Attributes
    ----------
    start_s, duration_s : float
        The stretch, wholly inside the band where it was found in the signal. [s]
    how : {"from the sheet", "found"}
        Whether the start was written in the sheet or found in the signal.
    """

    band: Band
    start_s: float
    duration_s: float
    how: Literal["from the sheet", "found"]
