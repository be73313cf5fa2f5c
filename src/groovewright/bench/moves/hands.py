"""How finely a hand moves the adjusters."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from groovewright.tonearm.adjusters import ADJUSTER_TABLE
from groovewright.tonearm.arm_state import ADJUSTERS, Adjustments

USUAL_FINENESS = Adjustments(**{name: adjuster.repeatability for name, adjuster in ADJUSTER_TABLE.items()})

LOOSENED_TOGETHER = ("slide_mm", "turn_deg")
"""Both are free as long as the headshell's screws are loose, so moving one blurs the other."""


@dataclass(frozen=True)
class Hands:
    """How far a move made may differ from the move asked.

    Parameters
    ----------
    fineness : Adjustments
        Standard uncertainty of a small move of each adjuster.
    share : float
        Standard uncertainty that comes with the size of a move. [1]

    Raises
    ------
    ValueError
        If one of them is negative.
    """

    fineness: Adjustments = field(default_factory=lambda: USUAL_FINENESS)
    share: float = 0.05

    def __post_init__(self) -> None:
        if not (self.fineness.as_array() >= 0).all() or not self.share >= 0:
            raise ValueError("how finely a hand moves is a standard uncertainty, 0 or more")

    def uncertainty(self, amounts: Adjustments) -> Adjustments:
        """Return the standard uncertainty of each amount of a move; 0 where the adjuster is not touched.

        Examples
        --------
        >>> Hands().uncertainty(Adjustments(slide_mm=1.0)).turn_deg
        0.15
        """
        moved = amounts.as_array()
        touched = moved != 0
        together = [ADJUSTERS.index(name) for name in LOOSENED_TOGETHER]
        touched[together] = touched[together].any()
        return Adjustments.from_array(np.where(touched, np.hypot(self.fineness.as_array(), self.share * moved), 0.0))
