"""`groovewright align`: the geometry to aim for."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from groovewright.cli.help_page import Command
from groovewright.cli.output import print_json, print_table, quantity_text
from groovewright.cli.refusal import refusing
from groovewright.cli.values import distortion_options, geometry_options, json_option

if TYPE_CHECKING:
    from groovewright.bench.targets.targets import Targets
    from groovewright.measurement.quantity import Quantity


@click.command(cls=Command)
@geometry_options
@distortion_options
@json_option
def align(
    *,
    pivot_to_spindle: Quantity,
    criterion: str,
    groove_range: tuple[float, float],
    hold_effective_length: Quantity | None,
    hold_offset_angle: Quantity | None,
    peak_velocity: float,
    speed: float,
    as_json: bool,
) -> None:
    """Give effective length, overhang and offset angle for a measured pivot-to-spindle distance.

    An uncertainty of the distance is carried through to all that follows from it. Distortion is the second
    harmonic in percent over the groove range.

    For example:
      groovewright align --pivot-to-spindle "222 mm +- 0.3 mm"
      groovewright align --pivot-to-spindle 222mm --criterion exact-rms --groove-range 57.5:146.3
      groovewright align --pivot-to-spindle 222mm --hold-offset-angle 23deg --json
    """
    from groovewright.bench.targets.targets import TargetRequest, choose_targets

    innermost_mm, outermost_mm = groove_range
    with refusing(ValueError):
        targets = choose_targets(
            TargetRequest(
                pivot_to_spindle,
                criterion,
                innermost_mm,
                outermost_mm,
                hold_effective_length=hold_effective_length,
                hold_offset_angle=hold_offset_angle,
                peak_velocity_cm_s=peak_velocity,
                speed_rpm=speed,
            )
        )
    if as_json:
        print_json(targets.as_json() | _conditions(targets))
        return
    print_table(_title(targets), _rows(targets), targets.notes)


def _conditions(targets: Targets) -> dict[str, object]:
    from groovewright.measurement.quantity import Quantity

    request = targets.request
    return {
        "groove_range": [Quantity.exact(end, "mm").as_json() for end in (request.innermost_mm, request.outermost_mm)],
        "peak_velocity": Quantity.exact(request.peak_velocity_cm_s, "cm/s").as_json(),
        "speed": Quantity.exact(request.speed_rpm, "rpm").as_json(),
    }


def _title(targets: Targets) -> str:
    from groovewright.tonearm.criteria import CRITERIA

    request = targets.request
    return (
        f"{CRITERIA[request.criterion].label}, grooves {request.innermost_mm:g} to {request.outermost_mm:g} mm, "
        f"{request.peak_velocity_cm_s:g} cm/s at {request.speed_rpm:.5g} rpm"
    )


def _rows(targets: Targets) -> list[tuple[str, str]]:
    return [
        ("pivot-to-spindle distance", quantity_text(targets.request.pivot_to_spindle)),
        ("effective length", quantity_text(targets.effective_length)),
        ("overhang", quantity_text(targets.overhang)),
        ("offset angle", quantity_text(targets.offset_angle)),
        ("linear offset", quantity_text(targets.linear_offset)),
        *(("null radius", quantity_text(radius)) for radius in targets.null_radii),
        ("peak tracking error", quantity_text(targets.peak_tracking_error)),
        ("peak distortion", quantity_text(targets.peak_distortion)),
        ("rms distortion", quantity_text(targets.rms_distortion)),
    ]
