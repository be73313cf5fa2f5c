"""How far each adjuster goes, and the force that the maker allows: what no move may leave."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field

from groovewright.measurement.conformity import Tolerance
from groovewright.tonearm.adjusters import ADJUSTER_TABLE
from groovewright.tonearm.arm_state import ADJUSTERS

SURE = 4.0
"""A limit is kept by this many standard uncertainties, the hand's among them: left once in 30,000 moves to it."""


@dataclass(frozen=True)
class HeadshellLimits:
    """How far the adjusters go, counted from where they stood before the first move.

    Parameters
    ----------
    ranges : mapping of str to (float, float)
        Lowest and highest by `ADJUSTERS`, in the adjuster's unit; (0, 0) for one that is fixed. What is missing is
        the adjuster's usual range.
    force : Tolerance, optional
        The maker's range of the tracking force, in mN; the tolerance of the tracking force if not given.

    Raises
    ------
    ValueError
        If a name is no adjuster's, a range leaves out 0, or the force is not in mN.
    """

    ranges: Mapping[str, tuple[float, float]] = field(default_factory=dict)
    force: Tolerance | None = None

    def __post_init__(self) -> None:
        strange = sorted(set(self.ranges) - set(ADJUSTERS))
        if strange:
            raise ValueError(f"{strange[0]!r} is no adjuster; limits are given for {', '.join(ADJUSTERS)}")
        for name, (lowest, highest) in self.ranges.items():
            if not (lowest <= 0 <= highest and math.isfinite(highest - lowest)):
                raise ValueError(
                    f"the limits of {name} count from where it stood before the first move, so 0 lies between them; "
                    f"{lowest:g} to {highest:g} leaves it out"
                )
        if self.force is not None and self.force.unit != "mN":
            raise ValueError(f"the maker's range of the tracking force is given in mN here, not in {self.force.unit}")
        object.__setattr__(
            self, "ranges", {name: one.usual_range for name, one in ADJUSTER_TABLE.items()} | dict(self.ranges)
        )

    def is_fixed(self, adjuster: str) -> bool:
        """Return whether an adjuster cannot be moved at all."""
        return self.ranges[adjuster] == (0.0, 0.0)
