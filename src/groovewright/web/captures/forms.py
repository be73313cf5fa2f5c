"""What is handed in with a capture, and where its bands are put by hand."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from django import forms
from django.core.exceptions import ValidationError

import groovewright
from groovewright.files.audio_header import read_promise
from groovewright.jobbook import content_store
from groovewright.jobbook.models import CaptureSheet, Stage
from groovewright.measurement.parsing import parse_number
from groovewright.testtone.sheet.band_sheet import BandSheet, read_band_sheet
from groovewright.testtone.sheet.sheet_table import LARGEST_SHEET_CHARACTERS
from groovewright.web.captures.uploads import UploadRefused, draft_of, keep_upload

STAGES = {Stage.AS_FOUND: "As found", Stage.AS_LEFT: "As left"}


def example_sheet() -> str:
    """Return the band sheet that one can start from, the one that the command line shows too."""
    return (Path(groovewright.__file__).parent / "cli" / "examples" / "bands.toml").read_text(encoding="utf-8")


def sheet_to_start_from() -> str:
    """Return the last sheet that was handed in, as most recordings are of the same test record, or the example."""
    last = CaptureSheet.objects.filter(origin=CaptureSheet.Origin.GIVEN).order_by("-pk").first()
    return example_sheet() if last is None else last.text


class CaptureForm(forms.Form):
    """A recording, when it was made, and the band sheet of its test record."""

    recording = forms.FileField(
        label="Recording",
        required=False,
        error_messages={"empty": "The file is empty; choose it again.", "max_length": "Shorten the name of the file."},
    )
    upload = forms.CharField(required=False, widget=forms.HiddenInput)
    upload_name = forms.CharField(required=False, widget=forms.HiddenInput)
    stage = forms.ChoiceField(label="Stage", choices=list(STAGES.items()), widget=forms.RadioSelect)
    sheet_file = forms.FileField(
        label="From a file", required=False, error_messages={"empty": "The sheet is empty; choose it again."}
    )
    sheet = forms.CharField(
        label="Or written here",
        required=False,
        strip=False,
        widget=forms.Textarea(attrs={"rows": 16, "spellcheck": "false", "autocomplete": "off"}),
        help_text="What was cut on the test record, band by band. Where a start is left out, the band is found.",
    )

    def clean(self) -> dict[str, Any]:
        """Read the sheet and look at the recording's first bytes; the rest is looked at while it is analysed."""
        typed = super().clean() or {}
        self._take_sheet(typed)
        self._take_recording(typed)
        return typed

    def _take_sheet(self, typed: dict[str, Any]) -> None:
        if "sheet_file" in self.errors:
            return
        try:
            text = _text_of(typed["sheet_file"]) if typed.get("sheet_file") else typed.get("sheet", "")
            if not text.strip():
                raise ValueError("write the band sheet, or start from the example")
            read_band_sheet(text)
        except ValueError as refusal:
            self.add_error("sheet", ValidationError(_sentence(refusal)))
            return
        typed["sheet"] = text.replace("\r\n", "\n")

    def _take_recording(self, typed: dict[str, Any]) -> None:
        if "recording" in self.errors:
            return
        file = typed.get("recording")
        try:
            if file is not None:
                typed["upload"], typed["upload_name"] = keep_upload(file.chunks(), file.name, file.size), file.name
            draft = draft_of(typed.get("upload", ""))
            if draft is None:
                raise UploadRefused("Choose the recording, or drop it here.")
            _refuse_by_first_bytes(draft, typed["upload_name"])
        except ValueError as refusal:
            self.data = {**self.data.dict(), "upload": "", "upload_name": ""}
            self.add_error("recording", ValidationError(_sentence(refusal)))
            return
        # A recording that came in is not sent again because its sheet was refused.
        self.data = {**self.data.dict(), "upload": typed["upload"], "upload_name": typed["upload_name"]}
        typed["draft"] = draft


def _text_of(file: Any) -> str:
    if file.size > 4 * LARGEST_SHEET_CHARACTERS:
        raise ValueError(
            f"{file.name} has {file.size} bytes, far too many for a band sheet of at most {LARGEST_SHEET_CHARACTERS} "
            "letters; choose the sheet itself"
        )
    try:
        return str(file.read().decode("utf-8-sig"))
    except UnicodeDecodeError as error:
        raise ValueError(f"{file.name} is no text; choose the band sheet, a TOML file") from error


def _refuse_by_first_bytes(draft: Path, name: str) -> None:
    with content_store.under_name(draft, name) as named:
        read_promise(named)


def _sentence(refusal: ValueError) -> str:
    """Return the words of a refusal as a sentence; a name in them keeps its small letters."""
    words = str(refusal)
    return words if words.endswith((".", "!")) else f"{words}."


@dataclass(frozen=True)
class BandRow:
    """A band with the places that are typed for it, and what is wrong with them."""

    place: int
    name: str
    words: str
    start: str
    duration: str
    how: str
    wrong: str = ""


def moved_sheet(sheet: BandSheet, rows: Sequence[BandRow]) -> tuple[BandSheet | None, tuple[BandRow, ...]]:
    """Return the sheet with its bands where they were typed, or None and the rows with what is wrong."""
    bands, checked = [], []
    for band, row in zip(sheet.bands, rows, strict=True):
        try:
            start_s, duration_s = _seconds(row.start, "start"), _seconds(row.duration, "length")
        except ValueError as refusal:
            checked.append(replace(row, wrong=_sentence(refusal)))
            continue
        checked.append(row)
        bands.append(replace(band, start_s=start_s, duration_s=duration_s))
    complete = len(bands) == len(sheet.bands)
    return (replace(sheet, bands=tuple(bands)) if complete else None), tuple(checked)


def _seconds(text: str, what: str) -> float | None:
    if not text.strip():
        return None
    seconds = parse_number(text, unit="s")
    if not 0 <= seconds <= 86_400:
        raise ValueError(f"the {what} is {text} s; give 0 to 86400 s, or leave it empty and it is found")
    return seconds
