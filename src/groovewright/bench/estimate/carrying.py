"""How the arm's state is carried over moves: how far each shifts it, and what that is uncertain by."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from groovewright.bench.estimate.moves import Move
from groovewright.measurement.quantity import Source
from groovewright.tonearm.adjusters import ADJUSTER_TABLE
from groovewright.tonearm.arm_build import ArmBuild
from groovewright.tonearm.arm_model import couplings
from groovewright.tonearm.arm_state import ADJUSTERS, STATE, Adjustments

STATE_TITLES: dict[str, str] = {
    "effective_length_mm": "effective length",
    "pivot_to_spindle_mm": "pivot-to-spindle distance",
    "offset_angle_deg": "offset angle",
    "tracking_force_mn": "tracking force",
    "compensation_mn": "side-force compensation",
    "friction_coefficient": "friction coefficient",
    "azimuth_deg": "azimuth",
    "stylus_rake_angle_deg": "stylus rake angle",
    "vertical_tracking_angle_deg": "vertical tracking angle",
}

DIRECT_COUPLINGS: tuple[tuple[str, str], ...] = (
    ("slide_mm", "effective_length_mm"),
    ("turn_deg", "offset_angle_deg"),
    ("base_position_mm", "pivot_to_spindle_mm"),
    ("arm_height_mm", "stylus_rake_angle_deg"),
    ("arm_height_mm", "vertical_tracking_angle_deg"),
    ("compensation_mn", "compensation_mn"),
    ("roll_deg", "azimuth_deg"),
)
"""What an adjuster is there for follows from its amount by plain geometry; the counterweight needs masses too."""

COUPLING_UNCERTAINTY = 0.1
"""Standard uncertainty of every other shift, relative to itself, since the build holds typical values: our choice."""

DIRECT_COUPLING_UNCERTAINTY = 0.02
"""The same for the pairs of `DIRECT_COUPLINGS`."""


def _coupling_uncertainty() -> NDArray[np.float64]:
    doubt = np.full((len(STATE), len(ADJUSTERS)), COUPLING_UNCERTAINTY)
    for adjuster, name in DIRECT_COUPLINGS:
        doubt[STATE.index(name), ADJUSTERS.index(adjuster)] = DIRECT_COUPLING_UNCERTAINTY
    return doubt


_COUPLING_UNCERTAINTY = _coupling_uncertainty()


@dataclass(frozen=True, eq=False)
class CarriedMove:
    """What one move does to the state.

    Attributes
    ----------
    move : Move
    shift : ndarray, shape (9,)
        Of each of `STATE`, in its unit, by the amounts of the move.
    sources : tuple of Source
        What the shift is uncertain by: the hand, and how well the couplings are known. All that is carried over this
        move shares them.
    contributions : ndarray, shape (9, sources)
        Signed standard uncertainty of the shift by source.
    by_unknown : ndarray of bool, shape (sources,)
        Which of the sources are amounts that nobody knows.
    """

    move: Move
    shift: NDArray[np.float64]
    sources: tuple[Source, ...]
    contributions: NDArray[np.float64]
    by_unknown: NDArray[np.bool_]


def carried_moves(build: ArmBuild, moves: Sequence[Move]) -> tuple[CarriedMove, ...]:
    """Return what each move does, in the order in which they were made.

    The couplings are taken half way through each move, which follows the full model to third order of the amounts, and
    with the counterweight where it was built: what the state is carried by must not depend on a force that is only
    guessed there.

    Raises
    ------
    ValueError
        If the arm cannot stand so.
    """
    made = np.zeros(len(ADJUSTERS))
    carried = []
    for move in sorted(moves, key=lambda move: move.order):
        carried.append(carried_from(build, Adjustments.from_array(made), move))
        made += move.amounts.as_array()
    return tuple(carried)


def carried_from(build: ArmBuild, stands: Adjustments, move: Move) -> CarriedMove:
    """Return what a move does that is made where the adjusters stand.

    Raises
    ------
    ValueError
        If the arm cannot stand so.
    """
    half_way = Adjustments.from_array(stands.as_array() + move.amounts.as_array() / 2)
    # The real counterweight may stand elsewhere than the build's; what it changes hardly depends on where.
    return _carried(move, couplings(build, replace(half_way, counterweight_mm=0.0)))


def _carried(move: Move, slopes: NDArray[np.float64]) -> CarriedMove:
    sources: list[Source] = []
    columns: list[NDArray[np.float64]] = []
    unknown: list[bool] = []
    for adjuster, uncertainty, slope in zip(ADJUSTERS, move.uncertainty.as_array(), slopes.T, strict=True):
        if uncertainty:
            sources.append(Source(f"the hand {ADJUSTER_TABLE[adjuster].gerund}, {move.label}"))
            columns.append(slope * uncertainty)
            unknown.append(adjuster in move.unknown)
    amounts = move.amounts.as_array()
    doubtful = np.sqrt(((_COUPLING_UNCERTAINTY * slopes) ** 2) @ amounts**2)
    for k in np.flatnonzero(doubtful):
        sources.append(Source(f"how far {move.label} shifts the {STATE_TITLES[STATE[k]]}"))
        columns.append(np.eye(len(STATE))[k] * doubtful[k])
        unknown.append(False)
    contributions = np.array(columns).T if columns else np.zeros((len(STATE), 0))
    return CarriedMove(move, slopes @ amounts, tuple(sources), contributions, np.array(unknown, dtype=bool))
