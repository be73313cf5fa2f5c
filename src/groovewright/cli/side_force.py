"""`groovewright side-force`: what is left of the side force over the groove."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from groovewright.cli.help_page import Command
from groovewright.cli.output import print_columns, print_groups, print_json, probability_text, quantity_text
from groovewright.cli.refusal import Refusal, refusing
from groovewright.cli.values import CoefficientValue, PlainValue, QuantityValue, RangeValue, json_option

if TYPE_CHECKING:
    from groovewright.bench.forces.side_force import BearingFriction, GivenCompensation, ReadAt, SideForceResult
    from groovewright.measurement.quantity import Quantity

ROWS_SHOWN = 7


class RowValue(click.ParamType[Any]):
    """A groove radius and a force, with a colon between."""

    name = "radius:force"
    example = '"60 mm: 1.9 mN +- 0.1 mN"'

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> tuple[float, Quantity]:
        """Return the radius [mm] and the force [mN]."""
        if isinstance(value, tuple):
            return value
        radius, colon, force = value.partition(":")
        if not colon:
            self.fail(f'"{value}" has no colon; write radius and force like {self.example}', param, ctx)
        radius_mm = PlainValue("length", "60 mm").convert(radius, param, ctx)
        source = f"compensation at {radius_mm:g} mm as given"
        return radius_mm, QuantityValue("force", source, "1.9 mN").convert(force, param, ctx)


def _given(kind: str, name: str, example: str) -> QuantityValue:
    return QuantityValue(kind, f"{name} as given", example)


@click.command(cls=Command)
@click.option(
    "--pivot-to-spindle",
    type=_given("length", "pivot-to-spindle distance", "222 mm"),
    required=True,
    help="Centre of the spindle to the arm's pivot.",
)
@click.option(
    "--effective-length",
    type=_given("length", "effective length", "239.3 mm"),
    help="Pivot to stylus as it stands; if not given, the minimax target for the distance.",
)
@click.option(
    "--groove-range",
    type=RangeValue(),
    default="60.325:146.05",
    show_default=True,
    help="Innermost and outermost groove radius in mm.",
)
@click.option(
    "--tracking-force",
    type=_given("force", "tracking force", "1.8 g"),
    required=True,
    help="At record height.",
)
@click.option(
    "--friction-coefficient",
    type=CoefficientValue("friction coefficient as given", "0.3 +- 0.05"),
    help="Of stylus and groove; if neither it nor a reading is given, 0.2 to 0.4 (common practice, no source).",
)
@click.option(
    "--compensation",
    type=_given("force", "compensation", "1.9 mN"),
    help="The same at every radius, as a force at the stylus; 0mN if it is off.",
)
@click.option(
    "--compensation-at",
    type=RowValue(),
    multiple=True,
    help=f"One radius and the compensation read there, like {RowValue.example}; give it for each radius.",
)
@click.option("--thread-weight", type=_given("mass", "mass of the weight", "2.5 g"), help="Weight on a thread.")
@click.option(
    "--thread-lever",
    type=_given("length", "lever of the thread", "20 mm"),
    help="The arm's vertical axis to the thread's end on the arm.",
)
@click.option(
    "--thread-lever-angle",
    type=_given("angle", "angle of the lever", "-90 deg"),
    help="The thread's end from the line pivot-stylus, seen from above, growing outward.",
)
@click.option(
    "--guide-distance",
    type=_given("length", "distance of the guide", "40 mm"),
    help="The arm's vertical axis to the guide over which the thread hangs.",
)
@click.option(
    "--guide-angle",
    type=_given("angle", "angle of the guide", "5 deg"),
    help="The guide from the line pivot-spindle, seen from above, growing outward.",
)
@click.option(
    "--guide-height",
    type=_given("length", "height of the guide", "0 mm"),
    help="The guide above the thread's end; level if not given.",
)
@click.option(
    "--starts-outward",
    type=_given("force", "force at start outward", "0.3 mN"),
    help="Push at the stylus at which the floating arm starts outward, compensation off.",
)
@click.option(
    "--starts-inward",
    type=_given("force", "force at start inward", "0.2 mN"),
    help="The same inward; both together give the bearings' friction.",
)
@click.option(
    "--rest",
    type=_given("force", "reading of the side force left over", "0.4 mN"),
    help="Side force left over, read in the turning groove, inward positive; gives the friction coefficient.",
)
@click.option("--rest-radius", type=PlainValue("length", "100 mm"), help="Groove radius of that reading.")
@click.option(
    "--ladder-left",
    type=_given("velocity", "level at which the left channel breaks down", "22 cm/s"),
    help="Level at which the left channel breaks down in a capture; with the right, another way to the coefficient.",
)
@click.option(
    "--ladder-right",
    type=_given("velocity", "level at which the right channel breaks down", "20 cm/s"),
    help="The same of the right channel.",
)
@click.option("--ladder-radius", type=PlainValue("length", "100 mm"), help="Groove radius of the ladder.")
@click.option(
    "--limit",
    type=PlainValue("force", "0.9 mN"),
    help="Side force that may be left over, either way; if not given, 5 % of the tracking force (common practice, no "
    "source).",
)
@json_option
def side_force(*, as_json: bool, **given: Any) -> None:
    """Give the side force over the groove, what its compensation leaves over, and one verdict for all of the groove.

    Reported is the force at the stylus square to the line pivot-stylus, mu N sin(groove angle): the sin form. Positive
    pulls toward the spindle. Compensation near 10 % of the tracking force is common practice, no source; here it
    follows from geometry and friction. More tracking force is never a remedy for mistracking.

    For example:
      groovewright side-force --pivot-to-spindle 222mm --tracking-force 1.8g
      groovewright side-force --pivot-to-spindle 222mm --tracking-force 1.8g --compensation "2.1 mN +- 0.1 mN"
      groovewright side-force --pivot-to-spindle 222mm --tracking-force 1.8g --compensation 0mN --limit 0.9mN --json
    """
    from groovewright.bench.forces.side_force import SideForceRequest, bearing_friction, side_force_result
    from groovewright.measurement.conformity import DecisionRule

    _need_together(given, "starts_outward", "starts_inward")
    length = given["effective_length"] or _target_length(given)
    compensation = _compensation(given)
    bearings = None
    if given["starts_outward"] is not None:
        with refusing(ValueError):
            bearings = bearing_friction(outward=given["starts_outward"], inward=given["starts_inward"])
    coefficient = _friction_coefficient(given, length, compensation, bearings)
    innermost_mm, outermost_mm = given["groove_range"]
    with refusing(ValueError):
        result = side_force_result(
            SideForceRequest(
                pivot_to_spindle=given["pivot_to_spindle"],
                effective_length=length,
                tracking_force=given["tracking_force"],
                friction_coefficient=coefficient,
                innermost_mm=innermost_mm,
                outermost_mm=outermost_mm,
                compensation=compensation,
                stray_force=None if bearings is None else bearings.stray_force,
                bearing_friction=None if bearings is None else bearings.friction,
                limit_mn=given["limit"],
            ),
            DecisionRule.of_maximum_risk(0.05),
        )
    notes = [*result.notes, *(bearings.notes if bearings else ()), *_how(coefficient)]
    if as_json:
        print_json(result.as_json() | {"notes": notes})
        return
    print_groups("Side force over the groove, sin form", _groups(result))
    print_columns("Over the groove in mN, inward positive; loads of the outer and inner wall", *_columns(result), notes)


def _need_together(given: dict[str, Any], *names: str) -> bool:
    """Return whether options that only make sense together are there; refuse some without the others."""
    missing = [name for name in names if given[name] is None]
    if missing and len(missing) < len(names):
        there = next(name for name in names if name not in missing)
        wanted = " and ".join(_option(name) for name in missing)
        raise Refusal(f"{_option(there)} needs {wanted} beside it")
    return not missing


def _option(name: str) -> str:
    return "--" + name.replace("_", "-")


def _target_length(given: dict[str, Any]) -> Quantity:
    from groovewright.bench.targets.targets import TargetRequest, choose_targets

    innermost_mm, outermost_mm = given["groove_range"]
    with refusing(ValueError):
        targets = choose_targets(TargetRequest(given["pivot_to_spindle"], "minimax", innermost_mm, outermost_mm))
    assert targets.effective_length is not None
    return targets.effective_length


THREAD = ("thread_weight", "thread_lever", "thread_lever_angle", "guide_distance", "guide_angle")


def _compensation(given: dict[str, Any]) -> GivenCompensation | None:
    from groovewright.bench.forces.side_force import GivenConstant, GivenTable, GivenThread
    from groovewright.measurement.quantity import Quantity

    hung = _need_together(given, *THREAD)
    if given["guide_height"] is not None and not hung:
        raise Refusal(
            "--guide-height belongs to a weight on a thread; give --thread-weight and its other dimensions too"
        )
    ways = [given["compensation"] is not None, bool(given["compensation_at"]), hung]
    if sum(ways) > 1:
        raise Refusal(
            "the compensation is given in two ways; give --compensation, --compensation-at or a weight on a thread"
        )
    if given["compensation"] is not None:
        return GivenConstant(given["compensation"])
    if given["compensation_at"]:
        radii_mm, forces = zip(*given["compensation_at"], strict=True)
        return GivenTable(radii_mm, forces)
    if not hung:
        return None
    height = given["guide_height"] or Quantity.exact(0.0, "mm", how="level with the thread's end")
    return GivenThread(
        weight_mass=given["thread_weight"],
        lever=given["thread_lever"],
        lever_angle=given["thread_lever_angle"],
        guide_distance=given["guide_distance"],
        guide_angle=given["guide_angle"],
        guide_height=height,
    )


def _friction_coefficient(
    given: dict[str, Any],
    length: Quantity,
    compensation: GivenCompensation | None,
    bearings: BearingFriction | None,
) -> Quantity:
    from groovewright.bench.forces.side_force import (
        friction_coefficient_from_levels,
        friction_coefficient_from_rest,
        usual_friction_coefficient,
    )

    by_rest = _need_together(given, "rest", "rest_radius")
    by_ladder = _need_together(given, "ladder_left", "ladder_right", "ladder_radius")
    if sum((by_rest, by_ladder, given["friction_coefficient"] is not None)) > 1:
        raise Refusal("the friction coefficient is given in two ways; give it, a reading of the rest, or a ladder")
    if not (by_rest or by_ladder):
        return given["friction_coefficient"] or usual_friction_coefficient()
    if compensation is None:
        raise Refusal(
            "a friction coefficient needs the compensation under which the reading was made; give --compensation 0mN "
            "if it was off"
        )
    where = _read_at(given, given["rest_radius"] or given["ladder_radius"], length, compensation, bearings)
    with refusing(ValueError):
        if by_rest:
            return friction_coefficient_from_rest(given["rest"], where)
        return friction_coefficient_from_levels(left=given["ladder_left"], right=given["ladder_right"], where=where)


def _read_at(
    given: dict[str, Any],
    radius_mm: float,
    length: Quantity,
    compensation: GivenCompensation,
    bearings: BearingFriction | None,
) -> ReadAt:
    from groovewright.bench.forces.side_force import ReadAt, compensation_at

    distance = given["pivot_to_spindle"]
    with refusing(ValueError):
        there = compensation_at(compensation, radius_mm, pivot_to_spindle=distance, effective_length=length)
    with refusing(ValueError):
        return ReadAt(
            radius_mm,
            pivot_to_spindle=distance,
            effective_length=length,
            tracking_force=given["tracking_force"],
            compensation=there,
            bearing_friction=None if bearings is None else bearings.friction,
            stray_force=None if bearings is None else bearings.stray_force,
        )


def _how(coefficient: Quantity) -> list[str]:
    from groovewright.bench.forces.side_force import LADDER_ASSUMPTION

    return [f"The friction coefficient: {LADDER_ASSUMPTION}"] if coefficient.how == LADDER_ASSUMPTION else []


def _groups(result: SideForceResult) -> list[tuple[str, list[tuple[str, str]]]]:
    from groovewright.measurement.quantity import Quantity

    request, verdict = result.request, result.verdict
    rows = [
        ("pivot-to-spindle distance", quantity_text(request.pivot_to_spindle)),
        ("effective length", quantity_text(request.effective_length)),
        ("tracking force", quantity_text(request.tracking_force)),
        ("friction coefficient", quantity_text(request.friction_coefficient)),
    ]
    if request.bearing_friction is not None and request.stray_force is not None:
        rows.append(("bearings' friction, either way", quantity_text(request.bearing_friction)))
        rows.append(("stray force, inward positive", quantity_text(request.stray_force)))
    rows += [
        (f"side force at {result.middle.radius_mm:.4g} mm", quantity_text(result.middle.side_force)),
        ("constant compensation that balances best", quantity_text(result.balancing_compensation)),
        ("that over the tracking force", quantity_text(result.share_of_tracking_force)),
    ]
    if verdict is None:
        return [("", [*rows, ("verdict", "none, as no compensation is given")])]
    judged = [
        ("change of compensation that balances best", quantity_text(result.change)),
        ("may be left over, either way", quantity_text(Quantity.exact(request.limit, "mN"))),
        ("verdict", verdict.outcome),
        ("probability of conformity", probability_text(verdict.probability_of_conformity)),
        ("why", verdict.reason),
        ("rule", verdict.rule.describe()),
    ]
    return [("", [*rows, *judged])]


def _columns(result: SideForceResult) -> tuple[list[str], list[list[str]]]:
    """Return the names of the columns and a row for each of a few radii."""
    groove = result.groove
    shown = [groove[round(k * (len(groove) - 1) / (ROWS_SHOWN - 1))] for k in range(ROWS_SHOWN)]
    if result.verdict is None:
        return ["mm", "side force"], [[f"{at.radius_mm:.1f}", _bare(at.side_force)] for at in shown]
    names = ["mm", "side force", "compensation", "rest", "rest, 95 %", "outer", "inner"]
    return names, [
        [
            f"{at.radius_mm:.1f}",
            *(_bare(force) for force in (at.side_force, at.compensation)),
            "" if at.rest is None else f"{at.rest.value:+.2f}",
            "not known" if at.interval_mn is None else f"{at.interval_mn[0]:+.2f} to {at.interval_mn[1]:+.2f}",
            *("" if load is None else f"{load.value:.2f}" for load in (at.outer_wall, at.inner_wall)),
        ]
        for at in shown
    ]


def _bare(force: Quantity | None) -> str:
    from groovewright.measurement.formatting import split_quantity

    if force is None:
        return ""
    if not force.standard_uncertainty:
        return f"{force.value:.2f}"
    value, uncertainty, _ = split_quantity(force)
    return f"{value} ± {uncertainty}"
