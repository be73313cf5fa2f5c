"""What a capture showed as the page lists it: by group, quantity after quantity, with what could not be shown."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from groovewright.jobbook.capture_record import StoredResult
from groovewright.measurement.quantity import Quantity
from groovewright.measurement.units import printed_unit
from groovewright.testtone.capture.capture_result import CAPTURE_NAMES, CaptureName, ListedQuantity


@dataclass(frozen=True)
class ResultRow:
    """A quantity, or the reason why it could not be shown."""

    label: str
    quantity: Quantity | None
    where: str = ""
    reason: str = ""


@dataclass(frozen=True)
class ResultGroup:
    """Rows under one heading."""

    title: str
    rows: tuple[ResultRow, ...]


def result_groups(result: StoredResult) -> tuple[ResultGroup, ...]:
    """Return the groups that have anything to say, in the order of the names."""
    groups: dict[str, list[ResultRow]] = {}
    for known in CAPTURE_NAMES:
        groups.setdefault(known.group, []).extend(_rows(known, result))
    # A reason under a name of a later program still is a reason.
    names = {known.name for known in CAPTURE_NAMES}
    others = [ResultRow(name, None, reason=why) for name, why in result.not_shown.items() if name not in names]
    groups.setdefault("Not shown", []).extend(others)
    return tuple(ResultGroup(title, tuple(rows)) for title, rows in groups.items() if rows)


def _rows(known: CaptureName, result: StoredResult) -> Iterator[ResultRow]:
    shown = result.quantities.get(known.name, ())
    if isinstance(shown, Quantity):
        yield ResultRow(known.label, shown)
    else:
        for entry in shown:
            yield ResultRow(known.label, entry.quantity, _where(entry))
    if known.name in result.not_shown:
        yield ResultRow(known.label, None, reason=result.not_shown[known.name])


def _where(entry: ListedQuantity) -> str:
    where = f"at {entry.at.value:.4g} {printed_unit(entry.at.unit)}, {entry.band}"
    return f"{where}, {entry.channel}" if entry.channel else where
