"""What the gauges' page shows of a comparison: ranked rows, stacks in words, and the budget of each gauge."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

from groovewright.bench.gauging.gauge_comparison import (
    SEED,
    GaugeAnswer,
    GaugeTarget,
    judge_gauge,
    percent_text,
    ranked_answers,
)
from groovewright.bench.targets.target_curves import curves
from groovewright.files.chain_sheet import chain_sheet_text
from groovewright.gauges.chain_figures import CURVE_POINTS, Figure
from groovewright.gauges.gauge_chain import SETS_BY, GaugeChain
from groovewright.report.layout import minus
from groovewright.web.gauges_page.curves_figure import DASHES, GaugeCurve, gauge_curves_figure

DRAWS = 20_000
"""A share is then known to 0.3 %, and a gauge takes some 30 ms."""
ANSWERS_REMEMBERED = 64
SMALLEST_BAR = 0.005

judged = lru_cache(maxsize=ANSWERS_REMEMBERED)(judge_gauge)


@dataclass(frozen=True)
class StackRow:
    """One figure of a gauge by the three ways, in words."""

    title: str
    worst_case: str
    root_sum_square: str
    interval: str


@dataclass(frozen=True)
class BudgetRow:
    """What one joint is to blame for: shares in words, and the widths of their bars in percent."""

    joint: str
    length: str
    length_width: float
    zenith: str
    zenith_width: float


@dataclass(frozen=True)
class ShownGauge:
    """A gauge as the page shows it."""

    key: str
    place: int
    look: int
    answer: GaugeAnswer
    sets_by: str
    share: str
    stacks: tuple[StackRow, ...]
    budget: tuple[BudgetRow, ...]
    sheet: str

    @property
    def dash(self) -> str:
        """Pattern of its curves."""
        return DASHES[self.look - 1].replace("px", "")


def compared(chains: Mapping[str, GaugeChain], target: GaugeTarget, looks: Mapping[str, int]) -> dict[str, Any]:
    """Return the template context of a comparison.

    Parameters
    ----------
    chains : mapping of str to GaugeChain
        By key, such as ``"beam"`` or ``"own"``.
    target : GaugeTarget
    looks : mapping of str to int
        Number of each key's colour and pattern, so that a gauge keeps its look wherever it is ranked.

    Raises
    ------
    ValueError
        If a gauge cannot set this aim.
    """
    answers = {key: judged(chain, target, draws=DRAWS, seed=SEED) for key, chain in chains.items()}
    keys = {answer.chain.name: key for key, answer in answers.items()}
    gauges = [
        _shown_gauge(keys[answer.chain.name], place, answer, looks)
        for place, answer in enumerate(ranked_answers(tuple(answers.values())), start=1)
    ]
    return {"gauges": gauges, "figure": _figure(gauges, target), "rule": target.rule.describe(), "target": target}


def _shown_gauge(key: str, place: int, answer: GaugeAnswer, looks: Mapping[str, int]) -> ShownGauge:
    return ShownGauge(
        key=key,
        place=place,
        look=looks[key],
        answer=answer,
        sets_by=SETS_BY[answer.chain.sets_by],
        share=percent_text(answer.share_shown),
        stacks=tuple(_stack_row(figure) for figure in answer.found.figures.values()),
        budget=tuple(
            BudgetRow(
                line.joint,
                percent_text(line.length_share),
                _width(line.length_share),
                percent_text(line.zenith_share),
                _width(line.zenith_share),
            )
            for line in answer.found.budget
        ),
        sheet=chain_sheet_text(answer.chain),
    )


def _width(share: float) -> float:
    return round(100 * share, 1) if share >= SMALLEST_BAR else 0.0


def _stack_row(figure: Figure) -> StackRow:
    ways = (figure.worst_case, figure.root_sum_square, figure.interval)
    return StackRow(figure.title, *(_ends(figure, *way) for way in ways))


def _ends(figure: Figure, low: float | None, high: float) -> str:
    unit = "°" if figure.unit == "deg" else f" {figure.unit}"
    if low is None:
        return f"up to {high:.2f}{unit}"
    sign = "" if figure.title == "Overhang" else "+"
    return minus(f"{low:{sign}.2f} to {high:{sign}.2f}{unit}")


def _figure(gauges: list[ShownGauge], target: GaugeTarget) -> dict[str, Any]:
    request = target.targets.request
    aim = curves(target.targets, request.innermost_mm, request.outermost_mm, CURVE_POINTS)
    shown = sorted(gauges, key=lambda gauge: gauge.look)
    return gauge_curves_figure(
        [GaugeCurve(gauge.answer.chain.name, gauge.look, gauge.answer.found.curves) for gauge in shown], aim
    )
