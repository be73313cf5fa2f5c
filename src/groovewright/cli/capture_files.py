"""Recordings by their paths: one analysed, or several side by side, a table, JSON lines and CSV of them."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Callable, Iterator, Sequence
from contextlib import AbstractContextManager
from dataclasses import dataclass, field
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

from groovewright.cli.output import print_columns, quantity_text

if TYPE_CHECKING:
    from groovewright.testtone.capture.capture_result import CaptureResult
    from groovewright.testtone.capture.capture_task import TargetShift
    from groovewright.tonearm.geometry import Geometry

OPENING_SHARE = 0.2
"""Share of the work that goes into reading the file once for faults, before anything is measured."""

FILES_ABREAST = 3
"""Columns of a table of several recordings; what is more follows below."""

CSV_COLUMNS = (
    "file",
    "quantity",
    "at",
    "at_unit",
    "band",
    "channel",
    "value",
    "unit",
    "standard_uncertainty",
    "not_shown",
)

Report = Callable[[float, str], None]


@dataclass(frozen=True)
class CaptureOptions:
    """What every recording of one call is analysed by.

    Attributes
    ----------
    sheet_path : Path
    geometry : Geometry or None
    target_shift : TargetShift or None
    weighting_path : Path or None
    level_uncertainty_db : float
    """

    sheet_path: Path
    geometry: Geometry | None
    target_shift: TargetShift | None
    weighting_path: Path | None
    level_uncertainty_db: float


@dataclass(frozen=True)
class CapturedFile:
    """What one of several recordings showed, in plain types that pass between processes.

    Attributes
    ----------
    path : str
        As it was given.
    shown : dict
        The object that one recording by itself would print; empty where it could not be analysed.
    rows : list of (str, str)
        Name of each quantity and its value, as a table shows them.
    refusal : str
        Why it could not be analysed, one sentence; else empty.
    """

    path: str
    shown: dict[str, Any] = field(default_factory=dict)
    rows: list[tuple[str, str]] = field(default_factory=list)
    refusal: str = ""


def analysed(recording: Path, options: CaptureOptions, report: Report) -> CaptureResult:
    """Return what a recording shows.

    Raises
    ------
    ValueError, OSError
        In one sentence, if sheet or recording cannot be read or used.
    """
    from groovewright.files.audio import open_recording, require_two_channels
    from groovewright.files.sheet_file import load_sheet
    from groovewright.testtone.capture.capture import analyse_capture
    from groovewright.testtone.noise.weighting_table import read_weighting_table
    from groovewright.testtone.sheet.band_sheet import read_band_sheet

    sheet = load_sheet(options.sheet_path, read_band_sheet, what="a band sheet")
    weighting, at = None, options.weighting_path
    if at is not None:
        weighting = load_sheet(at, lambda text: read_weighting_table(text, name=at.stem), what="a weighting table")
    reading = "Reading the recording"
    with open_recording(recording, progress=lambda share: report(OPENING_SHARE * share, reading)) as opened:
        require_two_channels(opened, "a capture")
        return analyse_capture(
            opened,
            sheet,
            geometry=options.geometry,
            target_shift=options.target_shift,
            clipping=opened.clipping,
            weighting=weighting,
            level_standard_uncertainty_db=options.level_uncertainty_db,
            capture_name=recording.name,
            record_name=options.sheet_path.stem,
            progress=lambda share, doing: report(OPENING_SHARE + (1 - OPENING_SHARE) * share, doing),
        )


def capture_files(
    recordings: Sequence[Path],
    options: CaptureOptions,
    *,
    workers: int,
    progress: AbstractContextManager[Report],
) -> Iterator[CapturedFile]:
    """Yield what each recording shows, in their order; one that cannot be used says why, and the others go on.

    Parameters
    ----------
    workers : int
        Processes; the results are the same with any number.
    """
    with progress as report:
        count = len(recordings)
        if workers == 1:
            for place, recording in enumerate(recordings):
                yield _captured(recording, options, partial(_of_all, report, place, count))
            return
        from concurrent.futures import ProcessPoolExecutor
        from multiprocessing import get_context

        # A fresh process has no thread of this one's bar in it.
        with ProcessPoolExecutor(workers, mp_context=get_context("spawn")) as pool:
            waiting = [pool.submit(_captured, recording, options) for recording in recordings]
            for place, one in enumerate(waiting):
                report(place / count, f"{place} of {count} recordings")
                yield one.result()


def _of_all(report: Report, place: int, count: int, share: float, doing: str) -> None:
    report((place + share) / count, f"{doing} ({place + 1} of {count})")


def quantity_rows(result: CaptureResult) -> list[tuple[str, str, str]]:
    """Return group, name and value of every quantity, and why one is not shown, as a table shows them."""
    from groovewright.testtone.capture.capture_result import CAPTURE_NAMES

    rows = []
    for known in CAPTURE_NAMES:
        held = result.quantities.get(known.name)
        if isinstance(held, tuple):
            for entry in held:
                words = [known.label, "at", f"{entry.at.value:.4g} {entry.at.unit}"]
                label = " ".join(words if not entry.channel else [*words, f"({entry.channel})"])
                rows.append((known.group, label, quantity_text(entry.quantity)))
        elif held is not None:
            rows.append((known.group, known.label, quantity_text(held)))
        if known.name in result.not_shown:
            rows.append((known.group, known.label, f"not shown: {result.not_shown[known.name]}"))
    return rows


def print_side_by_side(found: Sequence[CapturedFile]) -> None:
    """Print the quantities of several recordings, a column for each recording; what is not shown is a dash."""
    usable = [one for one in found if not one.refusal]
    for begin in range(0, len(usable), FILES_ABREAST):
        abreast = usable[begin : begin + FILES_ABREAST]
        columns = [{name: "—" if text.startswith("not shown") else text for name, text in one.rows} for one in abreast]
        names = list(dict.fromkeys(name for one in abreast for name, _ in one.rows))
        rows = [[name, *(column.get(name, "") for column in columns)] for name in names]
        print_columns("What the recordings show", ["", *(Path(one.path).name for one in abreast)], rows)


def json_line(one: CapturedFile) -> str:
    """Return a recording as one line of JSON, with its file, or with why it could not be analysed."""
    found = {"file": one.path, **({"refused": one.refusal} if one.refusal else one.shown)}
    return json.dumps(found, ensure_ascii=False, allow_nan=False)


def as_csv(found: Sequence[CapturedFile]) -> str:
    """Return all quantities of all recordings as comma-separated values, one line each; see `CSV_COLUMNS`."""
    out = io.StringIO()
    table = csv.DictWriter(out, CSV_COLUMNS, lineterminator="\n", restval="")
    table.writeheader()
    for one in found:
        if one.refusal:
            table.writerow({"file": one.path, "not_shown": one.refusal})
        for name, held in one.shown.items():
            for entry in held if isinstance(held, list) else [held]:
                if isinstance(entry, dict) and {"value", "unit", "standard_uncertainty"} <= set(entry):
                    table.writerow({"file": one.path, "quantity": name, **_cells(entry)})
        for name, why in one.shown.get("not_shown", {}).items():
            table.writerow({"file": one.path, "quantity": name, "not_shown": why})
    return out.getvalue()


def _cells(entry: dict[str, Any]) -> dict[str, Any]:
    at: dict[str, Any] = next((held for held in entry.values() if isinstance(held, dict)), {})
    kept = {name: entry[name] for name in ("value", "unit", "standard_uncertainty", "band", "channel") if name in entry}
    return {name: value for name, value in kept.items() if value is not None} | (
        {"at": at["value"], "at_unit": at["unit"]} if at else {}
    )


def _captured(recording: Path, options: CaptureOptions, report: Report = lambda _share, _doing: None) -> CapturedFile:
    try:
        result = analysed(recording, options, report)
    except (ValueError, OSError) as refusal:
        return CapturedFile(str(recording), refusal=" ".join(str(refusal).split()))
    rows = [(name, text) for _, name, text in quantity_rows(result)]
    return CapturedFile(str(recording), result.as_json(), rows)
