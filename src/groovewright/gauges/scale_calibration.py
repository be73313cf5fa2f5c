"""Calibration of a tracking-force scale from readings of known weights."""

from __future__ import annotations

from dataclasses import dataclass

from groovewright.gauges.check_weights import CheckWeight


@dataclass(frozen=True, slots=True)
class WeightReading:
    """What the scale showed once with known weights on it.

    Parameters
    ----------
    weights : tuple of CheckWeight
        What lay on the pan; empty for the empty pan.
    indication_mn : float
        What the scale showed; a display in g is turned into mN by 9.80665 mN/g. [mN]
    """

    weights: tuple[CheckWeight, ...]
    indication_mn: float


@dataclass(frozen=True, slots=True)
class ScaleCheck:
    """One check of one scale with known weights.

    Parameters
    ----------
    scale : str
        The scale's name in the workshop, for example ``"Scale 2"``.
    occasion : str
        What tells this check from others of the same scale, for example ``"before the job"``.
    resolution_mn : float
        Last step of the display: 0.01 g is 0.0980665 mN. [mN]
    readings : tuple of WeightReading
        In any order; readings of the same weights are repeats.
    stated_repeatability_mn : float or None
        Standard deviation of one indication as stated by the maker or an earlier check; used only while nothing
        was read twice. [mN]
    """

    scale: str
    occasion: str
    resolution_mn: float
    readings: tuple[WeightReading, ...]
    stated_repeatability_mn: float | None = None
