"""`groovewright capture`: what a recording of a test record says of the deck."""

from __future__ import annotations

import os
from pathlib import Path
from typing import TYPE_CHECKING

import click

from groovewright.cli.capture_files import (
    CaptureOptions,
    analysed,
    as_csv,
    capture_files,
    json_line,
    print_side_by_side,
    quantity_rows,
)
from groovewright.cli.help_page import Command
from groovewright.cli.output import print_groups, print_json, write_file
from groovewright.cli.progress import progress_bar
from groovewright.cli.refusal import Refusal, refusing
from groovewright.cli.values import json_option, optional_geometry_options

if TYPE_CHECKING:
    from groovewright.measurement.quantity import Quantity
    from groovewright.testtone.capture.capture_result import CaptureResult
    from groovewright.testtone.capture.capture_task import TargetShift
    from groovewright.tonearm.geometry import Geometry


@click.command(cls=Command)
@click.argument("recordings", metavar="FILE...", nargs=-1, required=True, type=click.Path(path_type=Path))
@click.option(
    "--bands",
    "sheet_path",
    metavar="SHEET.toml",
    type=click.Path(path_type=Path),
    required=True,
    help="Band sheet: what was cut on the record, band by band.",
)
@optional_geometry_options
@click.option(
    "--noise-weighting",
    metavar="TABLE",
    type=click.Path(path_type=Path),
    help="Text of frequencies and levels; the noise is then given through it too.",
)
@click.option(
    "--level-uncertainty",
    type=click.FloatRange(min=0, max=6),
    default=0.5,
    show_default=True,
    help="Standard uncertainty in dB of the peak velocities on the sheet, one error common to all.",
)
@click.option(
    "--csv",
    "csv_path",
    metavar="FILE.csv",
    type=click.Path(path_type=Path),
    help="Write every quantity of every recording there too, one line each.",
)
@click.option(
    "--workers",
    type=click.IntRange(min=1, max=64),
    help="Processes for several recordings; as many as there are processors if not given.",
)
@json_option
def capture(
    *,
    recordings: tuple[Path, ...],
    sheet_path: Path,
    pivot_to_spindle: Quantity | None,
    criterion: str,
    groove_range: tuple[float, float],
    hold_effective_length: Quantity | None,
    hold_offset_angle: Quantity | None,
    noise_weighting: Path | None,
    level_uncertainty: float,
    csv_path: Path | None,
    workers: int | None,
    as_json: bool,
) -> None:
    """Measure a deck from the recording of a test record: speed, channels, tracking, resonance and noise.

    FILE is WAV, RF64, FLAC or AIFF with 32 to 192 kHz. The band sheet says what was cut on the record;
    docs/guide/band-sheet.md describes it. A quantity that the sheet gives no bands for is left out. Tracking error
    needs the geometry that the arm should have, so give --pivot-to-spindle for it.

    Several recordings by one sheet are shown side by side, or as JSON lines with --json. One that cannot be used is
    named on stderr, the others go on, and the exit code is 2.

    For example:
      groovewright capture side-a.wav --bands record.toml
      groovewright capture side-a.wav --bands record.toml --pivot-to-spindle "222 mm +- 0.3 mm" --json
    """
    from groovewright.files.sheet_file import load_sheet
    from groovewright.testtone.noise.weighting_table import read_weighting_table
    from groovewright.testtone.sheet.band_sheet import read_band_sheet

    # Sheets that cannot be used are refused before any recording is read.
    with refusing(ValueError):
        load_sheet(sheet_path, read_band_sheet, what="a band sheet")
        if noise_weighting is not None:
            name = noise_weighting.stem
            load_sheet(noise_weighting, lambda text: read_weighting_table(text, name=name), what="a weighting table")
    geometry, shift = None, None
    if pivot_to_spindle is not None:
        geometry, shift = _target(pivot_to_spindle, criterion, groove_range, hold_effective_length, hold_offset_angle)
    options = CaptureOptions(sheet_path, geometry, shift, noise_weighting, level_uncertainty)
    if len(recordings) == 1 and csv_path is None:
        _one(recordings[0], options, as_json=as_json)
    else:
        _several(recordings, options, workers=workers, csv_path=csv_path, as_json=as_json)


def _one(recording: Path, options: CaptureOptions, *, as_json: bool) -> None:
    with progress_bar() as report, refusing(ValueError, OSError):
        result = analysed(recording, options, report)
    if as_json:
        print_json(result.as_json())
        return
    print_groups(f"What {recording.name} shows", _groups(result), result.notes)


def _several(
    recordings: tuple[Path, ...],
    options: CaptureOptions,
    *,
    workers: int | None,
    csv_path: Path | None,
    as_json: bool,
) -> None:
    found = []
    most = workers or os.cpu_count() or 1
    for one in capture_files(recordings, options, workers=min(most, len(recordings)), progress=progress_bar()):
        found.append(one)
        if as_json:
            click.echo(json_line(one))
        if one.refusal:
            click.echo(f"Not used: {one.refusal}", err=True)
    if not as_json:
        print_side_by_side(found)
    if csv_path is not None:
        write_file(csv_path, as_csv(found).encode("utf-8"))
    refused = [one for one in found if one.refusal]
    if refused:
        raise Refusal(f"Of {len(found)} recordings {len(refused)} could not be used; the reason is named above.")


def _target(
    pivot_to_spindle: Quantity,
    criterion: str,
    groove_range: tuple[float, float],
    hold_effective_length: Quantity | None,
    hold_offset_angle: Quantity | None,
) -> tuple[Geometry | None, TargetShift | None]:
    from groovewright.bench.targets.capture_target import target_shift
    from groovewright.bench.targets.targets import TargetRequest, choose_targets

    innermost_mm, outermost_mm = groove_range
    with refusing(ValueError):
        request = TargetRequest(
            pivot_to_spindle,
            criterion,
            innermost_mm,
            outermost_mm,
            hold_effective_length=hold_effective_length,
            hold_offset_angle=hold_offset_angle,
        )
        return choose_targets(request).geometry, target_shift(request)


def _groups(result: CaptureResult) -> list[tuple[str, list[tuple[str, str]]]]:
    groups: dict[str, list[tuple[str, str]]] = {}
    for group, name, text in quantity_rows(result):
        groups.setdefault(group, []).append((name, text))
    bands = [
        (located.band.name, f"from {located.start_s:.2f} s over {located.duration_s:.2f} s, {located.how}")
        for located in result.bands
    ]
    return [*groups.items(), ("Bands", bands)]
