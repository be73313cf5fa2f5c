"""Gauges side by side: what each makes of the set-up, and whether it is good enough for the target."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from groovewright.bench.estimate.job_facts import DEFAULT_RULE
from groovewright.bench.targets.targets import Targets
from groovewright.gauges.chain_figures import ChainFigures, chain_figures
from groovewright.gauges.gauge_chain import GaugeChain
from groovewright.gauges.set_ups import GaugeAim
from groovewright.measurement.conformity import IN_TOLERANCE, DecisionRule, Tolerance, Verdict, decide
from groovewright.measurement.quantity import Quantity

JudgedKey = Literal["effective_length", "zenith"]
JUDGED: dict[JudgedKey, str] = {"effective_length": "effective length", "zenith": "zenith"}

DRAWS = 100_000
SEED = 20_260_101
HALVINGS = 20
"""Of a search by halves, which then knows a limit to a millionth of the tolerance."""

LENGTH_LIMIT_MM, ZENITH_LIMIT_DEG = 0.5, 0.5
"""Either way of the target; common practice, no source. [mm], [deg]"""


@dataclass(frozen=True)
class GaugeTarget:
    """What gauges are to show, and by which rule.

    Parameters
    ----------
    targets : Targets
        Of a pivoted arm; they bring the groove range and the velocity and speed of the distortion.
    length_limit_mm, zenith_limit_deg : float
        How far effective length and offset angle may be off their targets, either way. [mm], [deg]
    rule : DecisionRule

    Raises
    ------
    ValueError
        If the arm is tangential, or a limit is not above 0.
    """

    targets: Targets
    length_limit_mm: float = LENGTH_LIMIT_MM
    zenith_limit_deg: float = ZENITH_LIMIT_DEG
    rule: DecisionRule = DEFAULT_RULE

    def __post_init__(self) -> None:
        if self.targets.geometry is None:
            raise ValueError("a tangential arm has no effective length to set by a gauge")
        for name, limit in (("effective length", self.length_limit_mm), ("zenith", self.zenith_limit_deg)):
            if not (math.isfinite(limit) and limit > 0):
                raise ValueError(f"the {name} may be off by an amount above 0, not by {limit:g}")

    @property
    def aim(self) -> GaugeAim:
        """The same as plain numbers."""
        assert self.targets.geometry is not None
        request = self.targets.request
        return GaugeAim(self.targets.geometry, request.innermost_mm, request.outermost_mm)

    def tolerance(self, key: JudgedKey) -> Tolerance:
        """Return the limits of an error."""
        if key == "effective_length":
            return Tolerance(-self.length_limit_mm, self.length_limit_mm, "mm")
        return Tolerance(-self.zenith_limit_deg, self.zenith_limit_deg, "deg")


@dataclass(frozen=True)
class JudgedSetting:
    """What a gauge could show of one setting.

    Attributes
    ----------
    key : str
        ``"effective_length"`` or ``"zenith"``.
    perfect_deck : Verdict
        What it would say of a deck that is exactly on its target.
    share_shown : float
        Of all true values in tolerance, taken as equally likely, the share that it would show to be. [1]
    largest_uncertainty : float or None
        Standard uncertainty up to which a perfect deck would be shown in tolerance; None if its known error alone
        forbids it. [unit of the tolerance]
    dominated_by : str
        Joint that most of the variance comes from.
    dominating_share : float
        Its share. [1]
    """

    key: JudgedKey
    perfect_deck: Verdict
    share_shown: float
    largest_uncertainty: float | None
    dominated_by: str
    dominating_share: float

    @property
    def is_shown(self) -> bool:
        """Whether a perfect deck would be shown in tolerance."""
        return self.perfect_deck.outcome == IN_TOLERANCE

    def as_json(self) -> dict[str, Any]:
        """Return one object of plain JSON types."""
        verdict = self.perfect_deck
        return {
            "error": verdict.measured.as_json(),
            "tolerance": [verdict.tolerance.lower, verdict.tolerance.upper],
            "verdict_for_a_perfect_deck": verdict.outcome,
            "share_shown": self.share_shown,
            "largest_standard_uncertainty": self.largest_uncertainty,
            "dominated_by": self.dominated_by,
            "dominating_share": self.dominating_share,
        }


@dataclass(frozen=True, eq=False)
class GaugeAnswer:
    """One gauge against the target.

    Attributes
    ----------
    chain : GaugeChain
    found : ChainFigures
    length, zenith : JudgedSetting
    share_shown : float
        Of all set-ups in tolerance in both settings, the share that it would show to be. [1]
    answer : str
        Whether it is good enough, and why, in plain words.
    """

    chain: GaugeChain
    found: ChainFigures
    length: JudgedSetting
    zenith: JudgedSetting
    share_shown: float
    answer: str

    @property
    def is_good_enough(self) -> bool:
        """Whether it would show a perfect deck to be in tolerance."""
        return self.length.is_shown and self.zenith.is_shown

    def as_json(self) -> dict[str, Any]:
        """Return one object of plain JSON types."""
        return {
            "name": self.chain.name,
            "sets_by": self.chain.sets_by,
            "good_enough": self.is_good_enough,
            "answer": self.answer,
            "share_shown": self.share_shown,
            "effective_length": self.length.as_json(),
            "zenith": self.zenith.as_json(),
            "figures": {key: figure.as_json() for key, figure in self.found.figures.items()},
            "budget": [
                {"joint": line.joint, "length_share": line.length_share, "zenith_share": line.zenith_share}
                for line in self.found.budget
            ],
        }


@dataclass(frozen=True, eq=False)
class GaugeComparison:
    """Gauges against one target, the best first.

    Attributes
    ----------
    target : GaugeTarget
    ranked : tuple of GaugeAnswer
        By the share of set-ups in tolerance that each could show, then by the distortion that it lets through.
    """

    target: GaugeTarget
    ranked: tuple[GaugeAnswer, ...]

    def as_json(self) -> dict[str, Any]:
        """Return one object of plain JSON types."""
        targets = self.target.targets
        assert targets.effective_length is not None
        assert targets.overhang is not None
        assert targets.offset_angle is not None
        return {
            "pivot_to_spindle": targets.request.distance.as_json(),
            "effective_length": targets.effective_length.as_json(),
            "overhang": targets.overhang.as_json(),
            "offset_angle": targets.offset_angle.as_json(),
            "rule": self.target.rule.describe(),
            "draws": self.ranked[0].found.draws,
            "gauges": [answer.as_json() for answer in self.ranked],
        }


def compare_gauges(
    chains: Sequence[GaugeChain], target: GaugeTarget, *, draws: int = DRAWS, seed: int = SEED
) -> GaugeComparison:
    """Return gauges ranked by what they could show of a target.

    Parameters
    ----------
    chains : sequence of GaugeChain
        Each with its own name.
    target : GaugeTarget
    draws, seed : int
        Of the Monte Carlo; the same seed gives the same answer.

    Raises
    ------
    ValueError
        If there is no gauge, two have one name, or one cannot set this aim.
    """
    if not chains:
        raise ValueError("there is no gauge to compare; pick one or describe your own")
    names = [chain.name for chain in chains]
    for name in names:
        if names.count(name) > 1:
            raise ValueError(f"two gauges are named {name!r}; give every gauge its own name")
    answers = [judge_gauge(chain, target, draws=draws, seed=seed) for chain in chains]
    return GaugeComparison(target, ranked_answers(answers))


def ranked_answers(answers: Sequence[GaugeAnswer]) -> tuple[GaugeAnswer, ...]:
    """Return the answers of one target, the best gauge first."""
    return tuple(sorted(answers, key=_rank))


def _rank(answer: GaugeAnswer) -> tuple[bool, float, float]:
    # Shares are known to a thousandth or so by drawing; nearer than that, the smaller distortion comes first.
    return not answer.is_good_enough, -round(answer.share_shown, 3), answer.found.figures["peak_distortion"].interval[1]


def judge_gauge(chain: GaugeChain, target: GaugeTarget, *, draws: int = DRAWS, seed: int = SEED) -> GaugeAnswer:
    """Return whether one gauge is good enough for a target; parameters as for `compare_gauges`."""
    request = target.targets.request
    found = chain_figures(
        chain,
        target.aim,
        peak_velocity_cm_s=request.peak_velocity_cm_s,
        speed_rpm=request.speed_rpm,
        draws=draws,
        seed=seed,
    )
    length_zone, length = _judged("effective_length", found, target)
    zenith_zone, zenith = _judged("zenith", found, target)
    share = float(np.mean(length_zone * zenith_zone))
    return GaugeAnswer(chain, found, length, zenith, share, _answer((length, zenith), share))


def _judged(key: JudgedKey, found: ChainFigures, target: GaugeTarget) -> tuple[NDArray[np.float64], JudgedSetting]:
    """Return the share of true values in tolerance that each draw would show, and what follows for the setting."""
    by_length = key == "effective_length"
    errors = found.length_errors_mm if by_length else found.zenith_errors_deg
    figure = found.figures["effective_length_error" if by_length else "zenith_error"]
    tolerance, rule = target.tolerance(key), target.rule
    # The set-up is off by the gauge's error, so of a perfect deck the gauge says the opposite.
    off = -figure.mean

    def verdict(value: float, uncertainty: float) -> Verdict:
        read = Quantity.measured(value, tolerance.unit, standard_uncertainty=uncertainty, source="the gauge")
        return decide(read, tolerance, rule)

    perfect = verdict(off, figure.standard_uncertainty)
    zone = _zone(lambda value: verdict(value, figure.standard_uncertainty).outcome == IN_TOLERANCE, tolerance)
    shown = _shown(zone, errors, tolerance)
    worst = max(found.budget, key=lambda line: line.length_share if by_length else line.zenith_share)
    return shown, JudgedSetting(
        key=key,
        perfect_deck=perfect,
        share_shown=float(shown.mean()),
        largest_uncertainty=_largest(lambda u: verdict(off, u).outcome == IN_TOLERANCE, tolerance),
        dominated_by=worst.joint,
        dominating_share=worst.length_share if by_length else worst.zenith_share,
    )


def _zone(accepted: Callable[[float], bool], tolerance: Tolerance) -> float | None:
    """Return how far from the middle of the limits a reading may lie and still be in tolerance; None if nowhere."""
    if not accepted(0.0):
        return None
    assert tolerance.upper is not None
    return _last_that_holds(accepted, tolerance.upper)


def _largest(shown: Callable[[float], bool], tolerance: Tolerance) -> float | None:
    if not shown(0.0):
        return None
    assert tolerance.upper is not None
    return _last_that_holds(shown, 2 * tolerance.upper)


def _last_that_holds(holds: Callable[[float], bool], end: float) -> float:
    """Return the last number from 0 to `end` for which something holds that holds at 0 and once lost stays lost."""
    if holds(end):
        return end
    low, high = 0.0, end
    for _ in range(HALVINGS):
        middle = (low + high) / 2
        low, high = (middle, high) if holds(middle) else (low, middle)
    return low


def _shown(zone: float | None, errors: NDArray[np.float64], tolerance: Tolerance) -> NDArray[np.float64]:
    """Return, for each error of the gauge, the share of true values in tolerance whose reading falls in the zone."""
    if zone is None:
        return np.zeros(errors.size)
    assert tolerance.upper is not None
    limit = tolerance.upper
    low = np.maximum(-limit, errors - zone)
    high = np.minimum(limit, errors + zone)
    return np.asarray(np.maximum(high - low, 0.0) / (2 * limit))


def _answer(settings: Sequence[JudgedSetting], share: float) -> str:
    if all(setting.is_shown for setting in settings):
        return (
            "Good enough: it would show a perfect deck in tolerance, and of the set-ups that truly are it would show "
            f"{percent_text(share)}."
        )
    return " ".join(["Not good enough.", *(_why_not(setting) for setting in settings if not setting.is_shown)])


def _why_not(setting: JudgedSetting) -> str:
    verdict = setting.perfect_deck
    name, unit = (
        JUDGED[setting.key].capitalize(),
        "°" if verdict.tolerance.unit == "deg" else f" {verdict.tolerance.unit}",
    )
    limits = f"a perfect deck within ±{verdict.tolerance.upper:g}{unit}"
    if not setting.largest_uncertainty:
        off = f"{-verdict.measured.value:+.2g}{unit}"
        return f"{name}: what is known to be off and was left so, {off}, keeps it from showing {limits}."
    return (
        f"{name}: its standard uncertainty is {verdict.measured.standard_uncertainty:.2g}{unit}, and at most "
        f"{_rounded_down(setting.largest_uncertainty)}{unit} would show {limits}; {setting.dominated_by!r} makes "
        f"{percent_text(setting.dominating_share)} of its variance."
    )


def _rounded_down(figure: float) -> str:
    digits = 1 - math.floor(math.log10(figure))
    return f"{math.floor(figure * 10**digits) / 10**digits:.{max(digits, 0)}f}"


def percent_text(share: float) -> str:
    """Return a share in whole percent that is never rounded to none or to all of it.

    >>> percent_text(0.613), percent_text(0.002), percent_text(0.9999), percent_text(0.0)
    ('61 %', 'under 1 %', 'over 99 %', 'none')
    """
    if share <= 0:
        return "none"
    if share < 0.01:
        return "under 1 %"
    return "over 99 %" if 0.99 < share < 1 else f"{100 * share:.0f} %"
