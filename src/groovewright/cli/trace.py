"""`groovewright trace`: what an arc trace says of an arm."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from groovewright.cli.help_page import Command
from groovewright.cli.output import print_groups, print_json, quantity_text
from groovewright.cli.refusal import refusing
from groovewright.cli.values import PlainValue, distortion_options, geometry_options, json_option

if TYPE_CHECKING:
    from collections.abc import Iterator

    from groovewright.bench.estimate.groove import GrooveCourse, Interval
    from groovewright.bench.gauging.trace import TraceResult
    from groovewright.measurement.quantity import Quantity

ROW_STEP = 10


@click.command(cls=Command)
@click.argument("readings", metavar="FILE.csv", type=click.Path(path_type=Path))
@geometry_options
@click.option(
    "--arc",
    type=PlainValue("length", "222.5 mm"),
    help="Distance printed at the arc that was traced, if it is not the measured one.",
)
@click.option(
    "--shared-uncertainty",
    type=PlainValue("length", "0.05 mm"),
    help="Standard uncertainty that all readings beside the arc share, such as that of the printed radius.",
)
@distortion_options
@json_option
def trace(
    *,
    readings: Path,
    pivot_to_spindle: Quantity,
    criterion: str,
    groove_range: tuple[float, float],
    hold_effective_length: Quantity | None,
    hold_offset_angle: Quantity | None,
    arc: float | None,
    shared_uncertainty: float | None,
    peak_velocity: float,
    speed: float,
    as_json: bool,
) -> None:
    """Say what a traced arm does over the groove, and where its pivot and stylus stand.

    The file holds readings of the stylus beside the arc of a plate and, if there are any, of the cantilever at the
    nulls. They are joined with the measured pivot-to-spindle distance. docs/guide/arc-trace.md describes the file.

    Keep the platter still and lower the stylus with the lift: a stylus that slides or drops can break.

    For example:
      groovewright trace readings.csv --pivot-to-spindle "222.3 mm +- 0.3 mm"
    with no more than this in readings.csv:
      radius_mm,deviation_mm,deviation_uncertainty_mm
      60.5,0.10,0.1
      75,0.20,0.1
      90,0.20,0.1
      105,0.30,0.1
      120,0.25,0.1
      135,0.30,0.1
      146,0.20,0.1
    """
    from groovewright.bench.gauging.trace import trace_result
    from groovewright.bench.targets.target_request import TargetRequest
    from groovewright.files.trace_file import load_trace_file

    innermost_mm, outermost_mm = groove_range
    with refusing(ValueError):
        read = load_trace_file(readings)
    with refusing(ValueError):
        request = TargetRequest(
            pivot_to_spindle,
            criterion,
            innermost_mm,
            outermost_mm,
            hold_effective_length=hold_effective_length,
            hold_offset_angle=hold_offset_angle,
            peak_velocity_cm_s=peak_velocity,
            speed_rpm=speed,
        )
    with refusing(ValueError):
        result = trace_result(
            request,
            read.arc_readings,
            read.null_readings,
            arc_mm=arc,
            shared_uncertainty_mm=shared_uncertainty or 0.0,
        )
    if as_json:
        print_json(result.as_json())
        return
    groups = [
        ("", _consequence_rows(result)),
        ("Over the groove, with 95 % intervals", _curve_rows(result.groove)),
        ("How the arm stands", _coordinate_rows(result)),
    ]
    print_groups(result.describe(), groups, (result.cannot_tell, *result.notes))


def _consequence_rows(result: TraceResult) -> list[tuple[str, str]]:
    found = result.groove
    return [
        ("peak tracking error", _interval_text(found.peak_tracking_error)),
        ("peak distortion", _interval_text(found.peak_distortion)),
        ("rms distortion", _interval_text(found.rms_distortion)),
    ]


def _interval_text(interval: Interval) -> str:
    unit = {"deg": "°", "%": " %"}[interval.unit]
    if interval.low is None or interval.high is None:
        return f"{interval.value:.2f}{unit} (interval not known)"
    return f"{interval.value:.2f}{unit} ({interval.low:.2f} to {interval.high:.2f})"


def _curve_rows(curves: GrooveCourse) -> Iterator[tuple[str, str]]:
    for k in range(0, curves.radius_mm.size, ROW_STEP):
        error, harmonic = f"{curves.tracking_error_deg[k]:+.2f}°", f"{curves.distortion_percent[k]:.2f} %"
        if not curves.why_unknown:
            error += f" ({curves.tracking_error_low_deg[k]:+.2f} to {curves.tracking_error_high_deg[k]:+.2f})"
            harmonic += f" ({curves.distortion_low_percent[k]:.2f} to {curves.distortion_high_percent[k]:.2f})"
        yield f"{curves.radius_mm[k]:.1f} mm", f"{error}   {harmonic}"


def _coordinate_rows(result: TraceResult) -> list[tuple[str, str]]:
    read = result.offset_angle_is_read
    return [
        ("effective length less its target", quantity_text(result.effective_length_error)),
        ("offset angle less its target", quantity_text(result.offset_angle_error) if read else "not read"),
        ("effective length", quantity_text(result.effective_length)),
        ("pivot-to-spindle distance", quantity_text(result.pivot_to_spindle)),
        ("overhang", quantity_text(result.overhang)),
        ("offset angle", quantity_text(result.offset_angle) if read else "not read"),
        ("plate turned from the pivot", quantity_text(result.trace.plate_turn)),
        ("correlation of length with distance", f"{result.correlation:.4f}"),
    ]
