"""What an analysis of a capture holds in the record, and back again with every part checked."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from groovewright.files.audio import AudioRecording
from groovewright.measurement.quantity import Quantity
from groovewright.testtone.capture.capture_result import CAPTURE_NAMES, CaptureResult, ListedQuantity

Shown = Quantity | tuple[ListedQuantity, ...]


@dataclass(frozen=True)
class RecordingFacts:
    """What a recording is, besides its samples."""

    form: str
    sample_rate_hz: float
    channel_count: int
    duration_s: float
    peak: float


@dataclass(frozen=True)
class PlacedBand:
    """Where a band stood in the recording."""

    name: str
    start_s: float
    duration_s: float
    how: str


@dataclass(frozen=True)
class StoredResult:
    """What a capture showed, as the record holds it; the names are those of `CAPTURE_NAMES`."""

    recording: RecordingFacts
    quantities: Mapping[str, Shown]
    not_shown: Mapping[str, str]
    notes: tuple[str, ...]
    bands: tuple[PlacedBand, ...]


def result_record(recording: AudioRecording, result: CaptureResult) -> dict[str, Any]:
    """Return a result as plain JSON types, sources of uncertainty included."""
    return {
        "recording": {
            "form": recording.form,
            "sample_rate_hz": recording.sample_rate_hz,
            "channel_count": recording.channel_count,
            "duration_s": recording.frame_count / recording.sample_rate_hz,
            "peak": recording.peak,
        },
        "quantities": {name: _shown_record(shown) for name, shown in result.quantities.items()},
        "not_shown": dict(result.not_shown),
        "notes": list(result.notes),
        "doubts": [doubt.as_json() for doubt in result.doubts],
        "events": [event.as_json() for event in result.events],
        "bands": [
            {"name": b.band.name, "start_s": b.start_s, "duration_s": b.duration_s, "how": b.how} for b in result.bands
        ],
    }


def _shown_record(shown: Shown) -> Any:
    if isinstance(shown, Quantity):
        return shown.as_record()
    return [_entry_record(entry) for entry in shown]


def _entry_record(entry: ListedQuantity) -> dict[str, Any]:
    record = {"quantity": entry.quantity.as_record(), "at": entry.at.as_record(), "band": entry.band}
    return record | {"channel": entry.channel} if entry.channel else record


def result_from_record(record: Any) -> StoredResult:
    """Return the result that `result_record` wrote.

    Anything else raises KeyError, TypeError, AttributeError or ValueError, as a quantity does.
    """
    listed = {known.name: bool(known.listed_by) for known in CAPTURE_NAMES}
    facts = record["recording"]
    return StoredResult(
        recording=RecordingFacts(
            form=_text(facts["form"]),
            sample_rate_hz=float(facts["sample_rate_hz"]),
            channel_count=int(facts["channel_count"]),
            duration_s=float(facts["duration_s"]),
            peak=float(facts["peak"]),
        ),
        quantities={name: _shown(shown, listed=listed[name]) for name, shown in record["quantities"].items()},
        not_shown={_text(name): _text(why) for name, why in record["not_shown"].items()},
        notes=tuple(_text(note) for note in record["notes"]),
        bands=tuple(
            PlacedBand(_text(b["name"]), float(b["start_s"]), float(b["duration_s"]), _text(b["how"]))
            for b in record["bands"]
        ),
    )


def _shown(shown: Any, *, listed: bool) -> Shown:
    if not listed:
        return Quantity.from_record(shown)
    return tuple(
        ListedQuantity(
            Quantity.from_record(e["quantity"]),
            Quantity.from_record(e["at"]),
            _text(e["band"]),
            _text(e.get("channel", "")),
        )
        for e in shown
    )


def _text(entry: Any) -> str:
    if not isinstance(entry, str):
        raise TypeError(f"{str(entry)[:60]!r} is no text")
    return entry
