"""A job's readings in the order of the work: what was read between one move and the next."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime

from groovewright.jobbook.job_record import JobRecord
from groovewright.jobbook.models import AdjustmentMade, Correctable, Reading, Stage

Kind = Reading.Kind

READ_AS_THEY_ARE = (
    Kind.PIVOT_TO_SPINDLE,
    Kind.EFFECTIVE_LENGTH,
    Kind.OVERHANG,
    Kind.EFFECTIVE_LENGTH_ERROR,
    Kind.OFFSET_ANGLE,
    Kind.ZENITH_ERROR,
    Kind.NULL_ANGLE,
    Kind.COMPENSATION_FORCE,
    Kind.SIDE_FORCE_REST,
    Kind.FRICTION_COEFFICIENT,
    Kind.AZIMUTH_ROTATION,
    Kind.STYLUS_RAKE_ANGLE,
    Kind.VERTICAL_TRACKING_ANGLE,
    Kind.VERTICAL_TRACKING_ANGLE_ERROR,
)
"""Kinds that the estimate takes one by one, under the same names."""

TELL_A_SETTING = frozenset(READ_AS_THEY_ARE).union(
    (
        Kind.TRACKING_FORCE,
        Kind.START_FORCE_OUTWARD,
        Kind.START_FORCE_INWARD,
        Kind.ARC_TRACE,
        Kind.TRACKING_ABILITY_LEFT,
        Kind.TRACKING_ABILITY_RIGHT,
    )
) - {Kind.PIVOT_TO_SPINDLE}
"""Kinds that tell how the deck is set, and so belong to a stage. A distance has none, and a print bar is no deck's."""


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
        Whether it ended by moves that were not entered: readings as left follow, and no move is on record between.
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


def distances_that_hold(record: JobRecord) -> tuple[Reading, ...]:
    """Return the readings of the pivot-to-spindle distance since the arm's base was moved last, oldest first."""
    read = record.readings_of(Reading.Kind.PIVOT_TO_SPINDLE)
    moved = [move for move in record.adjustments if "base_position_mm" in move.amounts]
    if not moved:
        return read
    started = _first_entered([*record.all_readings, *record.all_adjustments])
    last = max(started[move.uid] for move in moved)
    # A reading that is only being typed was not entered yet, and so comes after every move.
    return tuple(reading for reading in read if reading.uid not in started or started[reading.uid] > last)


def as_found(record: JobRecord) -> Stretch:
    """Return all that tells how the deck came: what was read as found, and the distance until the base was moved."""
    first = stretches(record)[0]
    kept = [reading for reading in first.readings if not _is_as_left(reading)]
    started = _first_entered([*record.all_readings, *record.all_adjustments])
    moved = [started[move.uid] for move in record.adjustments if "base_position_mm" in move.amounts]
    later = [
        reading
        for reading in record.readings_of(Reading.Kind.PIVOT_TO_SPINDLE)
        if reading not in kept and not any(started[reading.uid] >= when for when in moved)
    ]
    return replace(first, readings=(*kept, *later), move=None, unrecorded_move=False)


def is_left(record: JobRecord) -> bool:
    """Return whether anything was moved or read as left."""
    return bool(record.adjustments) or any(map(_is_as_left, record.readings))


def stretches(record: JobRecord) -> tuple[Stretch, ...]:
    """Return the stretches of a job, oldest first.

    A correction counts where the reading or the move that it corrects was entered. What was read as found was read
    before anything was moved, whenever it was entered; the pivot-to-spindle distance has no such stage and counts where
    it was entered. Where something was read as left before the first move on record, other moves that nobody entered
    came before it.
    """
    started = _first_entered([*record.all_readings, *record.all_adjustments])
    moves: list[AdjustmentMade | None] = sorted(record.adjustments, key=lambda move: (started[move.uid], move.pk))
    entered = [reading for reading in record.readings if reading.uid in started]
    typing = [reading for reading in record.readings if reading.uid not in started]
    readings = sorted(entered, key=lambda reading: (started[reading.uid], reading.pk)) + typing
    held: list[list[Reading]] = [[] for _ in range(len(moves) + 1)]
    for reading in readings:
        before = 0
        if not _is_as_found(reading):
            before = sum(_entered_before(move, reading, started) for move in moves)
        held[before].append(reading)
    left = [reading for reading in held[0] if _is_as_left(reading)]
    if left:
        held[:1] = [[reading for reading in held[0] if not _is_as_left(reading)], left]
        moves.insert(0, None)
    names = _names(moves)
    return tuple(
        Stretch(number, names[number], tuple(read), move, unrecorded_move=bool(left) and number == 0)
        for number, (read, move) in enumerate(zip(held, [*moves, None], strict=True))
    )


def _entered_before(move: AdjustmentMade | None, reading: Reading, started: dict[object, datetime]) -> bool:
    # A reading that is only being typed was not entered yet, and so comes after every move.
    return move is not None and (reading.uid not in started or started[move.uid] <= started[reading.uid])


def _names(moves: Sequence[AdjustmentMade | None]) -> list[str]:
    names, count = ["as found"], 0
    for move in moves:
        count += move is not None
        name = "as left" if not count else "after 1 move" if count == 1 else f"after {count} moves"
        names.append(name)
    return names


def _is_as_found(reading: Reading) -> bool:
    return reading.stage == Stage.AS_FOUND and reading.kind != Kind.PIVOT_TO_SPINDLE


def _is_as_left(reading: Reading) -> bool:
    return reading.stage == Stage.AS_LEFT and reading.kind in TELL_A_SETTING


def _first_entered(rows: Sequence[Correctable]) -> dict[object, datetime]:
    """Return when what each row says was first entered, by the row's identity."""
    entered: dict[tuple[type, int], datetime] = {}
    times: dict[object, datetime] = {}
    for row in rows:
        # A row is younger than the one that it corrects, so that one was met before.
        when = row.recorded_at if row.corrects_id is None else entered[type(row), row.corrects_id]
        entered[type(row), row.pk] = times[row.uid] = when
    return times
