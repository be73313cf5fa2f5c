"""Several plays of one side joined into one result, with their scatter."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

from groovewright.bench.captures.judged_capture import Shown
from groovewright.bench.estimate.joined_readings import join_readings
from groovewright.measurement.quantity import Quantity
from groovewright.testtone.capture.capture_result import CAPTURE_NAMES, CaptureName, ListedQuantity

EntryKey = tuple[str, str, str]


@dataclass(frozen=True)
class JoinedPlays:
    """What several plays of one side show together.

    Attributes
    ----------
    quantities : mapping of str to Quantity, or to a tuple of ListedQuantity
        As of one capture, each joined from all plays that show it.
    count : int
        How many plays.
    disagreeing : tuple of str
        A sentence on each quantity whose plays scatter more than their own uncertainties explain.
    """

    quantities: Mapping[str, Shown]
    count: int
    disagreeing: tuple[str, ...] = field(default=())


def join_plays(plays: Sequence[Mapping[str, Shown]]) -> JoinedPlays:
    """Return several plays of one side, on one deck that nothing was changed on, as one result.

    Errors that the plays share, such as that of the record's cut, stay whole; those of each grow smaller. Where the
    plays scatter more than that explains, their scatter counts: see `join_readings`. Of a quantity of which one play
    knows a bound alone, nothing can be weighted; the plays that know more are joined then.

    Parameters
    ----------
    plays : sequence of mapping
        Quantities of each by name, with the sources of each play named after it.
    """
    if not plays:
        raise ValueError("no play to join yet")
    if len(plays) == 1:
        return JoinedPlays(plays[0], 1)
    quantities: dict[str, Shown] = {}
    notes: list[str] = []
    for known in CAPTURE_NAMES:
        shown = [play[known.name] for play in plays if known.name in play]
        if not shown:
            continue
        single = [one for one in shown if isinstance(one, Quantity)]
        if single:
            quantities[known.name] = _joined(single, known.label, notes)
        else:
            quantities[known.name] = _joined_lists(known, [one for one in shown if isinstance(one, tuple)], notes)
    return JoinedPlays(quantities, len(plays), tuple(notes))


def _joined(every: Sequence[Quantity], label: str, notes: list[str]) -> Quantity:
    known = [one for one in every if one.components is not None] or every[:1]
    joined = join_readings(known, name=label)
    if not joined.agree:
        notes.append(joined.note)
    # With a word on how, since a bound is told by its own.
    return joined.quantity if len(known) == 1 else replace(joined.quantity, how=f"{len(known)} plays joined")


def _joined_lists(
    known: CaptureName, lists: Sequence[tuple[ListedQuantity, ...]], notes: list[str]
) -> tuple[ListedQuantity, ...]:
    groups: dict[EntryKey, list[ListedQuantity]] = {}
    for entries in lists:
        for entry in entries:
            groups.setdefault(entry_key(entry), []).append(entry)
    return tuple(
        replace(
            group[0],
            quantity=_joined(
                [entry.quantity for entry in group], " ".join((known.label, *entry_key(group[0])[:2])).strip(), notes
            ),
        )
        for group in groups.values()
    )


def entry_key(entry: ListedQuantity) -> EntryKey:
    """Return by what an entry of a list is the same in another capture: band, channel, and about where.

    A line of hum, or the radius in the middle of what was used of a band, is not quite the same in each.
    """
    return entry.band, entry.channel, f"{entry.at.value:.1e} {entry.at.unit}"
