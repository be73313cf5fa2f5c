"""A job's readings in the order of the work: what was read between one move and the next."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from groovewright.jobbook.job_record import JobRecord
from groovewright.jobbook.models import AdjustmentMade, Correctable, Reading, Stage


@dataclass(frozen=True)
class Stretch:
    """What was read while nothing was moved.

    Attributes
    ----------
    number : int
        Counts from 0; readings as found are in 0.
    name : str
        What tells its readings from those of the others.
    readings : tuple of Reading
        Oldest first.
    move : AdjustmentMade or None
        That ended it; None for the last one, and where a move was made without being entered.
    unrecorded_move : bool
        Whether it ended by moves that were not entered: readings as left follow, and no move is on record.
    """

    number: int
    name: str
    readings: tuple[Reading, ...]
    move: AdjustmentMade | None = None
    unrecorded_move: bool = False

    @property
    def order(self) -> int:
        """Place of its readings in the count that readings and moves share."""
        return 2 * self.number

    @property
    def move_order(self) -> int:
        """Place of the move that ended it, in the same count."""
        return self.order + 1


def _name(moves_before: int) -> str:
    if moves_before == 0:
        return "as found"
    return "after 1 move" if moves_before == 1 else f"after {moves_before} moves"


DISTURBED_BY: dict[str, frozenset[str]] = {
    Reading.Kind.PIVOT_TO_SPINDLE: frozenset({"base_position_mm"}),
    Reading.Kind.EFFECTIVE_LENGTH: frozenset({"slide_mm", "turn_deg", "base_position_mm", "arm_height_mm", "roll_deg"}),
    Reading.Kind.OVERHANG: frozenset({"slide_mm", "turn_deg", "base_position_mm", "arm_height_mm", "roll_deg"}),
    Reading.Kind.TRACKING_FORCE: frozenset({"slide_mm", "turn_deg", "arm_height_mm", "counterweight_mm", "roll_deg"}),
}
"""Kinds of reading that have a verdict by themselves, and the adjusters whose moves make an earlier one stale."""


def readings_still_true(record: JobRecord, kind: str, stage: str | None = None) -> tuple[Reading, ...]:
    """Return the readings of a kind that stand and that no later move has made stale, oldest first.

    What was read as found tells how the deck came, whatever was moved since; it stays.
    """
    read = record.readings_of(kind, stage)
    moves = [move for move in record.adjustments if DISTURBED_BY[kind] & set(move.amounts)]
    if not moves or stage == Stage.AS_FOUND:
        return read
    started = _first_entered([*record.all_readings, *record.all_adjustments])
    last = max(started[move.uid] for move in moves)
    # A reading that is only being typed was not entered yet, and so comes after every move.
    return tuple(reading for reading in read if reading.uid not in started or started[reading.uid] > last)


def stretches(record: JobRecord) -> tuple[Stretch, ...]:
    """Return the stretches of a job, oldest first.

    A correction stands where the reading or the move that it corrects stood. What was read as found was read before
    anything was moved, whenever it was entered; the pivot-to-spindle distance has no such stage and stands where it was
    entered.
    """
    started = _first_entered([*record.all_readings, *record.all_adjustments])
    moves = sorted(record.adjustments, key=lambda move: (started[move.uid], move.pk))
    readings = sorted(record.readings, key=lambda reading: (started[reading.uid], reading.pk))
    if not moves:
        return _without_moves(readings)
    held: list[list[Reading]] = [[] for _ in range(len(moves) + 1)]
    for reading in readings:
        before = 0
        if not _as_found(reading):
            before = sum(started[move.uid] <= started[reading.uid] for move in moves)
        held[before].append(reading)
    return tuple(
        Stretch(number, _name(number), tuple(read), move)
        for number, (read, move) in enumerate(zip(held, [*moves, None], strict=True))
    )


def _without_moves(readings: Sequence[Reading]) -> tuple[Stretch, ...]:
    left = tuple(r for r in readings if r.stage == Stage.AS_LEFT and r.kind != Reading.Kind.PIVOT_TO_SPINDLE)
    if not left:
        return (Stretch(0, "as found", tuple(readings)),)
    found = tuple(reading for reading in readings if reading not in left)
    return Stretch(0, "as found", found, unrecorded_move=True), Stretch(1, "as left", left)


def _as_found(reading: Reading) -> bool:
    return reading.stage == Stage.AS_FOUND and reading.kind != Reading.Kind.PIVOT_TO_SPINDLE


def _first_entered(rows: Sequence[Correctable]) -> dict[object, datetime]:
    """Return when what each row stands for was first entered, by the row's identity."""
    entered: dict[tuple[type, int], datetime] = {}
    times: dict[object, datetime] = {}
    for row in rows:
        # A row is younger than the one that it corrects, so that one was met before.
        when = row.recorded_at if row.corrects_id is None else entered[type(row), row.corrects_id]
        entered[type(row), row.pk] = times[row.uid] = when
    return times
