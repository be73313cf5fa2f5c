"""Readings that disagree beyond chance: which, with which, and what each setting would be without either."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np

from groovewright.bench.estimate.joint_estimate import Estimate
from groovewright.bench.estimate.observations import KINDS_OF_READING, Observation, ObservationKind
from groovewright.bench.estimate.settings import SettingKey
from groovewright.measurement.coverage import coverage_factor
from groovewright.measurement.formatting import format_force, format_quantity
from groovewright.measurement.quantity import Quantity

RISK = 0.01
"""How often all readings of an honest job together may raise an alarm: our choice."""

MAX_NAMED = 3
"""Where more readings disagree, it is not single ones that are wrong."""

OUTVOTED_RISK = 0.05
"""Once a reading is named, it is outvoted if it still disagrees this surely with any other left out: our choice."""

MIN_COVERAGE_FACTOR = 1.9
"""No coverage factor of 95 % or more is smaller, so nearer readings need not be looked at."""


@dataclass(frozen=True)
class Conflict:
    """A reading that is farther from the rest than chance allows, as found in an estimate.

    Attributes
    ----------
    reading : int
        Its place in the observations.
    partner : int or None
        The reading that it disagrees with; None where it disagrees with what is usual alone.
    is_outvoted : bool
        Whether it disagrees with all others whichever single one of them is left out, so that the majority stands
        against it.
    sentence : str
        With both figures.
    """

    reading: int
    partner: int | None
    is_outvoted: bool
    sentence: str


@dataclass(frozen=True)
class Disagreement:
    """Readings that disagree beyond chance, as said of a deck.

    Attributes
    ----------
    sentence : str
        Which, with their figures, and what to do.
    labels : tuple of str
        Of the readings, the doubtful one first.
    kinds : tuple of str
        Their kinds, in the same order.
    settings : tuple of str
        Of `SETTING_KEYS`: those that depend noticeably on which of them is right.
    is_outvoted : bool
        Whether the first is left out, since the others agree against it. Otherwise no move follows from any of them
        until one is read again.
    """

    sentence: str
    labels: tuple[str, ...]
    kinds: tuple[ObservationKind, ...]
    settings: tuple[SettingKey, ...]
    is_outvoted: bool

    def as_json(self) -> dict[str, Any]:
        """Return one object of plain JSON types."""
        return {
            "sentence": self.sentence,
            "readings": list(self.labels),
            "settings": list(self.settings),
            "left_out": self.labels[0] if self.is_outvoted else None,
        }


def conflicts(
    first: Estimate, by: Callable[[tuple[Observation, ...]], Estimate], *, usual: frozenset[str]
) -> tuple[Conflict, ...]:
    """Return the readings that disagree with the rest, the worst first.

    Each is compared with what all others say of it at 1 % over all readings together (Bonferroni), with the
    t-distribution where few repeats stand behind it. The worst is named and left out before the next is looked for, so
    that it does not make others look wrong.

    Parameters
    ----------
    first : Estimate
        By all readings.
    by : callable
        Returns the estimate by the given readings alone.
    usual : frozenset of str
        Labels of the sources that stand for what is usual, not for a reading.
    """
    found: list[Conflict] = []
    current, places = first, list(range(len(first.observations)))
    contradicting = first.contradicting
    if len(contradicting) > 1:
        # Entered as exact, so that no uncertainty tells which is wrong.
        found.append(Conflict(contradicting[0], contradicting[1], False, _contradiction(first)))
    while len(found) < MAX_NAMED and places:
        risk = RISK / len(first.observations)
        worst = _worst(current, risk=risk)
        if worst is None:
            break
        partner, is_outvoted = _partner(current, worst)
        if _is_usual(_rest(current, worst), usual):
            partner, is_outvoted = None, False
        found.append(
            Conflict(
                places[worst],
                None if partner is None else places[partner],
                is_outvoted,
                _sentence(current, worst, partner, is_outvoted=is_outvoted),
            )
        )
        places.pop(worst)
        current = by(tuple(first.observations[k] for k in places))
    return tuple(found)


def _worst(estimate: Estimate, *, risk: float) -> int | None:
    """Return the reading farthest from the rest, if that is farther than chance allows."""
    spread = np.linalg.norm(estimate.leave_one_out_errors, axis=1)
    ratio = np.abs(estimate.leave_one_out_residual) / np.where(spread > 0, spread, np.inf)
    # By the normal distribution first: the t-distribution only ever asks for more.
    for k in (k for k in np.argsort(-ratio) if ratio[k] > MIN_COVERAGE_FACTOR):
        if ratio[k] > _allowed(estimate, int(k), risk):
            return int(k)
    return None


def _allowed(estimate: Estimate, place: int, risk: float) -> float:
    difference = estimate.quantity(
        0.0, estimate.leave_one_out_errors[place], estimate.observations[place].quantity.unit
    )
    return coverage_factor(difference, 1 - risk)


def _partner(estimate: Estimate, worst: int) -> tuple[int | None, bool]:
    """Return the other reading without which the disagreement is least, and whether it lasts even then."""
    others = [k for k in range(len(estimate.observations)) if k != worst]
    if not others:
        return None, False
    ratios = []
    for other in others:
        residual, spread = estimate.without_both(worst, other)
        ratios.append(abs(residual) / spread if spread > 0 else 0.0)
    least = int(np.argmin(ratios))
    return others[least], bool(ratios[least] > _allowed(estimate, worst, OUTVOTED_RISK))


def _rest(estimate: Estimate, place: int) -> Quantity:
    """Return what all other readings say of one."""
    reading = estimate.observations[place].quantity
    return estimate.quantity(
        reading.value - float(estimate.leave_one_out_residual[place]),
        estimate.reading_errors[place] - estimate.leave_one_out_errors[place],
        reading.unit,
    )


def _sentence(estimate: Estimate, place: int, partner: int | None, *, is_outvoted: bool) -> str:
    reading, rest = estimate.observations[place], _rest(estimate, place)
    read = f"{reading.label} ({_printed(reading.quantity)})"
    if partner is None:
        return (
            f"{read} is far from what is usual for the {KINDS_OF_READING[reading.kind].title}, {_printed(rest)}: read "
            "it again, or correct it if it was mistyped."
        )
    if is_outvoted:
        return (
            f"{read} disagrees with all other readings, which give {_printed(rest)}, so it is left out. Correct or "
            "withdraw it if it was a slip."
        )
    other = estimate.observations[partner]
    return (
        f"{read} and {other.label} ({_printed(other.quantity)}) disagree by more than chance allows: by the other "
        f"readings the {KINDS_OF_READING[reading.kind].title} would be {_printed(rest)}. Read one of the two again; "
        "until then no move follows from them."
    )


def _contradiction(estimate: Estimate) -> str:
    labels = ", ".join(estimate.observations[k].label for k in estimate.contradicting)
    return (
        f"Readings that are entered as exact contradict each other ({labels}): give them their uncertainty, or correct "
        "the one that is wrong."
    )


def _is_usual(rest: Quantity, usual: frozenset[str]) -> bool:
    """Return whether what the rest says comes mostly from what is usual, not from readings."""
    parts = rest.components or {}
    whole = sum(part * part for part in parts.values())
    return sum(part * part for source, part in parts.items() if source.label in usual) > 0.5 * whole


def _printed(quantity: Quantity) -> str:
    return format_force(quantity) if quantity.unit == "mN" else format_quantity(quantity)
