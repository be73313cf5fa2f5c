"""Moves made at the bench: how far each adjuster was moved, and how well the hand does that."""

from __future__ import annotations

from dataclasses import dataclass

from groovewright.tonearm.arm_state import Adjustments


@dataclass(frozen=True)
class Move:
    """One adjustment that was made.

    Parameters
    ----------
    amounts : Adjustments
        How far each adjuster was moved, as read off or meant.
    uncertainty : Adjustments
        Standard uncertainty of each amount; 0 where the adjuster was not touched.
    order : int
        When; readings and moves share one count that grows with time.
    label : str
        Tells it from the other moves, for example ``"move 3"``.
    is_known : bool
        False for moves that nobody entered: where the adjusters stand after them nobody knows, so the limits of the
        adjusters count anew from there.
    """

    amounts: Adjustments
    uncertainty: Adjustments
    order: int
    label: str
    is_known: bool = True
