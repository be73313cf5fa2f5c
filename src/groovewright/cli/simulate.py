"""`groovewright simulate`: the recording that a known deck would make of a known record."""

from __future__ import annotations

import math
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from groovewright.cli.help_page import Command
from groovewright.cli.output import print_groups, print_json, quantity_json, quantity_text
from groovewright.cli.progress import progress_bar
from groovewright.cli.refusal import Refusal, refusing
from groovewright.cli.values import PlainValue, json_option

if TYPE_CHECKING:
    from groovewright.files.audio_writing import SampleFormat
    from groovewright.measurement.quantity import Quantity
    from groovewright.simulate.deck import TrueDeck
    from groovewright.simulate.recording import SimulatedRecording

SAMPLE_FORMATS = ("float", "24-bit")


@click.command(cls=Command)
@click.argument("sheet_path", metavar="SHEET.toml", type=click.Path(path_type=Path))
@click.option(
    "--deck",
    "deck_path",
    metavar="DECK.toml",
    type=click.Path(path_type=Path),
    required=True,
    help="Deck sheet: the deck's truth.",
)
@click.option(
    "--out",
    type=click.Path(path_type=Path, dir_okay=False),
    required=True,
    help="File to write, ending in .wav. An older file of that name is replaced.",
)
@click.option(
    "--sample-rate",
    "sample_rate_hz",
    type=PlainValue("frequency", "96kHz"),
    default=96_000.0,
    show_default="96kHz",
    help="Sample rate, a whole number of Hz.",
)
@click.option(
    "--sample-format",
    type=click.Choice(SAMPLE_FORMATS),
    default="float",
    show_default=True,
    help="32-bit float or 24-bit integer samples.",
)
@click.option(
    "--seed",
    type=click.IntRange(min=0, max=2**63 - 1),
    default=1,
    show_default=True,
    help="Of noise and clicks; the same seed gives the same samples.",
)
@json_option
def simulate(
    *,
    sheet_path: Path,
    deck_path: Path,
    out: Path,
    sample_rate_hz: float,
    sample_format: SampleFormat,
    seed: int,
    as_json: bool,
) -> None:
    """Make the recording that a deck whose every error is known would make of a test record.

    The band sheet says what was cut on the record, the deck sheet what is wrong with the deck;
    docs/guide/deck-sheet.md describes it. Measure the file with groovewright capture to see how near it comes.

    For example:
      groovewright simulate record.toml --deck deck.toml --out known.wav
      groovewright simulate record.toml --deck deck.toml --sample-rate 48kHz --seed 2 --out known.wav
    with no more than this in deck.toml:
      [arm]
      pivot_to_spindle = "222 mm"
      null_radii = ["66.0 mm", "120.9 mm"]
      effective_length_error = "0.6 mm"
      [platter]
      speed_error = "0.12 %"
    """
    if out.suffix.lower() != ".wav":
        raise Refusal(f'"{out.name}" does not end in .wav, which is the form that is written')
    if sample_rate_hz != round(sample_rate_hz):
        raise Refusal(f"a file holds a whole number of Hz as its sample rate, not {sample_rate_hz:g} Hz")

    from groovewright.files.audio_writing import write_recording
    from groovewright.files.sheet_file import load_sheet
    from groovewright.simulate.deck_sheet import read_deck
    from groovewright.simulate.recording import simulate_recording
    from groovewright.testtone.sheet.band_sheet import read_band_sheet

    with refusing(ValueError):
        sheet = load_sheet(sheet_path, read_band_sheet, what="a band sheet")
    with refusing(ValueError):
        deck = load_sheet(deck_path, read_deck, what="a deck sheet")
    with refusing(ValueError):
        recording = simulate_recording(sheet, deck, sample_rate_hz=sample_rate_hz, seed=seed)
    with progress_bar() as report:
        try:
            container = write_recording(
                out, recording, sample_format, progress=lambda share: report(share, "Playing the record")
            )
        except OSError as error:
            reason = (error.strerror or "unknown reason").lower()
            raise Refusal(f"{out} cannot be written: {reason}; name another file with --out") from error
    if as_json:
        print_json(_found(recording, out, container, sample_format, seed))
        return
    title = f"{out} holds what this deck would record"
    print_groups(title, _groups(recording, container, sample_format), _notes(recording))


def _found(
    recording: SimulatedRecording, out: Path, container: str, sample_format: str, seed: int
) -> dict[str, object]:
    truth = {name: quantity_json(quantity) for name, _, quantity in _truth(recording.deck)}
    return {
        "file": str(out),
        "container": container,
        "sample_format": sample_format,
        "seed": seed,
        "sample_rate": quantity_json(_exact(recording.sample_rate_hz, "Hz")),
        "duration": quantity_json(_exact(recording.frame_count / recording.sample_rate_hz, "s")),
        "truth": truth | {"tracking_error": [_at_band(band) for band in _bands(recording)]},
        "bands": [
            {"name": cut.band.name, "start": quantity_json(_exact(cut.start_s, "s"))} for cut in recording.groove.bands
        ],
        "notes": list(_notes(recording)),
    }


def _notes(recording: SimulatedRecording) -> tuple[str, ...]:
    if recording.loudest <= 1:
        return ()
    over_db = 20 * math.log10(recording.loudest)
    return (
        f"The recording is clipped: its loudest sample would stand {over_db:.1f} dB above full scale. If that is not "
        f"meant, lower level_dbfs in the deck sheet by as much.",
    )


def _at_band(band: tuple[str, float, Quantity]) -> dict[str, Any]:
    name, radius_mm, error = band
    return {"band": name, "radius": quantity_json(_exact(radius_mm, "mm")), **error.as_json()}


def _groups(
    recording: SimulatedRecording, container: str, sample_format: str
) -> list[tuple[str, list[tuple[str, str]]]]:
    length = quantity_text(_exact(recording.frame_count / recording.sample_rate_hz, "s"))
    form = [
        ("form", f"{container}, {sample_format}, {recording.sample_rate_hz:g} Hz"),
        ("length", length),
    ]
    truth = [(label, quantity_text(quantity)) for _, label, quantity in _truth(recording.deck)]
    errors = [
        (f"tracking error at {radius_mm:.4g} mm, {name}", quantity_text(error))
        for name, radius_mm, error in _bands(recording)
    ]
    return [("Recording", form), ("Truth", [*truth, *errors])]


def _truth(deck: TrueDeck) -> list[tuple[str, str, Quantity]]:
    """Return name, label and value of what the deck sheet set, in the words of `groovewright capture`."""
    rows: list[tuple[str, str, float | None, str]] = [
        ("speed_error", "speed error", deck.speed_error_percent, "%"),
        ("eccentricity", "eccentricity", deck.eccentricity_mm, "mm"),
        ("azimuth_rotation", "azimuth rotation", deck.azimuth_rotation_deg, "deg"),
        ("crosstalk_leak", "crosstalk no turning mends", deck.leak_db, "dB"),
        ("effective_length_error", "effective length error", deck.effective_length_error_mm, "mm"),
        ("zenith_error", "zenith error", deck.zenith_error_deg, "deg"),
        (
            "vertical_tracking_angle_error",
            "vertical tracking angle error",
            deck.vertical_tracking_angle_error_deg,
            "deg",
        ),
    ]
    for axis, resonance in (("lateral", deck.resonance_lateral), ("vertical", deck.resonance_vertical)):
        frequency_hz = None if resonance is None else resonance.frequency_hz
        rows.append((f"resonance_{axis}", f"{axis} resonance", frequency_hz, "Hz"))
    return [(name, label, _exact(value, unit)) for name, label, value, unit in rows if value is not None]


def _bands(recording: SimulatedRecording) -> list[tuple[str, float, Quantity]]:
    """Return name, middle radius and true tracking error of each band that holds a tone."""
    found = []
    for cut in recording.groove.bands:
        radius_mm = sum(cut.band.radius_mm) / 2
        found.append((cut.band.name, radius_mm, _exact(float(recording.deck.tracking_error_deg(radius_mm)), "deg")))
    return found


def _exact(value: float, unit: str) -> Quantity:
    from groovewright.measurement.quantity import Quantity

    return Quantity.exact(value, unit)
