"""Whether a measured quantity meets its tolerance: JCGM 106 with three honest answers."""

from __future__ import annotations

import math
from dataclasses import dataclass
from statistics import NormalDist
from typing import Literal, get_args

from groovewright.measurement.error_shape import error_shape
from groovewright.measurement.formatting import format_chosen, format_quantity, format_uncertainty
from groovewright.measurement.quantity import Quantity, unknown_sentence
from groovewright.measurement.units import printed_unit

IN_TOLERANCE = "in tolerance"
OUT_OF_TOLERANCE = "out of tolerance"
UNDECIDED = "undecided"

RuleKind = Literal["guarded acceptance", "simple acceptance", "guarded rejection"]

ONE_SIDED_95_PERCENT = NormalDist().inv_cdf(0.95)

# Room for the rounding of limit and guard band, so that a value exactly on a boundary belongs to it.
ROUNDING = 8 * 2.0**-52


@dataclass(frozen=True, slots=True)
class Tolerance:
    """Limits that a quantity must keep. One of them may be missing.

    Parameters
    ----------
    lower, upper : float or None
        Limits in `unit`; a value on a limit keeps it.
    unit : str
        Unit of both.
    """

    lower: float | None
    upper: float | None
    unit: str

    def __post_init__(self) -> None:
        limits = [limit for limit in (self.lower, self.upper) if limit is not None]
        if not limits:
            raise ValueError("a tolerance needs a lower limit, an upper limit or both")
        if not all(math.isfinite(limit) for limit in limits):
            raise ValueError("the limits of a tolerance must be finite; leave a limit out if there is none")
        if self.lower is not None and self.upper is not None and not self.lower < self.upper:
            raise ValueError(f"the lower limit {self.lower:g} {self.unit} must be below the upper {self.upper:g}")

    def describe(self) -> str:
        """Return the limits as text, such as ``"18 to 22 mN"``."""
        lower, upper = (None if end is None else format_chosen(end, self.unit) for end in (self.lower, self.upper))
        unit = printed_unit(self.unit)
        if lower is None:
            return f"at most {upper} {unit}"
        if upper is None:
            return f"at least {lower} {unit}"
        return f"{lower} to {upper} {unit}"


@dataclass(frozen=True, slots=True)
class DecisionRule:
    """How a verdict follows from the measured value, its uncertainty and the tolerance.

    Parameters
    ----------
    kind : str
        ``"guarded acceptance"``: in tolerance only if inside by the guard band, out of tolerance only if outside
        by it, otherwise undecided. ``"simple acceptance"``: the measured value alone decides.
        ``"guarded rejection"``: in tolerance if inside, out of tolerance only if outside by the guard band,
        otherwise undecided.
    guard_factor : float
        Width of the guard band in standard uncertainties. Where few repeats stand behind the uncertainty the band
        is widened to the quantile of the t-distribution of the same probability, and where most of it is rounding
        narrowed to that of the rectangular distribution.
    maximum_risk : float or None
        If given, a guarded verdict also needs the probability that it is wrong to be at or below this. It
        matters where both limits are near, since a guard band holds the risk beyond one limit only.

    References
    ----------
    .. [1] JCGM 106:2012, clauses 7 and 8. That guide's guarded rejection accepts a value in the guard band; here
       it is "undecided", as no verdict of ours calls a value beyond a limit in tolerance.
    """

    kind: RuleKind = "guarded acceptance"
    guard_factor: float = ONE_SIDED_95_PERCENT
    maximum_risk: float | None = None

    def __post_init__(self) -> None:
        if self.kind not in get_args(RuleKind):
            raise ValueError(f'"{self.kind}" is no decision rule; use one of {", ".join(get_args(RuleKind))}')
        if not 0 <= self.guard_factor <= 10:
            raise ValueError(f"a guard band is 0 to 10 standard uncertainties wide, not {self.guard_factor}")
        if self.maximum_risk is not None and not 0 < self.maximum_risk < 0.5:
            raise ValueError(f"a maximum risk lies between 0 and 0.5, not at {self.maximum_risk}")

    @classmethod
    def of_maximum_risk(cls, risk: float, kind: RuleKind = "guarded acceptance") -> DecisionRule:
        """Return the rule whose guarded verdicts are wrong with at most this probability.

        Those are both verdicts under guarded acceptance and "out of tolerance" under guarded rejection. Simple
        acceptance has none.
        """
        if not 0 < risk < 0.5:
            raise ValueError(f"a maximum risk lies between 0 and 0.5, not at {risk}")
        return cls(kind, NormalDist().inv_cdf(1 - risk), risk)

    def guard_band(self, quantity: Quantity) -> float:
        """Return the width of the guard band for a quantity of known uncertainty, in its unit."""
        uncertainty = quantity.standard_uncertainty
        if uncertainty is None:
            raise ValueError(f"no guard band without an uncertainty ({quantity.why_unknown})")
        if self.kind == "simple acceptance":
            return 0.0
        if uncertainty == 0 or self.guard_factor == 0:
            return 0.0
        return error_shape(quantity).exceeded_with(0.5 * math.erfc(self.guard_factor / math.sqrt(2)))

    def describe(self) -> str:
        """Return the rule as one sentence for a page or a report."""
        if self.kind == "simple acceptance":
            return (
                "Simple acceptance: the measured value alone decides, and a value near a limit is wrong half the time."
            )
        band = f"{self.guard_factor:.3g} standard uncertainties"
        if self.kind == "guarded acceptance":
            text = (
                f"Guarded acceptance: in tolerance only if inside the limits by {band}, out only if outside by as much"
            )
        else:
            text = f"Guarded rejection: in tolerance if inside the limits, out only if outside them by {band}"
        risk = ""
        if self.maximum_risk is not None:
            # Guarded rejection takes a value inside as it is, so nothing holds the risk that the truth is outside.
            whose = "each" if self.kind == "guarded acceptance" else "the latter"
            risk = f", {whose} with a risk of at most {100 * self.maximum_risk:.3g} %"
        return f"{text}{risk}; between, it is undecided."


@dataclass(frozen=True, slots=True)
class Verdict:
    """What can be said of a quantity against its tolerance, and why.

    Parameters
    ----------
    outcome : str
        `IN_TOLERANCE`, `OUT_OF_TOLERANCE` or `UNDECIDED`.
    probability_of_conformity : float or None
        Probability that the true value keeps the tolerance; None if the uncertainty is unknown.
    measured, tolerance, rule
        What was decided upon.
    reason : str
        One sentence.
    """

    outcome: str
    probability_of_conformity: float | None
    measured: Quantity
    tolerance: Tolerance
    rule: DecisionRule
    reason: str


def probability_of_conformity(quantity: Quantity, tolerance: Tolerance) -> float | None:
    """Return the probability that the true value keeps the tolerance; None if the uncertainty is unknown.

    The state of knowledge is a normal distribution about the value. If the uncertainty was itself estimated from
    few repeats it is the scaled t-distribution of its effective degrees of freedom, which has longer tails, and a
    rectangular part that stands out is taken as what it is: see `error_shape`.

    References
    ----------
    .. [1] JCGM 106:2012, 7.3 and 7.4; JCGM 101:2008, 6.4.9 (t-distribution).
    """
    _same_unit(quantity, tolerance)
    uncertainty = quantity.standard_uncertainty
    if uncertainty is None:
        return None
    if uncertainty == 0:
        return float(_inside(quantity.value, tolerance, 0.0))
    shape = error_shape(quantity)
    below = 0.0 if tolerance.lower is None else shape.below(tolerance.lower - quantity.value)
    above = 0.0 if tolerance.upper is None else shape.below(quantity.value - tolerance.upper)
    return max(0.0, 1.0 - below - above)


def decide(quantity: Quantity, tolerance: Tolerance, rule: DecisionRule) -> Verdict:
    """Return the verdict on a quantity.

    With an unknown uncertainty the outcome is "undecided" under every rule: nobody can say how far the measured
    value may be from the truth.

    Raises
    ------
    ValueError
        If quantity and tolerance are not in the same unit.

    Examples
    --------
    >>> reading = Quantity.measured(10.03, "mm", standard_uncertainty=0.02, source="gauge")
    >>> decide(reading, Tolerance(9.95, 10.05, "mm"), DecisionRule(guard_factor=2)).outcome
    'undecided'
    """
    _same_unit(quantity, tolerance)
    probability = probability_of_conformity(quantity, tolerance)
    if probability is None:
        reason = f"{unknown_sentence(quantity)}. Nothing can be shown until it is stated or measured."
        return Verdict(UNDECIDED, None, quantity, tolerance, rule, reason)
    band = rule.guard_band(quantity)
    outcome = _outcome(quantity.value, tolerance, rule, band, probability)
    return Verdict(outcome, probability, quantity, tolerance, rule, _reason(outcome, quantity, tolerance, rule, band))


def decide_upper_bound(bound: Quantity, probability: float, tolerance: Tolerance, rule: DecisionRule) -> Verdict:
    """Return the verdict on a quantity of which only an upper bound is known.

    It may be in tolerance, where the bound keeps an upper limit, there is no lower one, and the bound holds as surely
    as the rule asks; a bound never shows that anything is out of tolerance.

    Parameters
    ----------
    bound : Quantity
        The bound is its value.
    probability : float
        With which the true value lies at or below the bound.

    Examples
    --------
    >>> bound = Quantity.unknown_uncertainty(-35, "dB", why="the noise hides it")
    >>> decide_upper_bound(bound, 0.95, Tolerance(None, -20, "dB"), DecisionRule.of_maximum_risk(0.05)).outcome
    'in tolerance'
    """
    _same_unit(bound, tolerance)
    limits = tolerance.describe()
    kept = tolerance.lower is None and _inside(bound.value, tolerance, 0.0)
    sure = rule.kind != "guarded acceptance" or 1 - probability <= _risk(rule) * (1 + 1e-9)
    value = format_chosen(bound.value, bound.unit)
    about = f"It is below {value} {printed_unit(bound.unit)} with a probability of {100 * probability:.3g} %"
    if kept and sure:
        return Verdict(IN_TOLERANCE, probability, bound, tolerance, rule, f"{about}, and {limits} is asked for.")
    reason = f"{about}, which does not show whether it keeps {limits}: measure better."
    return Verdict(UNDECIDED, None, bound, tolerance, rule, reason)


def _risk(rule: DecisionRule) -> float:
    beyond = 0.5 * math.erfc(rule.guard_factor / math.sqrt(2))
    return beyond if rule.maximum_risk is None else max(rule.maximum_risk, beyond)


def _outcome(value: float, tolerance: Tolerance, rule: DecisionRule, band: float, probability: float) -> str:
    if rule.kind == "simple acceptance":
        return IN_TOLERANCE if _inside(value, tolerance, 0.0) else OUT_OF_TOLERANCE
    risk = math.inf if rule.maximum_risk is None else rule.maximum_risk * (1 + 1e-9)
    if rule.kind == "guarded rejection":
        shown_inside = _inside(value, tolerance, 0.0)
    else:
        shown_inside = _inside(value, tolerance, band) and 1 - probability <= risk
    if shown_inside:
        return IN_TOLERANCE
    outside = not _inside(value, tolerance, -band)
    return OUT_OF_TOLERANCE if outside and probability <= risk else UNDECIDED


def _reason(outcome: str, quantity: Quantity, tolerance: Tolerance, rule: DecisionRule, band: float) -> str:
    measured, limits = format_quantity(quantity), tolerance.describe()
    side = "inside" if _inside(quantity.value, tolerance, 0.0) else "outside"
    if rule.kind == "simple acceptance" or (rule.kind == "guarded rejection" and outcome == IN_TOLERANCE):
        return f"{measured} lies {side} {limits}."
    if band == 0:
        return f"{measured} lies {side} {limits}."
    guard = f"the guard band of {format_uncertainty(band, tolerance.unit)}"
    if outcome != UNDECIDED:
        return f"{measured} lies {side} {limits} by at least {guard}."
    if rule.kind == "guarded acceptance" and _too_narrow(tolerance, band):
        return (
            f"{limits} is narrower than twice {guard}, so no reading of this uncertainty can show it: measure better."
        )
    by_the_band = _inside(quantity.value, tolerance, band) or not _inside(quantity.value, tolerance, -band)
    if by_the_band and rule.maximum_risk is not None:
        return (
            f"{measured} lies {side} {limits} by {guard}, but with both limits so near a verdict would be wrong more "
            f"often than {100 * rule.maximum_risk:.3g} % allows: measure better."
        )
    return f"{measured} lies {side} {limits}, but not by {guard}: measure better or adjust."


def _too_narrow(tolerance: Tolerance, band: float) -> bool:
    if tolerance.lower is None or tolerance.upper is None:
        return False
    return tolerance.upper - tolerance.lower < 2 * band


def _inside(value: float, tolerance: Tolerance, margin: float) -> bool:
    lower = -math.inf if tolerance.lower is None else tolerance.lower + margin
    upper = math.inf if tolerance.upper is None else tolerance.upper - margin
    limits = [abs(limit) for limit in (tolerance.lower, tolerance.upper) if limit is not None]
    slack = ROUNDING * max(*limits, abs(value), abs(margin))
    return lower - slack <= value <= upper + slack


def _same_unit(quantity: Quantity, tolerance: Tolerance) -> None:
    if quantity.unit != tolerance.unit:
        raise ValueError(
            f"the value is in {quantity.unit} and its tolerance in {tolerance.unit}; give both in one unit"
        )
