"""One verdict over the whole groove, for a quantity that has a value at every radius."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from groovewright.measurement.conformity import (
    IN_TOLERANCE,
    OUT_OF_TOLERANCE,
    UNDECIDED,
    DecisionRule,
    Tolerance,
    Verdict,
    decide,
)
from groovewright.measurement.monte_carlo import draw_quantities
from groovewright.measurement.quantity import Quantity

DRAWS = 20_000
"""A probability of 5 % then has a standard error of 0.15 %, and a page waits 30 ms for it."""

SEED = 20_260_201


@dataclass(frozen=True)
class AtRadius:
    """A quantity at one radius of the groove. [mm]"""

    radius_mm: float
    quantity: Quantity


def decide_over_groove(
    curve: Sequence[AtRadius], tolerance: Tolerance, rule: DecisionRule, *, name: str
) -> tuple[Verdict, float]:
    """Return the one verdict on a curve, and the radius that it hangs on.

    In tolerance only if every radius is, and out of tolerance as soon as one is. The probability of conformity is that
    of the whole curve, which is never above that of its worst radius; it holds the rule's maximum risk.

    Parameters
    ----------
    curve : sequence of AtRadius
        One or more; several may have the same radius, such as the force with the bearings' friction either way.
    tolerance : Tolerance
        The same at every radius.
    rule : DecisionRule
    name : str
        What the curve is, for the reason: ``"side force"``.

    Raises
    ------
    ValueError
        If the curve is empty, or quantity and tolerance are not in the same unit.
    """
    if not curve:
        raise ValueError("a verdict over the groove needs the quantity at one radius at least")
    verdicts = [decide(point.quantity, tolerance, rule) for point in curve]
    worst = min(range(len(curve)), key=lambda k: _badness(verdicts[k], tolerance))
    deciding, at_mm = verdicts[worst], curve[worst].radius_mm
    probability = _of_all(curve, tolerance, verdicts)
    outcome = _outcome(verdicts, probability, rule)
    reason = f"At {at_mm:.4g} mm, where the {name} stands worst: {deciding.reason}"
    if outcome != deciding.outcome:
        beyond = 100 * (1 - (probability or 0.0))
        reason = (
            f"Each radius by itself would do, but together they leave the limits in {beyond:.2g} % of cases, which is "
            f"more than the rule allows: measure better."
        )
    return replace(deciding, outcome=outcome, probability_of_conformity=probability, reason=reason), at_mm


def _badness(verdict: Verdict, tolerance: Tolerance) -> tuple[int, float, float]:
    """Return what is smallest for the radius that decides: outcome first, then probability, then room."""
    order = {OUT_OF_TOLERANCE: 0, UNDECIDED: 1, IN_TOLERANCE: 2}
    value = verdict.measured.value
    room = min(
        np.inf if tolerance.lower is None else value - tolerance.lower,
        np.inf if tolerance.upper is None else tolerance.upper - value,
    )
    # Without an uncertainty nothing is worse than not knowing.
    probability = verdict.probability_of_conformity
    return order[verdict.outcome], -1.0 if probability is None else probability, float(room)


def _of_all(curve: Sequence[AtRadius], tolerance: Tolerance, verdicts: Sequence[Verdict]) -> float | None:
    """Return the probability that the tolerance is kept at every radius; None if that of one is unknown."""
    each = [verdict.probability_of_conformity for verdict in verdicts]
    known = [probability for probability in each if probability is not None]
    if len(known) < len(each):
        return None
    uncertain = {str(k): point.quantity for k, point in enumerate(curve) if point.quantity.standard_uncertainty}
    if not uncertain:
        return min(known)
    values = np.stack(list(draw_quantities(uncertain, trials=DRAWS, seed=SEED).values()))
    kept = np.ones(values.shape[1], dtype=bool)
    if tolerance.lower is not None:
        kept &= values.min(axis=0) >= tolerance.lower
    if tolerance.upper is not None:
        kept &= values.max(axis=0) <= tolerance.upper
    # The draws scatter, and no whole is likelier than its parts.
    return min(float(kept.mean()), *known)


def _outcome(verdicts: Sequence[Verdict], probability: float | None, rule: DecisionRule) -> str:
    outcomes = {verdict.outcome for verdict in verdicts}
    if OUT_OF_TOLERANCE in outcomes:
        return OUT_OF_TOLERANCE
    if outcomes != {IN_TOLERANCE}:
        return UNDECIDED
    guarded = rule.kind == "guarded acceptance" and rule.maximum_risk is not None
    if guarded and probability is not None and 1 - probability > (rule.maximum_risk or 0.0):
        return UNDECIDED
    return IN_TOLERANCE
