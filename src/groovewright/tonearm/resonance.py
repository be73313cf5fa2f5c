"""Low-frequency resonance of arm and cartridge on the compliance of the cantilever's suspension."""

from __future__ import annotations

from dataclasses import dataclass

from groovewright.measurement.conformity import Verdict
from groovewright.measurement.quantity import Quantity


@dataclass(frozen=True)
class Resonance:
    """Where the arm resonates and whether that is where it should.

    Attributes
    ----------
    frequency : Quantity
        Resonance frequency. [Hz]
    moving_mass : Quantity
        Arm effective mass, cartridge and fasteners together. [g]
    compliance : Quantity
        At 10 Hz, after any correction of the quoted value. [um/mN]
    verdict : Verdict
        Against the aim of 8 to 12 Hz.
    notes : tuple of str
        What was assumed and what to mind.
    """

    frequency: Quantity
    moving_mass: Quantity
    compliance: Quantity
    verdict: Verdict
    notes: tuple[str, ...]
