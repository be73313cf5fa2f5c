"""Moves made at the bench: how far each adjuster was moved, and how well the hand does that."""

from __future__ import annotations

from dataclasses import dataclass

from groovewright.tonearm.arm_state import ADJUSTERS, Adjustments

UNKNOWN_AMOUNT_UNCERTAINTY = Adjustments(
    slide_mm=5.0,
    turn_deg=4.0,
    base_position_mm=10.0,
    arm_height_mm=5.0,
    counterweight_mm=10.0,
    compensation_mn=5.0,
    roll_deg=3.0,
)
"""Standard uncertainty of a move of unknown amount: as far as adjusters are ever moved (rule of thumb)."""


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
    unknown : frozenset of str
        Adjusters, of `ADJUSTERS`, that were moved by an amount that nobody knows. What they touch counts as not read
        until it is read again, and where they stand nobody knows, so their limits count anew from there.
    """

    amounts: Adjustments
    uncertainty: Adjustments
    order: int
    label: str
    unknown: frozenset[str] = frozenset()

    def __post_init__(self) -> None:
        strange = sorted(self.unknown - set(ADJUSTERS))
        if strange:
            raise ValueError(f"{self.label}: {strange[0]!r} is no adjuster; use {', '.join(ADJUSTERS)}")


def with_unknown_amounts(
    amounts: Adjustments, uncertainty: Adjustments, unknown: frozenset[str], *, order: int, label: str
) -> Move:
    """Return a move some of whose amounts nobody knows; those get `UNKNOWN_AMOUNT_UNCERTAINTY`."""

    def filled(known: Adjustments, otherwise: Adjustments) -> Adjustments:
        return Adjustments(**{n: getattr(otherwise if n in unknown else known, n) for n in ADJUSTERS})

    return Move(filled(amounts, Adjustments()), filled(uncertainty, UNKNOWN_AMOUNT_UNCERTAINTY), order, label, unknown)
