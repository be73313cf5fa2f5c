"""Repeats with one gauge that do not say how well they repeat: joined into one reading with their scatter."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from groovewright.bench.estimate.joined_readings import join_readings
from groovewright.bench.estimate.observations import KINDS_OF_READING, Observation
from groovewright.measurement.quantity import Quantity


def joined_repeats(observations: Sequence[Observation]) -> list[Observation]:
    """Return the readings with repeats joined whose whole uncertainty is their gauge's.

    Such readings, of one kind at one place and time and with the very same sources, say nothing of how well they
    repeat; several of them do, by their scatter. Where they scatter by more than the gauge's uncertainty would explain
    were it each one's own, they are kept apart with that uncertainty each, so that the disagreement is found and named.
    """
    groups: dict[object, list[Observation]] = {}
    for k, reading in enumerate(observations):
        parts = reading.quantity.components
        # Nothing is known of what a reading of unknown uncertainty shares, and an exact one has no gauge.
        alone = not parts
        same = (k,) if alone else (reading.kind, reading.radius_mm, reading.order, tuple(sorted(_parts(reading))))
        groups.setdefault(same, []).append(reading)
    return [one for group in groups.values() for one in (group if len(group) == 1 else _joined(group))]


def _parts(reading: Observation) -> list[tuple[str, float]]:
    return [(source.label, part) for source, part in (reading.quantity.components or {}).items()]


def _joined(group: list[Observation]) -> list[Observation]:
    first = group[0]
    joined = join_readings([reading.quantity for reading in group], name=f"{first.label}")
    if joined.agree:
        return [replace(first, quantity=joined.quantity, label=f"{first.label}, {len(group)} readings")]
    title = KINDS_OF_READING[first.kind].title
    return [
        replace(reading, quantity=_as_its_own(reading.quantity, f"{title}, {first.label}, repeat {k}"))
        for k, reading in enumerate(group, start=1)
    ]


def _as_its_own(quantity: Quantity, name: str) -> Quantity:
    parts = {
        replace(source, label=f"{source.label}, {name}"): part for source, part in (quantity.components or {}).items()
    }
    return Quantity(quantity.value, quantity.unit, parts, how=quantity.how)
