"""A whole capture: every quantity that the bands of a sheet can show, from one recording of a test record."""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass, replace

from groovewright.testtone.capture.capture_bands import middle_of
from groovewright.testtone.capture.capture_channels import channel_findings
from groovewright.testtone.capture.capture_checks import Confirmed, confirmed_bands, with_doubts
from groovewright.testtone.capture.capture_distortion import distortion_findings
from groovewright.testtone.capture.capture_findings import Findings, joined, with_own_sources
from groovewright.testtone.capture.capture_ladder import ladder_findings
from groovewright.testtone.capture.capture_noise import noise_findings
from groovewright.testtone.capture.capture_resonance import resonance_findings
from groovewright.testtone.capture.capture_response import response_findings
from groovewright.testtone.capture.capture_result import CaptureResult
from groovewright.testtone.capture.capture_speed import speed_findings
from groovewright.testtone.capture.capture_task import CaptureTask, TargetShift
from groovewright.testtone.capture.capture_tracking import tracking_findings
from groovewright.testtone.capture.recording import Recording, blocks
from groovewright.testtone.capture.watched_recording import WatchedRecording
from groovewright.testtone.checks.band_check import doubts_of_pitch
from groovewright.testtone.checks.doubts import Doubt, WiredRecording, Wiring
from groovewright.testtone.checks.turn_check import doubts_of_turn
from groovewright.testtone.finding.band_edges import between_its_edges
from groovewright.testtone.finding.band_finder import LocatedBand, locate_bands
from groovewright.testtone.finding.clipping import Clipping, ClippingCounter
from groovewright.testtone.noise.weighting_table import WeightingTable
from groovewright.testtone.sheet.band_sheet import BandSheet
from groovewright.testtone.speed.speed import SpeedResult
from groovewright.testtone.tones.tone_fit import ToneFit, fit_tone
from groovewright.testtone.tracking.tracking_error_fit import LEVEL_STANDARD_UNCERTAINTY_DB
from groovewright.tonearm.geometry import Geometry

__all__ = ["CaptureResult", "analyse_capture"]

Progress = Callable[[float, str], None]

HARMONICS = (1, 2, 3, 4, 5)

LONGEST_FIT_S = 60.0
"""Of a longer tone the middle is fitted: noise leaves little to gain beyond, and memory would grow with it."""

CHECKING_SHARE, FINDING_SHARE, FITTING_SHARE, RESONANCE_SHARE, SPEED_SHARE = 0.1, 0.2, 0.5, 0.7, 0.75
"""Shares of the work at which the bands are located, checked, their tones fitted, and speed and resonance measured."""


def analyse_capture(
    recording: Recording,
    sheet: BandSheet,
    *,
    geometry: Geometry | None,
    progress: Progress,
    target_shift: TargetShift | None = None,
    start_corrections: Mapping[str, float] | None = None,
    clipping: Clipping | None = None,
    weighting: WeightingTable | None = None,
    level_standard_uncertainty_db: float = LEVEL_STANDARD_UNCERTAINTY_DB,
    capture_name: str = "this capture",
    record_name: str = "this test record",
    wiring: Wiring = "as recorded",
    agreed: Collection[str] = (),
) -> CaptureResult:
    """Measure everything that a recording and its band sheet can show.

    Parameters
    ----------
    recording : Recording
        Left and right channel; it is read in blocks, so that memory does not grow with it.
    sheet : BandSheet
        What was cut.
    geometry : Geometry or None
        What the arm should be set to; without it nothing is said of tracking error.
    target_shift : TargetShift, optional
        How that moves with the pivot-to-spindle distance, whose uncertainty then enters the errors against it.
    progress : callable
        Told the share that is done, 0 to 1, and what is being done; again at every block that is read, so that what
        it raises ends the analysis soon, however long a band is.
    start_corrections : mapping of str to float, optional
        Start of bands, by name, that the user set by hand; they go before the sheet's. [s]
    clipping : Clipping, optional
        What was found clipped when the recording was opened; counted here where it is left out.
    weighting : WeightingTable, optional
        A curve through which the noise is to be given too.
    level_standard_uncertainty_db : float
        Of the peak velocities that the sheet states, one error common to all bands. [dB]
    capture_name, record_name : str
        Name of the recording and of the test record. Captures of one record share the error of its stated levels, so
        give those the same `record_name`, and each recording a `capture_name` of its own.
    wiring : {"as recorded", "swapped", "left inverted", "right inverted"}
        How the channels were recorded, where somebody has settled a doubt about it; they are put right first.
    agreed : collection of str
        Keys of doubts that somebody has settled in favour of the sheet; nothing is withheld for them.

    Raises
    ------
    ValueError
        If the bands cannot be located, the recording has one channel, or a correction names no band.
    """
    _refuse_mono(recording)
    watched = WatchedRecording(WiredRecording(recording, wiring), progress)
    recording, progress = watched, watched.tell
    progress(0.0, "Finding the bands")
    located = locate_bands(recording, _corrected(sheet, start_corrections or {}))
    clipping = _counted(recording) if clipping is None else clipping
    progress(CHECKING_SHARE, "Checking the sheet against the recording")
    confirmed = confirmed_bands(recording, sheet, located, clipping, agreed)
    progress(FINDING_SHARE, "Measuring the tones")
    fits, refused = _fits(recording, confirmed.bands, progress)
    task = CaptureTask(
        recording=recording,
        sheet=sheet,
        bands=confirmed.bands,
        fits=fits,
        refused=refused,
        geometry=geometry,
        target_shift=target_shift,
        capture_name=capture_name,
        record_name=record_name,
        clipping=clipping,
        weighting=weighting,
        level_standard_uncertainty_db=level_standard_uncertainty_db,
    )
    parts, measured = _parts(task, progress)
    doubts = _doubts(confirmed, fits, measured, sheet, agreed)
    found = with_doubts(joined([_clipping_note(located, task.clipping), *parts]), confirmed, doubts)
    found = with_own_sources(found, capture_name, task.shared_sources, record_name)
    progress(1.0, "Done")
    return CaptureResult(
        found.quantities,
        found.not_shown,
        found.notes,
        located,
        found.pictures,
        found.channel_polarity,
        doubts,
        confirmed.events,
    )


def _doubts(
    confirmed: Confirmed,
    fits: Mapping[str, ToneFit],
    measured: Measured,
    sheet: BandSheet,
    agreed: Collection[str],
) -> tuple[Doubt, ...]:
    """Return the doubts of the recording, with those that show in what its tones play at."""
    played_hz = {name: fit.frequency_hz for name, fit in fits.items()}
    found = [*confirmed.doubts, *doubts_of_pitch(confirmed.checks, played_hz, sheet)]
    if measured.speed is not None:
        found += doubts_of_turn(measured.speed, sheet.speed_rpm)
    return tuple(doubt for doubt in found if doubt.key not in agreed)


def _refuse_mono(recording: Recording) -> None:
    if recording.channel_count != 2:
        raise ValueError(
            "the recording has one channel; a capture needs left and right. Record both together and load it again."
        )


def _corrected(sheet: BandSheet, start_corrections: Mapping[str, float]) -> BandSheet:
    names = {band.name for band in sheet.bands}
    for name in start_corrections:
        if name not in names:
            raise ValueError(f"no band is named {name!r}, so its start cannot be corrected; the sheet names the bands")
    bands = tuple(
        replace(band, start_s=start_corrections[band.name]) if band.name in start_corrections else band
        for band in sheet.bands
    )
    return replace(sheet, bands=bands)


def _fits(
    recording: Recording, bands: Sequence[LocatedBand], progress: Progress
) -> tuple[dict[str, ToneFit], dict[str, str]]:
    fits: dict[str, ToneFit] = {}
    refused: dict[str, str] = {}
    wanted = [at for at in bands if at.band.kind == "tone"]
    for number, at in enumerate(wanted):
        share = FINDING_SHARE + (FITTING_SHARE - FINDING_SHARE) * number / len(wanted)
        progress(share, f"Measuring the tone of {at.band.name}")
        try:
            fits[at.band.name] = _fit(recording, at)
        except ValueError as refusal:
            refused[at.band.name] = str(refusal)
    return fits, refused


def _fit(recording: Recording, at: LocatedBand) -> ToneFit:
    return fit_tone(recording, middle_of(between_its_edges(recording, at), LONGEST_FIT_S), harmonics=HARMONICS)


@dataclass(frozen=True, eq=False)
class Measured:
    """What the measuring of one part tells others: the speed of the longest tone for it."""

    speed: SpeedResult | None


def _parts(task: CaptureTask, progress: Progress) -> tuple[list[Findings], Measured]:
    progress(FITTING_SHARE, "Measuring the speed")
    speed, told = speed_findings(task)
    turn_s = None if told is None else 60 / task.sheet.speed_rpm / (1 + told.speed_error.value / 100)
    progress(RESONANCE_SHARE, "Measuring the arm's resonance")
    resonance, subsonic = resonance_findings(task)
    task = replace(task, subsonic=subsonic)
    steps: tuple[tuple[str, Callable[[CaptureTask], Findings]], ...] = (
        ("Measuring the channels", channel_findings),
        ("Measuring tracking error", tracking_findings),
        ("Measuring the noise", lambda task: noise_findings(task, turn_s=turn_s)),
        ("Measuring distortion", distortion_findings),
        ("Measuring tracking ability", ladder_findings),
        ("Measuring the response", response_findings),
    )
    found = [speed, resonance]
    for number, (doing, part) in enumerate(steps):
        progress(SPEED_SHARE + (1 - SPEED_SHARE) * number / len(steps), doing)
        found.append(part(task))
    return found, Measured(told)


def _counted(recording: Recording) -> Clipping:
    counter = ClippingCounter(recording.sample_rate_hz, recording.channel_count)
    for block in blocks(recording, 0, recording.frame_count):
        counter.add(block)
    return counter.result()


def _clipping_note(bands: Sequence[LocatedBand], clipping: Clipping) -> Findings:
    if not clipping:
        return Findings()
    hit = [at.band.name for at in bands if clipping.meets(at.start_s, at.start_s + at.duration_s)]
    where = f" Bands with clipped samples: {', '.join(hit)}." if hit else ""
    return Findings(notes=(clipping.describe() + where,))
