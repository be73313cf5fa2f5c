"""Recorded groove ranges by disc and standard, each with where its two radii come from."""

from __future__ import annotations

import math
from dataclasses import dataclass

from groovewright.tonearm.input_ranges import GROOVE_RADIUS

"""Beyond any record ever cut. [mm]"""

GROOVE_PITCH_MM = 0.1
"""About one groove; a range narrower than this holds none. [mm]"""


@dataclass(frozen=True)
class GrooveRange:
    """The innermost and outermost recorded groove of one disc in one standard.

    Parameters
    ----------
    disc : str
        ``"12 inch"``, ``"10 inch"`` or ``"7 inch"``.
    standard : str
        The standard with its year, for example ``"RIAA 1963"``.
    year : int
        Year of that edition.
    innermost_mm, outermost_mm : float
        Groove radii. [mm]
    source : str
        What the edition prints, and what was taken from another one where it prints only one of the two.
    """

    disc: str
    standard: str
    year: int
    innermost_mm: float
    outermost_mm: float
    source: str

    def __post_init__(self) -> None:
        check_groove_range(innermost_mm=self.innermost_mm, outermost_mm=self.outermost_mm)


def check_groove_range(*, innermost_mm: float, outermost_mm: float) -> None:
    """Refuse a groove range that is not two radii of a record, the innermost first and more than a groove apart."""
    for name, radius in (("innermost_mm", innermost_mm), ("outermost_mm", outermost_mm)):
        if not (math.isfinite(radius) and radius > 0):
            raise ValueError(f"{name} must be above 0 mm and finite, not {radius:g} mm")
    if outermost_mm > GROOVE_RADIUS.highest:
        raise ValueError(
            f"an outermost groove at {outermost_mm:g} mm lies on no record "
            f"({GROOVE_RADIUS.highest:g} mm at most here); check its unit, and that it is a radius"
        )
    if innermost_mm < outermost_mm < innermost_mm + GROOVE_PITCH_MM:
        raise ValueError(
            f"grooves from {innermost_mm:g} to {outermost_mm:g} mm are no range; give ends at least "
            f"{GROOVE_PITCH_MM:g} mm apart"
        )
    if not innermost_mm < outermost_mm:
        raise ValueError(
            f"the innermost groove ({innermost_mm:g} mm) must lie inside the outermost ({outermost_mm:g} mm); "
            "give the smaller radius first"
        )


# Read in comparative tables of the standards, not in the standards themselves; they print diameters.
GROOVE_RANGES: tuple[GrooveRange, ...] = (
    GrooveRange(
        "12 inch",
        "RIAA 1963",
        1963,
        60.325,
        146.05,
        "RIAA 1963 prints diameters of 4 3/4 in (recorded inner) and 11 1/2 in (recorded outer)",
    ),
    GrooveRange(
        "12 inch",
        "IEC 98:1958",
        1958,
        60.0,
        146.05,
        "IEC 98:1958 prints diameters of 120 mm (recorded inner, least) and 292.1 mm (recorded outer)",
    ),
    GrooveRange(
        "12 inch",
        "IEC 98:1964",
        1964,
        60.0,
        146.3,
        "outermost from IEC 98:1964 (diameter 292.6 mm); no innermost known from that edition, so it is combined "
        "with the one of IEC 98:1958 (diameter 120 mm)",
    ),
    GrooveRange(
        "12 inch",
        "JIS S 8502:1973",
        1973,
        57.6,
        146.5,
        "JIS S 8502:1973 prints start of music within a diameter of 293 mm, end of music outside 115.2 mm",
    ),
    GrooveRange(
        "12 inch",
        "DIN 45547:1981",
        1981,
        57.5,
        146.3,
        "DIN 45547:1981 prints diameters of 115 mm (recorded inner, least) and 292.6 mm (recorded outer)",
    ),
    GrooveRange(
        "12 inch",
        "IEC 98:1987",
        1987,
        57.5,
        146.3,
        "outermost from IEC 98:1987 (diameter 292.6 mm); no innermost known from that edition, so it is combined "
        "with the one of DIN 45547:1981 (diameter 115 mm)",
    ),
    GrooveRange(
        "10 inch",
        "JIS S 8502:1973",
        1973,
        57.6,
        121.0,
        "JIS S 8502:1973 prints start of music within a diameter of 242 mm, end of music outside 115.2 mm",
    ),
    GrooveRange(
        "10 inch",
        "IEC 98:1987",
        1987,
        57.6,
        120.9,
        "outermost from IEC 98:1987 (diameter 241.8 mm); no innermost known from that edition, so it is combined "
        "with the one of JIS S 8502:1973 (diameter 115.2 mm)",
    ),
    GrooveRange(
        "7 inch",
        "JIS S 8502:1973",
        1973,
        53.0,
        84.0,
        "JIS S 8502:1973 prints start of music within a diameter of 168 mm, end of music outside 106 mm",
    ),
    GrooveRange(
        "7 inch",
        "IEC 98:1987",
        1987,
        53.0,
        84.15,
        "outermost from IEC 98:1987 (diameter 168.3 mm); no innermost known from that edition, so it is combined "
        "with the one of JIS S 8502:1973 (diameter 106 mm)",
    ),
)


def groove_range(disc: str, standard: str) -> GrooveRange:
    """Return the range of one disc in one standard.

    Raises
    ------
    ValueError
        If the disc or the standard is not in `GROOVE_RANGES`; the message names those that are.

    Examples
    --------
    >>> groove_range("12 inch", "RIAA 1963").innermost_mm
    60.325
    """
    of_disc = {entry.standard: entry for entry in GROOVE_RANGES if entry.disc == disc}
    if not of_disc:
        discs = ", ".join(dict.fromkeys(entry.disc for entry in GROOVE_RANGES))
        raise ValueError(f"no groove range is known for a {disc!r} disc; choose one of {discs}, or give both radii")
    if standard not in of_disc:
        raise ValueError(
            f"no {disc} groove range is known from {standard!r}; choose one of {', '.join(of_disc)}, or give both radii"
        )
    return of_disc[standard]
