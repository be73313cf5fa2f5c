"""`groovewright stack`: gauges as chains of joints, compared."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from groovewright.cli.help_page import Command
from groovewright.cli.output import print_columns, print_groups, print_json, quantity_text
from groovewright.cli.refusal import Refusal, refusing
from groovewright.cli.values import (
    CRITERION_KEYS,
    PlainValue,
    QuantityValue,
    RangeValue,
    json_option,
)

if TYPE_CHECKING:
    from groovewright.bench.gauging.gauge_comparison import GaugeAnswer, GaugeComparison, JudgedSetting
    from groovewright.gauges.chain_figures import Figure
    from groovewright.gauges.gauge_chain import GaugeChain

READY = ("single-point", "beam", "arc-trace", "two-null-plate")
MOST_CHAINS = 20


@click.command(cls=Command)
@click.argument("sheets", metavar="[CHAIN.toml]...", nargs=-1, type=click.Path(path_type=Path))
@click.option("--ready", type=click.Choice(READY), multiple=True, help="A gauge that is ready, beside the files.")
@click.option(
    "--pivot-to-spindle",
    type=QuantityValue("length", "pivot-to-spindle distance as given", "222 mm"),
    default="222 mm",
    show_default=True,
    help="Of the arm that is set; gauges differ little between arms of like length.",
)
@click.option(
    "--criterion",
    type=click.Choice(CRITERION_KEYS),
    default="minimax",
    show_default=True,
    help="What the target makes as small as it can be.",
)
@click.option(
    "--groove-range",
    type=RangeValue(),
    default="60.325:146.05",
    show_default=True,
    help="Innermost and outermost groove radius in mm.",
)
@click.option(
    "--length-limit",
    type=PlainValue("length", "0.5 mm"),
    default=0.5,
    help='How far the effective length may be off, either way; "0.5 mm" if not given (common practice, no source).',
)
@click.option(
    "--zenith-limit",
    type=PlainValue("angle", "0.5 deg"),
    default=0.5,
    help='The same for the offset angle; "0.5 deg" if not given (common practice, no source).',
)
@click.option(
    "--draws", type=click.IntRange(1000, 10_000_000), default=200_000, show_default=True, help="Draws a gauge."
)
@click.option("--seed", type=click.IntRange(0), default=1, show_default=True, help="The same seed, the same draws.")
@json_option
def stack(*, sheets: tuple[Path, ...], ready: tuple[str, ...], as_json: bool, **given: Any) -> None:
    """Compare gauges: what the play of their joints makes of the set-up, and which is good enough for the target.

    Every file describes one gauge as a chain of joints; docs/guide/gauge-chains.md describes every entry. Joints are
    stacked by worst case, by root sum square, and by drawing them at random through the true geometry. A gauge is good
    enough if it would show a perfect deck in tolerance.

    For example:
      groovewright stack --ready beam --ready arc-trace
      groovewright stack beam.toml --ready single-point --length-limit 0.3mm
    with no more than this in beam.toml:
      name = "Own beam"
      sets_by = "mark"
      mark = "overhang"
      [[joints]]
      name = "Pointer on the pivot"
      clearance = "0.4 mm"
      bears_on = "effective_length"
      [[joints]]
      name = "Cantilever along the lines, by eye"
      standard_uncertainty = "0.2 deg"
      bears_on = "offset_angle"
    """
    from groovewright.bench.gauging.gauge_comparison import GaugeTarget, compare_gauges
    from groovewright.bench.targets.targets import TargetRequest, choose_targets

    chains = _chains(sheets, ready)
    innermost_mm, outermost_mm = given["groove_range"]
    with refusing(ValueError):
        targets = choose_targets(
            TargetRequest(given["pivot_to_spindle"], given["criterion"], innermost_mm, outermost_mm)
        )
    with refusing(ValueError):
        compared = compare_gauges(
            chains,
            GaugeTarget(targets, given["length_limit"], given["zenith_limit"]),
            draws=given["draws"],
            seed=given["seed"],
        )
    if as_json:
        print_json(compared.as_json())
        return
    _print(compared)


def _chains(sheets: tuple[Path, ...], ready: tuple[str, ...]) -> list[GaugeChain]:
    from groovewright.files.chain_sheet import load_chain_sheet
    from groovewright.gauges.ready_chains import READY_CHAINS

    if not sheets and not ready:
        raise Refusal(f"there is no gauge to stack; name a chain sheet, or --ready with one of {', '.join(READY)}")
    if len(sheets) + len(ready) > MOST_CHAINS:
        raise Refusal(f"{len(sheets) + len(ready)} gauges are too many to compare; at most {MOST_CHAINS} are taken")
    chains = [READY_CHAINS[key] for key in dict.fromkeys(ready)]
    for path in sheets:
        with refusing(ValueError):
            chains.append(load_chain_sheet(path))
    return chains


def _print(compared: GaugeComparison) -> None:
    targets = compared.target.targets
    assert targets.effective_length is not None
    rows = [
        ("pivot-to-spindle distance", quantity_text(targets.request.distance)),
        ("effective length, target", quantity_text(targets.effective_length)),
        ("offset angle, target", quantity_text(targets.offset_angle)),
        ("effective length may be off by", f"±{compared.target.length_limit_mm:g} mm"),
        ("zenith may be off by", f"±{compared.target.zenith_limit_deg:g}°"),
        ("rule", compared.target.rule.describe()),
    ]
    groups = [("", rows)]
    groups += [(f"{place}. {answer.chain.name}", _rows(answer)) for place, answer in enumerate(compared.ranked, 1)]
    print_groups("Gauges compared, the best first", groups)
    for answer in compared.ranked:
        names = ["", "worst case", "root sum square", "95 % of draws"]
        print_columns(answer.chain.name, names, [_columns(figure) for figure in answer.found.figures.values()])


def _rows(answer: GaugeAnswer) -> list[tuple[str, str]]:
    from groovewright.bench.gauging.gauge_comparison import percent_text

    return [
        ("answer", answer.answer),
        ("set-ups in tolerance that it would show", percent_text(answer.share_shown)),
        ("effective length", _setting(answer.length)),
        ("zenith", _setting(answer.zenith)),
    ]


def _setting(setting: JudgedSetting) -> str:
    from groovewright.bench.gauging.gauge_comparison import percent_text

    verdict = setting.perfect_deck
    return (
        f"{quantity_text(verdict.measured)} for a perfect deck: {verdict.outcome}; it would show "
        f"{percent_text(setting.share_shown)}; {setting.dominated_by!r} makes "
        f"{percent_text(setting.dominating_share)} of the variance"
    )


def _columns(figure: Figure) -> list[str]:
    unit = "°" if figure.unit == "deg" else f" {figure.unit}"
    ways = (figure.worst_case, figure.root_sum_square, figure.interval)
    # An overhang is what it is; an error has a sign.
    sign = "" if figure.title == "Overhang" else "+"
    return [figure.title, *(_ends(low, high, unit, sign) for low, high in ways)]


def _ends(low: float | None, high: float, unit: str, sign: str) -> str:
    return f"up to {high:.2f}{unit}" if low is None else f"{low:{sign}.2f} to {high:{sign}.2f}{unit}"
