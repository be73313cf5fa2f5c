"""`groovewright capture`: what a recording of a test record says of the deck."""

from __future__ import annotations

from contextlib import ExitStack
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from groovewright.cli.help_page import Command
from groovewright.cli.output import print_groups, print_json, quantity_text
from groovewright.cli.progress import progress_bar
from groovewright.cli.refusal import refusing
from groovewright.cli.values import json_option, optional_geometry_options

if TYPE_CHECKING:
    from groovewright.measurement.quantity import Quantity
    from groovewright.testtone.capture.capture_result import CaptureResult, ListedQuantity
    from groovewright.testtone.capture.capture_task import TargetShift
    from groovewright.testtone.noise.weighting_table import WeightingTable
    from groovewright.tonearm.geometry import Geometry

OPENING_SHARE = 0.2
"""Share of the work that goes into reading the file once for faults, before anything is measured."""


@click.command(cls=Command)
@click.argument("recording", metavar="FILE", type=click.Path(path_type=Path))
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
@json_option
def capture(
    *,
    recording: Path,
    sheet_path: Path,
    pivot_to_spindle: Quantity | None,
    criterion: str,
    groove_range: tuple[float, float],
    hold_effective_length: Quantity | None,
    hold_offset_angle: Quantity | None,
    noise_weighting: Path | None,
    level_uncertainty: float,
    as_json: bool,
) -> None:
    """Measure a deck from the recording of a test record: speed, channels, tracking, resonance and noise.

    FILE is WAV, RF64, FLAC or AIFF with 32 to 192 kHz. The band sheet says what was cut on the record;
    docs/guide/band-sheet.md describes it. A quantity that the sheet gives no bands for is left out. Tracking error
    needs the geometry that the arm should have, so give --pivot-to-spindle for it.

    For example:
      groovewright capture side-a.wav --bands record.toml
      groovewright capture side-a.wav --bands record.toml --pivot-to-spindle "222 mm +- 0.3 mm" --json
    """
    from groovewright.files.audio import open_recording, require_two_channels
    from groovewright.files.sheet_file import load_sheet
    from groovewright.testtone.capture.capture import analyse_capture
    from groovewright.testtone.sheet.band_sheet import read_band_sheet

    with refusing(ValueError):
        sheet = load_sheet(sheet_path, read_band_sheet, what="a band sheet")
    weighting = None if noise_weighting is None else _weighting(noise_weighting)
    geometry, shift = None, None
    if pivot_to_spindle is not None:
        geometry, shift = _target(pivot_to_spindle, criterion, groove_range, hold_effective_length, hold_offset_angle)
    with ExitStack() as stack:
        report = stack.enter_context(progress_bar())
        with refusing(ValueError, OSError):
            opened = open_recording(
                recording, progress=lambda share: report(OPENING_SHARE * share, "Reading the recording")
            )
        stack.enter_context(opened)
        with refusing(ValueError):
            require_two_channels(opened, "a capture")
        with refusing(ValueError, OSError):
            result = analyse_capture(
                opened,
                sheet,
                geometry=geometry,
                target_shift=shift,
                clipping=opened.clipping,
                weighting=weighting,
                level_standard_uncertainty_db=level_uncertainty,
                capture_name=recording.name,
                record_name=sheet_path.stem,
                progress=lambda share, doing: report(OPENING_SHARE + (1 - OPENING_SHARE) * share, doing),
            )
    if as_json:
        print_json(result.as_json())
        return
    print_groups(f"What {recording.name} shows", _groups(result), result.notes)


def _weighting(path: Path) -> WeightingTable:
    from groovewright.files.sheet_file import load_sheet
    from groovewright.testtone.noise.weighting_table import read_weighting_table

    with refusing(ValueError):
        return load_sheet(path, lambda text: read_weighting_table(text, name=path.stem), what="a weighting table")


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
    from groovewright.testtone.capture.capture_result import CAPTURE_NAMES

    groups: dict[str, list[tuple[str, str]]] = {}
    for known in CAPTURE_NAMES:
        rows = groups.setdefault(known.group, [])
        held = result.quantities.get(known.name)
        if isinstance(held, tuple):
            rows += [(_listed_label(known.label, entry), quantity_text(entry.quantity)) for entry in held]
        elif held is not None:
            rows.append((known.label, quantity_text(held)))
        if known.name in result.not_shown:
            rows.append((known.label, f"not shown: {result.not_shown[known.name]}"))
    found = [(group, rows) for group, rows in groups.items() if rows]
    bands = [
        (located.band.name, f"from {located.start_s:.2f} s over {located.duration_s:.2f} s, {located.how}")
        for located in result.bands
    ]
    return [*found, ("Bands", bands)]


def _listed_label(label: str, entry: ListedQuantity) -> str:
    words: Any = [label, "at", f"{entry.at.value:.4g} {entry.at.unit}"]
    return " ".join(words if not entry.channel else [*words, f"({entry.channel})"])
