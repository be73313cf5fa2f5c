"""What no recording shows of itself: how far record, phono stage and recorder may be off, as standard uncertainties.

Each is an error of its own that no longer recording makes smaller. Each may be set on the band sheet, where a record or
a deck is better known than the usual one; 0 takes it as exact.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, fields, replace

from groovewright.testtone.sheet.sheet_table import SheetTable

LARGEST_ALLOWANCE = 100.0


@dataclass(frozen=True)
class Allowances:
    """Standard uncertainties of what the analysis cannot know.

    Attributes
    ----------
    equalisation_percent : float
        Of each time constant of the playback equalisation, each channel by itself. Parts of 5 % (capacitors) and 1 %
        (resistors), as limits: sqrt(5^2 + 1^2) / sqrt(3). [%]
    cut_azimuth_deg : float
        Of the cutting head's turn. A cut that leaks at -40 dB at most, a rule of thumb, as a limit of a turn. [deg]
    cut_leak_percent : float
        Of what a cut leaks alike both ways, each of its two phases: -54 dB; rule of thumb. [%]
    cut_balance_db : float
        Of the cut's left wall over its right one. Records state 0.5 dB between channels, as a limit. [dB]
    cut_band_db : float
        Of each band's own level, beside the error that all bands share; rule of thumb. [dB]
    cut_tilt_db_per_octave : float
        Of a sweep's level. Records state a sweep flat within 1 dB over some three octaves, as a limit. [dB/octave]
    cut_speed_percent : float
        Of the frequency that was cut, which the lathe's speed makes: 0.03 % as a limit; rule of thumb. [%]
    cut_flutter_percent : float
        Of the record's own wow and flutter, weighted; 0.03 % as a limit; rule of thumb. [%]
    once_per_turn_mm : float
        Of what else sways the speed once a turn as an eccentricity does: a warp of 0.12 mm below an arm's
        bearing that is a twentieth of its length higher; rule of thumb. [mm]
    clock_ppm : float
        Of the recorder's clock. Quartz oscillators are sold to 50 ppm, as a limit. [ppm]
    """

    equalisation_percent: float = 2.9
    cut_azimuth_deg: float = 0.33
    cut_leak_percent: float = 0.2
    cut_balance_db: float = 0.29
    cut_band_db: float = 0.2
    cut_tilt_db_per_octave: float = 0.2
    cut_speed_percent: float = 0.017
    cut_flutter_percent: float = 0.017
    once_per_turn_mm: float = 0.006
    clock_ppm: float = 50 / math.sqrt(3)


DEFAULT_ALLOWANCES = Allowances()

EXACT = Allowances(**{each.name: 0.0 for each in fields(Allowances)})
"""For a deck, record and recorder without any of these errors."""


CLOCK_SOURCE = "clock of the recorder"
"""What the error of the recorder's clock is called; all captures made with it share it."""


def cut_source(what: str, record_name: str) -> str:
    """Return what an error of a record's cut is called; all captures of the record share it.

    >>> cut_source("azimuth", "record 7")
    'azimuth, cut of record 7'
    """
    return f"{what}, cut of {record_name}"


def read_allowances(table: SheetTable | None) -> Allowances:
    """Return the allowances of a band sheet's table; what it leaves out is as usual.

    Raises
    ------
    ValueError
        One sentence that names the key, and says what would be right.
    """
    if table is None:
        return DEFAULT_ALLOWANCES
    known = tuple(each.name for each in fields(Allowances))
    table.refuse_unknown(*known)
    given = {
        name: table.number(name, f"{getattr(DEFAULT_ALLOWANCES, name):.2g}", lowest=0, highest=LARGEST_ALLOWANCE)
        for name in known
        if name in table.entries
    }
    return replace(DEFAULT_ALLOWANCES, **given)
