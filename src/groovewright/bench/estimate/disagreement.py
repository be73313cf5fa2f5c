"""Readings that disagree with what all others say of them."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from groovewright.bench.estimate.joint_estimate import Estimate
from groovewright.bench.estimate.observations import KINDS_OF_READING, Observation
from groovewright.bench.estimate.setting_state import Residual
from groovewright.measurement.coverage import coverage_factor
from groovewright.measurement.formatting import format_force, format_quantity
from groovewright.measurement.quantity import Quantity

RISK = 0.05
"""How often all readings of an honest job together may raise an alarm."""

MOST_NAMED = 3
"""Where more readings disagree, it is not single ones that are wrong."""


@dataclass(frozen=True)
class Disagreement:
    """A reading that disagrees with the rest.

    Attributes
    ----------
    place : int
        In the estimate's readings.
    sentence : str
        With both figures.
    from_the_rest : float
        By how much, in the reading's unit.
    gain : ndarray, shape (9,)
        How far the state followed it.
    """

    place: int
    sentence: str
    from_the_rest: float
    gain: NDArray[np.float64]


def residuals_of(estimate: Estimate) -> tuple[Residual, ...]:
    """Return every reading beside what the estimate, and the other readings alone, say of it."""
    spread = np.linalg.norm(estimate.from_the_rest_errors, axis=1)
    rest = np.linalg.norm(estimate.reading_errors - estimate.from_the_rest_errors, axis=1)
    return tuple(
        Residual(
            reading.label,
            reading.kind,
            reading.quantity,
            fitted=float(estimate.fitted[k]),
            by_the_rest=reading.quantity.value - float(estimate.from_the_rest[k]),
            by_the_rest_uncertainty=float(rest[k]),
            in_uncertainties=float(estimate.from_the_rest[k] / spread[k]) if spread[k] else 0.0,
        )
        for k, reading in enumerate(estimate.observations)
    )


def disagreements(
    first: Estimate, without: Callable[[tuple[Observation, ...]], Estimate], *, usual: frozenset[str]
) -> tuple[Disagreement, ...]:
    """Return the readings that disagree with the rest, the worst first.

    Each is held against all others at 5 % over all readings together (Bonferroni), with the t-distribution where few
    repeats stand behind it. The worst is named and left out before the next is looked for, so that it does not make
    others look wrong.

    Parameters
    ----------
    first : Estimate
        By all readings.
    without : callable
        Returns the estimate by the given readings alone.
    usual : frozenset of str
        Labels of the sources that stand for what is usual, not for a reading.
    """
    found: list[Disagreement] = []
    current, places = first, list(range(len(first.observations)))
    while len(found) < MOST_NAMED and places:
        worst = _worst(current, risk=RISK / len(first.observations))
        if worst is None:
            break
        place = places.pop(worst)
        found.append(
            Disagreement(
                place,
                _sentence(current, worst, usual),
                float(current.from_the_rest[worst]),
                current.gain[:, worst],
            )
        )
        current = without(tuple(first.observations[k] for k in places))
    return tuple(found)


def contradiction(estimate: Estimate) -> str:
    """Return one sentence on readings without uncertainty that cannot all be true; empty where there are none."""
    if not estimate.contradicting:
        return ""
    labels = ", ".join(estimate.observations[k].label for k in estimate.contradicting)
    return (
        f"Readings that are entered as exact contradict each other ({labels}): give them their uncertainty, or correct "
        f"the one that is wrong."
    )


def _worst(estimate: Estimate, *, risk: float) -> int | None:
    """Return the reading farthest from the rest, if that is farther than chance allows."""
    spread = np.linalg.norm(estimate.from_the_rest_errors, axis=1)
    ratio = np.abs(estimate.from_the_rest) / np.where(spread > 0, spread, np.inf)
    # By the normal distribution first: the t-distribution only ever asks for more.
    likely = [k for k in np.argsort(-ratio) if ratio[k] > NORMAL_AT_LEAST]
    for k in likely:
        difference = estimate.quantity(0.0, estimate.from_the_rest_errors[k], estimate.observations[k].quantity.unit)
        if ratio[k] > coverage_factor(difference, 1 - risk):
            return int(k)
    return None


NORMAL_AT_LEAST = 1.9
"""No coverage factor of 95 % or more is smaller, so nearer readings need not be looked at."""


def _sentence(estimate: Estimate, place: int, usual: frozenset[str]) -> str:
    reading = estimate.observations[place]
    rest = estimate.quantity(
        reading.quantity.value - float(estimate.from_the_rest[place]),
        estimate.reading_errors[place] - estimate.from_the_rest_errors[place],
        reading.quantity.unit,
    )
    title = KINDS_OF_READING[reading.kind].title
    read = f"{reading.label}: the {title} of {_printed(reading.quantity)}"
    if _rests_on_what_is_usual(rest, usual):
        return f"{read} is far from what is usual, {_printed(rest)}. Read it again, or correct it if it was mistyped."
    return (
        f"{read} disagrees with the other readings, which say {_printed(rest)}. Find out which is wrong and correct "
        f"it; until then the disagreement is part of the uncertainty."
    )


def _rests_on_what_is_usual(rest: Quantity, usual: frozenset[str]) -> bool:
    parts = rest.components or {}
    whole = sum(part * part for part in parts.values())
    return sum(part * part for source, part in parts.items() if source.label in usual) > 0.5 * whole


def _printed(quantity: Quantity) -> str:
    return format_force(quantity) if quantity.unit == "mN" else format_quantity(quantity)
