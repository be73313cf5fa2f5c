"""What a whole job still needs to have read, in the order in which it is done at the bench."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from groovewright.jobbook.models import Reading, ScaleCheck, Stage
from groovewright.jobbook.queries import JobRecord
from groovewright.jobbook.stretches import distances_that_hold

TANGENTIAL = "tangential"


@dataclass(frozen=True)
class Needed:
    """One thing to read.

    `kinds` are the readings that would do; empty for a check of the scale, which has `when` instead.
    """

    title: str
    stage: str
    kinds: tuple[str, ...] = ()
    place: str = ""
    when: str = ""
    done: bool = False
    is_next: bool = False


def needed_readings(record: JobRecord) -> tuple[Needed, ...]:
    """Return all that a job needs, what is done marked so, and the next of the rest."""
    listed = [
        *([] if _arm_kind(record) == TANGENTIAL else [_distance(record)]),
        _check(record, ScaleCheck.When.BEFORE),
        *_of_stage(record, Stage.AS_FOUND),
        *_of_stage(record, Stage.AS_LEFT),
        _check(record, ScaleCheck.When.AFTER),
    ]
    first = next((k for k, needed in enumerate(listed) if not needed.done), None)
    return tuple(
        Needed(n.title, n.stage, n.kinds, n.place, n.when, n.done, is_next=k == first) for k, n in enumerate(listed)
    )


def next_reading(record: JobRecord, needed: Sequence[Needed]) -> dict[str, Any]:
    """Return the fields of the next reading as they stand before it is typed.

    Gauge, scale, height and kind of length are those that were used last.
    """
    wanted = next((n for n in needed if n.kinds and not n.done), None)
    if wanted is None:
        wanted = Needed("", Stage.AS_LEFT, (Reading.Kind.TRACKING_FORCE,), place=Reading.Place.OUTER)
    by_gauge = [r for r in record.readings if r.gauge_id is not None]
    by_scale = [r for r in record.readings if r.scale_id is not None]
    used = [r.kind for r in record.readings if r.kind in wanted.kinds]
    fields: dict[str, Any] = {
        "stage": wanted.stage,
        "kind": used[-1] if used else wanted.kinds[0],
        "place": wanted.place or Reading.Place.OUTER,
        "surface": Reading.Surface.PLATTER,
    }
    if by_gauge:
        fields["gauge"] = by_gauge[-1].gauge_id
    if by_scale:
        fields |= {"scale": by_scale[-1].scale_id, "platform_height": by_scale[-1].platform_height}
    elif record.scale_checks:
        fields |= {"scale": record.scale_checks[-1].scale_id}
    return fields


def _arm_kind(record: JobRecord) -> str:
    intake = record.intake
    return "" if intake is None or intake.arm is None else intake.arm.kind


def _distance(record: JobRecord) -> Needed:
    kind = Reading.Kind.PIVOT_TO_SPINDLE
    # The distance may have been typed where the targets were chosen.
    done = record.choice is not None or bool(distances_that_hold(record))
    return Needed("Pivot-to-spindle distance", Stage.AS_FOUND, (kind,), done=done)


def _check(record: JobRecord, when: str) -> Needed:
    done = any(check.when == when for check in record.scale_checks)
    return Needed(f"Scale checked with known weights, {when} the readings", "", when=when, done=done)


def _of_stage(record: JobRecord, stage: str) -> list[Needed]:
    lengths = (Reading.Kind.OVERHANG, Reading.Kind.EFFECTIVE_LENGTH)
    force = Reading.Kind.TRACKING_FORCE
    read_places = {reading.place for reading in record.readings_of(force, stage)}
    places = (Reading.Place.OUTER, Reading.Place.INNER)
    forces = [
        Needed(f"Tracking force, {place} platter, {stage}", stage, (force,), place, done=place in read_places)
        for place in places
    ]
    if _arm_kind(record) == TANGENTIAL:
        return forces
    read = any(record.readings_of(kind, stage) for kind in lengths)
    return [Needed(f"Effective length or overhang, {stage}", stage, lengths, done=read), *forces]
