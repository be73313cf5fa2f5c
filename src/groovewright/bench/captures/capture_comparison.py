"""Two captures side by side, such as found and left: what changed, by how much, and whether that is shown."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from typing import Any

from groovewright.bench.captures.capture_limits import CaptureLimit
from groovewright.bench.captures.joined_plays import JoinedPlays, entry_key
from groovewright.bench.captures.judged_capture import BOUND, JudgedValue, judge_capture
from groovewright.gauges.difference import exceeds_uncertainty
from groovewright.measurement.conformity import DecisionRule
from groovewright.measurement.coverage import coverage_interval
from groovewright.measurement.formatting import format_quantity
from groovewright.measurement.propagation import propagate
from groovewright.measurement.quantity import Quantity, covariance
from groovewright.testtone.capture.capture_result import CaptureName
from groovewright.testtone.capture.capture_task import CHAIN_SOURCES

CHANGED, NOT_SHOWN, CANNOT_TELL = "changed", "no change shown", "can't tell"

Key = tuple[str, str, str, str]


@dataclass(frozen=True)
class CaptureChange:
    """How one quantity differs between two captures.

    Attributes
    ----------
    known : CaptureName
    before, after : JudgedValue or None
        In each capture, with its verdict there; None where it does not show it.
    change : Quantity or None
        After less before, without what both share; None where one of them does not show it.
    shown : bool
        Whether it is larger than chance would make any of the values compared, 1 time in 20.
    reason : str
        Why nothing can be told; empty where something can.
    """

    known: CaptureName
    before: JudgedValue | None
    after: JudgedValue | None
    change: Quantity | None
    shown: bool
    reason: str = ""

    @property
    def outcome(self) -> str:
        """In words."""
        if self.change is None or self.change.standard_uncertainty is None:
            return CANNOT_TELL
        return CHANGED if self.shown else NOT_SHOWN

    @property
    def where(self) -> str:
        """At which radius or frequency, in which band and channel."""
        held = self.before or self.after
        return "" if held is None or held.entry is None else held.where

    @property
    def shared_part(self) -> float | None:
        """Share of the variance of both values that cancels in their difference; None where nothing can be told."""
        if self.before is None or self.after is None or self.change is None:
            return None
        u = [one.quantity.standard_uncertainty for one in (self.before, self.after)]
        if u[0] is None or u[1] is None or not (u[0] or u[1]):
            return None
        return 2 * covariance(self.before.quantity, self.after.quantity) / (u[0] ** 2 + u[1] ** 2)

    def sentence(self) -> str:
        """Return what it means."""
        name = self.known.label.capitalize()
        if self.change is None or self.reason:
            return f"{name}: {self.reason}."
        verb = "changed by" if self.shown else "is not shown to have changed:"
        return f"{name} {verb} {format_quantity(self.change)}."

    def as_json(self) -> dict[str, Any]:
        """Return plain JSON types; what is not known is null."""
        found: dict[str, Any] = {"name": self.known.name}
        held = self.before or self.after
        if held is not None and held.entry is not None:
            found |= {self.known.listed_by: held.entry.at.as_json(), "band": held.entry.band}
            found |= {"channel": held.entry.channel} if held.entry.channel else {}
        for when, one in (("before", self.before), ("after", self.after)):
            found[when] = None if one is None else one.quantity.as_json() | {"outcome": one.outcome or None}
        found["change"] = None if self.change is None else self.change.as_json()
        if self.change is not None and self.change.components is not None:
            low, high = coverage_interval(self.change)
            found["interval_95"] = {"low": low, "high": high, "unit": self.change.unit}
        return found | {"outcome": self.outcome, "reason": self.reason}


@dataclass(frozen=True)
class CaptureComparison:
    """Two captures, or two sets of plays, side by side.

    Attributes
    ----------
    changes : tuple of CaptureChange
        In the order in which a capture lists its quantities.
    plays_before, plays_after : int
        How many plays each side was joined from.
    notes : tuple of str
        What to mind, at most three sentences.
    """

    changes: tuple[CaptureChange, ...]
    plays_before: int
    plays_after: int
    notes: tuple[str, ...]

    @property
    def changed(self) -> tuple[CaptureChange, ...]:
        """Those that are shown to have changed."""
        return tuple(one for one in self.changes if one.shown)

    def as_json(self) -> dict[str, Any]:
        """Return plain JSON types."""
        return {
            "plays_before": self.plays_before,
            "plays_after": self.plays_after,
            "changes": [one.as_json() for one in self.changes],
            "notes": list(self.notes),
        }


def compare_captures(
    before: JoinedPlays,
    after: JoinedPlays,
    *,
    limits: Mapping[str, CaptureLimit],
    rule: DecisionRule,
    one_chain: bool = True,
) -> CaptureComparison:
    """Return how a deck's captures differ.

    Parameters
    ----------
    before, after : JoinedPlays
        Their sources of uncertainty are the same error where they have the same name: what the record's cut, the phono
        stage's equalisation, the recorder's clock and the pivot-to-spindle distance are off by cancels.
    limits, rule
        As for `judge_capture`.
    one_chain : bool
        Whether both were recorded with one phono stage and recorder; if not, what those are off by cancels no more.

    Notes
    -----
    With many values compared, some differ by more than their 95 % interval by chance. A change is called shown only
    beyond what chance would make any of them, 1 time in 20 over the whole comparison (Bonferroni).
    """
    first = _by_key(judge_capture(before.quantities, limits=limits, rule=rule))
    second = _by_key(judge_capture(after.quantities, limits=limits, rule=rule))
    keys = list(dict.fromkeys([*first, *second]))
    both = [key for key in keys if key in first and key in second]
    changes = {key: _change(first[key].quantity, second[key].quantity, one_chain=one_chain) for key in both}
    told = sum(change.standard_uncertainty is not None for change in changes.values())
    rows = tuple(_rows(keys, first, second, changes, told))
    order = {name: place for place, name in enumerate(dict.fromkeys(key[0] for key in keys))}
    rows = tuple(sorted(rows, key=lambda row: order[row.known.name]))
    return CaptureComparison(rows, before.count, after.count, _notes(before, after, one_chain=one_chain))


def _by_key(judged: tuple[JudgedValue, ...]) -> dict[Key, JudgedValue]:
    return {(one.known.name, *(("", "", "") if one.entry is None else entry_key(one.entry))): one for one in judged}


def _rows(
    keys: list[Key],
    first: Mapping[Key, JudgedValue],
    second: Mapping[Key, JudgedValue],
    changes: Mapping[Key, Quantity],
    told: int,
) -> Iterator[CaptureChange]:
    for key in keys:
        before, after = first.get(key), second.get(key)
        known = (before or after).known  # type: ignore[union-attr]
        change = changes.get(key)
        if change is None:
            missing = "after" if after is None else "before"
            yield CaptureChange(known, before, after, None, shown=False, reason=f"not shown by the capture {missing}")
        elif change.standard_uncertainty is None:
            yield CaptureChange(known, before, after, change, shown=False, reason=change.why_unknown)
        else:
            yield CaptureChange(known, before, after, change, shown=exceeds_uncertainty(change, among=told))


def _change(before: Quantity, after: Quantity, *, one_chain: bool) -> Quantity:
    bounds = [when for when, one in (("before", before), ("after", after)) if one.how.startswith(BOUND)]
    difference = propagate(
        lambda **at: at["after"] - at["before"],
        {"after": after if one_chain else _of_another_chain(after), "before": before},
        unit=after.unit,
        how="after less before, without what both share",
    )
    if not bounds:
        return difference
    why = f"only an upper bound is known {' and '.join(bounds)}"
    return Quantity.unknown_uncertainty(difference.value, difference.unit, why=why, how=difference.how)


def _of_another_chain(quantity: Quantity) -> Quantity:
    if quantity.components is None:
        return quantity
    return replace(
        quantity,
        components={
            replace(source, label=f"{source.label}, of another chain")
            if source.label in CHAIN_SOURCES
            else source: part
            for source, part in quantity.components.items()
        },
    )


def _notes(before: JoinedPlays, after: JoinedPlays, *, one_chain: bool) -> tuple[str, ...]:
    chain = (
        "Taken as recorded with one phono stage and one recorder from one test record: what these are off by cancels."
        if one_chain
        else "Recorded with another phono stage or recorder: only what the test record is off by cancels."
    )
    scatter = (
        "Plays of one side that scatter more than their own errors explain: "
        + "; ".join(
            sentence.partition(" disagree ")[0].removeprefix("The ")
            for sentence in (*before.disagreeing, *after.disagreeing)
        )
        + ". Their scatter is in the uncertainty."
    )
    single = "One play a side does not show how well plays repeat; two or more of each would."
    found = [chain]
    if before.disagreeing or after.disagreeing:
        found.append(scatter)
    if min(before.count, after.count) == 1:
        found.append(single)
    return tuple(found)
