"""Scatter of single indications of a scale, pooled from repeats."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from groovewright.measurement.quantity import Source

# Larger scatter than this share of honest readings would show belongs to something else than the scale.
_EXTRA_SCATTER_RISK = 0.01


@dataclass(frozen=True, slots=True)
class Repeatability:
    """Scatter of single indications, as pooled from repeats.

    Attributes
    ----------
    standard_deviation_mn : float or None
        None when nothing was read twice and nothing was stated. [mN]
    degrees_of_freedom : float
        Behind it; infinite when it was stated.
    """

    standard_deviation_mn: float | None
    degrees_of_freedom: float

    def source(self, label: str, scale: str) -> Source:
        """Return the source of one mean's scatter; all that rest on one estimate share its degrees of freedom."""
        if math.isinf(self.degrees_of_freedom):
            return Source(label)
        return Source(label, self.degrees_of_freedom, f"repeats on {scale}")


NOT_REPEATED = Repeatability(None, math.inf)


def repeatability_of(groups: Sequence[NDArray[np.float64]]) -> Repeatability:
    """Return the scatter of single indications, pooled over groups of repeats (JCGM 100, 4.2.4).

    Parameters
    ----------
    groups : sequence of ndarray
        Indications of one load each. [mN]
    """
    degrees_of_freedom = sum(group.size - 1 for group in groups)
    if degrees_of_freedom == 0:
        return NOT_REPEATED
    squares = math.fsum(float(((group - group.mean()) ** 2).sum()) for group in groups)
    return Repeatability(math.sqrt(squares / degrees_of_freedom), degrees_of_freedom)


def pooled(*parts: Repeatability) -> Repeatability:
    """Return one repeatability from several of the same scale; a stated one counts only if nothing was repeated."""
    repeated = [part for part in parts if math.isfinite(part.degrees_of_freedom)]
    if not repeated:
        return next((part for part in parts if part.standard_deviation_mn is not None), NOT_REPEATED)
    total = math.fsum(part.degrees_of_freedom for part in repeated)
    squares = math.fsum(part.degrees_of_freedom * (part.standard_deviation_mn or 0.0) ** 2 for part in repeated)
    return Repeatability(math.sqrt(squares / total), total)


def scatters_more(readings: Repeatability, scale: Repeatability, *, step_mn: float) -> bool:
    """Return whether readings scatter more than the scale itself does with weights, by an F-test at 1 %.

    A scale whose display did not move still hides a third of a step; that much is granted to it. [mN]
    """
    if readings.standard_deviation_mn is None or scale.standard_deviation_mn is None:
        return False
    if math.isinf(readings.degrees_of_freedom):
        return False
    from scipy.special import chdtrc, fdtrc

    granted = max(scale.standard_deviation_mn, step_mn / math.sqrt(12))
    ratio = (readings.standard_deviation_mn / granted) ** 2
    if math.isinf(scale.degrees_of_freedom):
        chance = chdtrc(readings.degrees_of_freedom, readings.degrees_of_freedom * ratio)
    else:
        chance = fdtrc(readings.degrees_of_freedom, scale.degrees_of_freedom, ratio)
    return bool(chance < _EXTRA_SCATTER_RISK)
