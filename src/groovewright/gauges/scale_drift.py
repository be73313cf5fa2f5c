"""Whether a scale changed between a check before the readings and a check after them."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from groovewright.gauges.difference import exceeds_uncertainty
from groovewright.gauges.repeatability import pooled
from groovewright.gauges.scale_calibration import ScaleCalibration, force_from_indication
from groovewright.measurement.coverage import coverage_factor
from groovewright.measurement.propagation import propagate
from groovewright.measurement.quantity import Quantity
from groovewright.measurement.units import GRAM_FORCE_MN


@dataclass(frozen=True)
class ScaleDrift:
    """Change of a scale between two checks, at one indication.

    Attributes
    ----------
    change : Quantity
        What the scale shows after, minus before, for the same force; errors of the same weights cancel. [mN]
    shown : bool
        Whether the change is larger than its uncertainty allows; False also when that is unknown.
    sentence : str
        What it means, for page and report.
    """

    change: Quantity
    shown: bool
    sentence: str


def scale_drift(before: ScaleCalibration, after: ScaleCalibration, *, indication_mn: float) -> ScaleDrift:
    """Return how far the scale drifted at this indication, and whether the checks show it.

    Raises
    ------
    ValueError
        If the checks are of two scales or of one occasion, or the indication is outside the range of either.
    """
    _refuse_mixed_checks(before, after)
    shown = Quantity.exact(indication_mn, "mN")
    change = propagate(
        lambda **at: at["force by the first check"] - at["force by the second check"],
        {
            "force by the first check": force_from_indication(before, shown),
            "force by the second check": force_from_indication(after, shown),
        },
        unit="mN",
        how=f"{before.scale}, {after.occasion} minus {before.occasion}",
    )
    exceeds = exceeds_uncertainty(change)
    return ScaleDrift(change, exceeds, _sentence(before, change, exceeds))


def mean_calibration(before: ScaleCalibration, after: ScaleCalibration) -> ScaleCalibration:
    """Return the calibration midway between both checks, for readings taken between them.

    Its range is the one that both checks cover. The change between the checks is not in it: `drift_component`
    gives what a reading between them owes to it.
    """
    _refuse_mixed_checks(before, after)
    lowest, highest = max(before.lowest_mn, after.lowest_mn), min(before.highest_mn, after.highest_mn)
    if not lowest < highest:
        raise ValueError(f"the checks of {before.scale} before and after share no range; use the same weights in both")
    repeatability = pooled(before.repeatability, after.repeatability)
    return replace(
        before,
        occasion=f"{before.occasion} and {after.occasion}",
        gain=_mean(before.gain, after.gain),
        offset=_mean(before.offset, after.offset),
        lowest_mn=lowest,
        highest_mn=highest,
        repeatability=repeatability,
        faults=before.faults + after.faults,
        notes=tuple(dict.fromkeys(before.notes + after.notes)),
    )


def drift_component(drift: ScaleDrift, *, scale: str) -> Quantity:
    """Return the error, of value 0, that a reading between both checks may have from drift. [mN]

    The scale stood somewhere between the two checks: rectangular over their difference.
    """
    label = f"drift of {scale} between the checks"
    return Quantity.measured(
        0.0,
        "mN",
        standard_uncertainty=abs(drift.change.value) / math.sqrt(12),
        source=label,
        rectangular=True,
        how=label,
    )


def _refuse_mixed_checks(before: ScaleCalibration, after: ScaleCalibration) -> None:
    if before.scale != after.scale:
        raise ValueError(
            f"the check before is of {before.scale} and the check after of {after.scale}; check the scale that was "
            f"used on both occasions"
        )
    if before.occasion == after.occasion:
        raise ValueError(
            f"both checks of {before.scale} are named {before.occasion!r}; name the two occasions apart, or their "
            f"errors would be taken for one"
        )


def _mean(first: Quantity, second: Quantity) -> Quantity:
    return propagate(
        lambda **at: math.fsum(at.values()) / 2,
        {"scale by its first check": first, "scale by its second check": second},
        unit=first.unit,
        how="mean of both checks",
    )


def _sentence(before: ScaleCalibration, change: Quantity, exceeds: bool) -> str:
    change_g = change.value / GRAM_FORCE_MN
    if change.standard_uncertainty is None:
        return (
            f"{before.scale} changed by {change_g:+.3f} g between both checks; whether that is drift cannot be said, "
            f"because {change.why_unknown}."
        )
    expanded_g = coverage_factor(change) * change.standard_uncertainty / GRAM_FORCE_MN
    if exceeds:
        return (
            f"{before.scale} drifted by {change_g:+.3f} g between both checks, more than the {expanded_g:.3f} g "
            f"that the checks can explain. The change is part of every reading's uncertainty; let the scale warm up, "
            f"or replace its battery, and read again."
        )
    return (
        f"No drift of {before.scale} is shown: {change_g:+.3f} g between both checks, within the {expanded_g:.3f} g "
        f"that the checks can explain."
    )
