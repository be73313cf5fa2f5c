"""What measurement would show a verdict that is not shown."""

from __future__ import annotations

from groovewright.measurement.conformity import UNDECIDED, Verdict
from groovewright.measurement.formatting import rounded_uncertainty
from groovewright.measurement.units import printed_unit


def what_would_show(verdict: Verdict) -> tuple[str, ...]:
    """Return sentences on what would settle a verdict; none where it is settled or where no uncertainty is known.

    The uncertainty that would do follows from the distance to the nearest limit and the guard band of the rule.
    """
    measured, uncertainty = verdict.measured, verdict.measured.standard_uncertainty
    if verdict.outcome != UNDECIDED or not uncertainty or not measured.components:
        return ()
    limits = [limit for limit in (verdict.tolerance.lower, verdict.tolerance.upper) if limit is not None]
    distance = min(abs(measured.value - limit) for limit in limits)
    unit = printed_unit(measured.unit)
    sentences = []
    enough = distance / verdict.rule.guard_factor if verdict.rule.guard_factor else 0.0
    if 0 < enough < uncertainty:
        side = "in" if _is_inside(verdict) else "out of"
        sentences.append(
            f"The same value would be shown {side} tolerance with a standard uncertainty below "
            f"{rounded_uncertainty(enough):f} {unit}; now it is {rounded_uncertainty(uncertainty):f} {unit}."
        )
    source, part = max(measured.components.items(), key=lambda item: abs(item[1]))
    share = 100 * (part / uncertainty) ** 2
    sentences.append(f"Most of the uncertainty ({share:.0f} % of its square) comes from: {source.label}.")
    return tuple(sentences)


def _is_inside(verdict: Verdict) -> bool:
    value, tolerance = verdict.measured.value, verdict.tolerance
    above = tolerance.lower is None or value >= tolerance.lower
    return above and (tolerance.upper is None or value <= tolerance.upper)
