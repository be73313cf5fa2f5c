"""The quantities of a capture against their limits: verdict, chance, and what to do next."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from groovewright.bench.captures.capture_advice import Advice, advice_for
from groovewright.bench.captures.capture_limits import CaptureLimit
from groovewright.bench.estimate.settings import SettingKey
from groovewright.measurement.conformity import (
    IN_TOLERANCE,
    OUT_OF_TOLERANCE,
    DecisionRule,
    Verdict,
    decide,
    decide_upper_bound,
)
from groovewright.measurement.quantity import Quantity
from groovewright.measurement.units import printed_unit
from groovewright.testtone.capture.capture_ladder import channel_velocity
from groovewright.testtone.capture.capture_result import CAPTURE_NAMES, CaptureName, ListedQuantity

Shown = Quantity | tuple[ListedQuantity, ...]

BOUND = "upper bound"
"""How the `how` of a quantity begins of which only an upper bound is known."""

BOUND_PROBABILITY = 0.95
"""With which such a bound holds."""

MAX_ACTIONS = 3


@dataclass(frozen=True)
class JudgedValue:
    """One value of a capture.

    Attributes
    ----------
    known : CaptureName
        Which quantity.
    quantity : Quantity
    entry : ListedQuantity or None
        Where there is a list of it, the entry, with its radius or frequency, band and channel.
    limit : CaptureLimit or None
        Aim and limits; None where it has none.
    verdict : Verdict or None
        By this capture alone; None exactly where there is no limit.
    advice : Advice
        What to do about it.
    """

    known: CaptureName
    quantity: Quantity
    entry: ListedQuantity | None
    limit: CaptureLimit | None
    verdict: Verdict | None
    advice: Advice

    @property
    def outcome(self) -> str:
        """The verdict in words; empty where there is none."""
        return "" if self.verdict is None else self.verdict.outcome

    @property
    def where(self) -> str:
        """At which radius or frequency, in which band and channel it was read; empty for a single quantity."""
        if self.known.name.startswith("tracking_ability"):
            inside = channel_velocity(self.quantity)
            return f"lateral peak velocity; {inside.value:.3g} {printed_unit(inside.unit)} in the channel itself"
        return "" if self.entry is None else place_of(self.entry)

    @property
    def is_bound(self) -> bool:
        """Whether only an upper bound of it is known."""
        return self.quantity.how.startswith(BOUND)


def place_of(entry: ListedQuantity) -> str:
    """Return where an entry of a list was read."""
    where = f"at {entry.at.value:.4g} {printed_unit(entry.at.unit)}, {entry.band}"
    return f"{where}, {entry.channel}" if entry.channel else where


def judge_capture(
    quantities: Mapping[str, Shown], *, limits: Mapping[str, CaptureLimit], rule: DecisionRule
) -> tuple[JudgedValue, ...]:
    """Return every value of a capture with its verdict, in the order of `CAPTURE_NAMES`.

    Parameters
    ----------
    quantities : mapping of str to Quantity or tuple of ListedQuantity
        As a capture shows them.
    limits : mapping of str to CaptureLimit
        As `capture_limits` gives them.
    rule : DecisionRule
        That of the job.
    """
    return tuple(_judged(quantities, limits, rule))


def _judged(
    quantities: Mapping[str, Shown], limits: Mapping[str, CaptureLimit], rule: DecisionRule
) -> Iterator[JudgedValue]:
    for known in CAPTURE_NAMES:
        shown = quantities.get(known.name, ())
        entries = [(shown, None)] if isinstance(shown, Quantity) else [(one.quantity, one) for one in shown]
        limit, advice = limits.get(known.name), advice_for(known.name)
        for quantity, entry in entries:
            verdict = None if limit is None else _verdict(quantity, limit, rule)
            yield JudgedValue(known, quantity, entry, limit, verdict, advice)


def _verdict(quantity: Quantity, limit: CaptureLimit, rule: DecisionRule) -> Verdict:
    if quantity.how.startswith(BOUND):
        return decide_upper_bound(quantity, BOUND_PROBABILITY, limit.tolerance, rule)
    return decide(quantity, limit.tolerance, rule)


@dataclass(frozen=True)
class WhatNext:
    """What follows from a judged capture.

    Attributes
    ----------
    settings : tuple of str
        Settings of the bench that its values enter or that put them right, those out of tolerance first.
    actions : tuple of str
        At most `MAX_ACTIONS` sentences on values out of tolerance that no setting puts right.
    """

    settings: tuple[SettingKey, ...]
    actions: tuple[str, ...]

    def as_json(self) -> dict[str, Any]:
        """Return plain JSON types."""
        return {"settings": list(self.settings), "actions": list(self.actions)}


def what_next(judged: Sequence[JudgedValue]) -> WhatNext:
    """Return the settings that the values of a capture enter, and what else is to be done."""
    by_need = sorted(judged, key=lambda one: (one.outcome != OUT_OF_TOLERANCE, one.outcome == IN_TOLERANCE))
    settings = dict.fromkeys(one.advice.setting for one in by_need if one.advice.setting and one.outcome)
    actions = dict.fromkeys(
        one.advice.action
        for one in judged
        if one.outcome == OUT_OF_TOLERANCE and one.advice.action and one.advice.setting is None
    )
    return WhatNext(tuple(key for key in settings if key is not None), tuple(actions)[:MAX_ACTIONS])


def verdicts_json(judged: Sequence[JudgedValue], rule: DecisionRule) -> dict[str, Any]:
    """Return the verdicts of a capture as the command and the record of a job print them."""
    return {
        "rule": rule.describe(),
        "verdicts": [_value_json(one) for one in judged if one.limit is not None],
        "next": what_next(judged).as_json(),
    }


def _value_json(one: JudgedValue) -> dict[str, Any]:
    assert one.verdict is not None
    assert one.limit is not None
    found: dict[str, Any] = {"name": one.known.name, "value": one.quantity.as_json()}
    if one.entry is not None:
        found |= {one.known.listed_by: one.entry.at.as_json(), "band": one.entry.band}
        found |= {"channel": one.entry.channel} if one.entry.channel else {}
    return (
        found
        | one.limit.as_json()
        | {
            "outcome": one.verdict.outcome,
            "probability_of_conformity": one.verdict.probability_of_conformity,
            "setting": one.advice.setting,
            "action": one.advice.action if one.outcome != IN_TOLERANCE else "",
        }
    )
