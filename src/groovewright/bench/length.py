"""Effective length of one stage of a job, from readings to a verdict and to what the error costs."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from groovewright.measurement.conformity import Tolerance, Verdict
from groovewright.measurement.quantity import Quantity

# Common practice in the trade, without a source; every job can set its own.
DEFAULT_LENGTH_TOLERANCE = Tolerance(-0.5, 0.5, "mm")


@dataclass(frozen=True, slots=True)
class LengthReading:
    """One reading of the effective length, direct or as overhang. [mm]"""

    kind: Literal["effective_length", "overhang"]
    quantity: Quantity


@dataclass(frozen=True)
class LengthResult:
    """The effective length at one stage and what it means.

    Attributes
    ----------
    effective_length, overhang : Quantity
        Joined from all readings. [mm]
    effective_length_error : Quantity
        Effective length minus its target for this pivot-to-spindle distance. [mm]
    verdict : Verdict
        On the error against the tolerance.
    null_radii : tuple of Quantity
        Where the tracking error is zero with this length, the offset angle being on target. [mm]
    peak_tracking_error, peak_distortion : Quantity
        Largest over the groove range with this length, the offset angle being on target. [deg], [%]
    notes : tuple of str
        What to mind, disagreement of readings first.
    """

    effective_length: Quantity
    overhang: Quantity
    effective_length_error: Quantity
    verdict: Verdict
    null_radii: tuple[Quantity, ...]
    peak_tracking_error: Quantity
    peak_distortion: Quantity
    notes: tuple[str, ...]
