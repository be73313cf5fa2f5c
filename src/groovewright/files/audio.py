"""Recordings in files: WAV (RF64 with it), FLAC and AIFF, read a block at a time and checked whole when opened."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from types import TracebackType
from typing import TYPE_CHECKING, Self

import numpy as np
from numpy.typing import NDArray

from groovewright.files.audio_header import read_promise
from groovewright.testtone.capture.recording import BLOCK_FRAMES, Recording, refuse_outside
from groovewright.testtone.finding.clipping import Clipping, ClippingCounter

if TYPE_CHECKING:
    import soundfile

LOWEST_RATE_HZ, HIGHEST_RATE_HZ = 32_000, 192_000
LONGEST_HOURS = 24
QUIETEST_PEAK = 1e-4
LOUDEST_PEAK = 16.0

_SUBTYPES = {
    "PCM_16": "16-bit integer",
    "PCM_24": "24-bit integer",
    "PCM_32": "32-bit integer",
    "FLOAT": "32-bit float",
    "DOUBLE": "64-bit float",
}
_EIGHT_BIT = ("PCM_U8", "PCM_S8")
_CONTAINERS = {"WAV": "WAV", "WAVEX": "WAV", "RF64": "RF64", "FLAC": "FLAC", "AIFF": "AIFF"}


@dataclass(frozen=True)
class AudioRecording:
    """A recording in a file that was found whole; `close` it, or use it in a `with` statement.

    Attributes
    ----------
    name : str
        The file's name, for messages.
    form : str
        Such as "WAV, 24-bit integer".
    peak : float
        Largest sample of all, full scale 1.0.
    clipping : Clipping
        What is clipped, and where: a warning, not a refusal.
    channels_alike : bool
        True where both channels hold the very same samples, which makes them one.
    """

    name: str
    form: str
    sample_rate_hz: float
    channel_count: int
    frame_count: int
    peak: float
    clipping: Clipping
    channels_alike: bool
    _file: soundfile.SoundFile

    def read(self, start_frame: int, frame_count: int) -> NDArray[np.float64]:
        """Return these frames; see `groovewright.testtone.capture.recording.Recording.read`."""
        refuse_outside(self, start_frame, frame_count)
        if self._file.tell() != start_frame:
            self._file.seek(start_frame)
        samples: NDArray[np.float64] = self._file.read(frame_count, dtype="float64", always_2d=True)
        if len(samples) < frame_count:
            raise ValueError(f"{self.name} became shorter while it was being read; copy it again")
        return samples

    def close(self) -> None:
        """Close the file."""
        self._file.close()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, failure: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()


def open_recording(path: Path, *, progress: Callable[[float], None] | None = None) -> AudioRecording:
    """Return the recording in a file, after reading it once from end to end.

    Parameters
    ----------
    path : Path
        A WAV, RF64, FLAC or AIFF file of any length up to 24 hours; memory does not grow with it.
    progress : callable, optional
        Called with the part that has been read, 0 to 1.

    Raises
    ------
    ValueError
        One sentence that names the file: it is cut short, silent, empty, mislabelled, or holds what is no recording.
    """
    path = Path(path)
    if not path.is_file():
        raise ValueError(f"{path.name} is not there, or is not a file; name a WAV, FLAC or AIFF file")
    promise = read_promise(path)
    if promise is not None and promise.missing_frames:
        raise ValueError(_cut_short(path.name, promise.promised_frames, promise.missing_frames))
    file = _opened(path)
    try:
        _refuse_form(path.name, file)
        return _whole(path.name, file, progress)
    except BaseException:
        file.close()
        raise


def require_two_channels(recording: Recording, what: str) -> None:
    """Refuse a recording with one channel, or one that was saved twice, where `what` needs two.

    >>> from groovewright.testtone.capture.recording import ArrayRecording
    >>> require_two_channels(ArrayRecording([0.0, 0.5], 48_000), "crosstalk")
    Traceback (most recent call last):
    ...
    ValueError: the recording has one channel; crosstalk needs two. Record left and right together and load it again.
    """
    name = recording.name if isinstance(recording, AudioRecording) else "the recording"
    if recording.channel_count < 2:
        raise ValueError(f"{name} has one channel; {what} needs two. Record left and right together and load it again.")
    if isinstance(recording, AudioRecording) and recording.channels_alike:
        raise ValueError(
            f"{name} holds the very same samples in both channels; {what} needs two. Record left and right apart "
            f"and load it again."
        )


def _opened(path: Path) -> soundfile.SoundFile:
    import soundfile

    try:
        return soundfile.SoundFile(path)
    except (soundfile.SoundFileError, TypeError) as failure:
        reason = " ".join(str(getattr(failure, "error_string", failure)).split()).rstrip(".").removeprefix("Error : ")
        raise ValueError(f"{path.name} is broken ({reason[:120]}); copy or record it again") from failure


def _refuse_form(name: str, file: soundfile.SoundFile) -> None:
    if file.subtype in _EIGHT_BIT:
        raise ValueError(f"{name} has 8-bit samples, too coarse to measure with; record with 16 or 24 bits")
    if file.format not in _CONTAINERS or file.subtype not in _SUBTYPES:
        raise ValueError(
            f"{name} stores its samples as {file.subtype_info}; save the recording with 16, 24 or 32-bit samples, "
            f"or as float"
        )
    if file.channels > 2:
        raise ValueError(f"{name} has {file.channels} channels; save left and right alone, as two channels")
    if not LOWEST_RATE_HZ <= file.samplerate <= HIGHEST_RATE_HZ:
        raise ValueError(
            f"{name} has {file.samplerate} samples a second; record with {LOWEST_RATE_HZ} to {HIGHEST_RATE_HZ}"
        )
    if file.frames < 1:
        raise ValueError(f"{name} holds no samples; record it again")
    if file.frames > LONGEST_HOURS * 3600 * file.samplerate:
        raise ValueError(
            f"{name} claims to last {file.frames / file.samplerate / 3600:.3g} hours; at most {LONGEST_HOURS} are "
            f"taken, so check how it was saved"
        )


def _whole(name: str, file: soundfile.SoundFile, progress: Callable[[float], None] | None) -> AudioRecording:
    rate_hz, channel_count, frame_count = float(file.samplerate), int(file.channels), int(file.frames)
    counter = ClippingCounter(rate_hz, channel_count)
    peak = 0.0
    alike = channel_count == 2
    buffer = np.empty((BLOCK_FRAMES, channel_count))
    for start in range(0, frame_count, BLOCK_FRAMES):
        samples = buffer[: min(BLOCK_FRAMES, frame_count - start)]
        readable = _fill(file, samples)
        if readable < len(samples):
            raise ValueError(_cut_short(name, frame_count, frame_count - start - readable))
        block_peak = float(max(samples.max(), -samples.min()))
        if not np.isfinite(block_peak):
            _refuse_no_number(name, samples, start, rate_hz)
        peak = max(peak, block_peak)
        alike = alike and bool(np.array_equal(samples[:, 0], samples[:, 1]))
        counter.add(samples)
        if progress is not None:
            progress((start + len(samples)) / frame_count)
    _refuse_peak(name, peak)
    form = f"{_CONTAINERS[file.format]}, {_SUBTYPES[file.subtype]}"
    return AudioRecording(name, form, rate_hz, channel_count, frame_count, peak, counter.result(), alike, file)


def _fill(file: soundfile.SoundFile, samples: NDArray[np.float64]) -> int:
    """Read the next frames into `samples` and return how many could be read."""
    import soundfile

    samples.fill(np.nan)
    try:
        return len(file.read(out=samples))
    except soundfile.SoundFileError:
        # The reader gives up without saying how far it came; integer samples, where this happens, are never NaN.
        return int(np.argmax(np.isnan(samples[:, 0]))) if np.isnan(samples[-1, 0]) else len(samples) - 1


def _refuse_no_number(name: str, samples: NDArray[np.float64], done: int, rate_hz: float) -> None:
    first = done + int(np.flatnonzero(~np.isfinite(samples).all(axis=1))[0])
    raise ValueError(
        f"{name} holds samples that are no number (NaN or infinite), the first at {first / rate_hz:.3f} s; "
        f"export the recording again"
    )


def _refuse_peak(name: str, peak: float) -> None:
    if peak == 0:
        raise ValueError(f"{name} is silent: every sample is zero; check the inputs and record it again")
    if peak < QUIETEST_PEAK:
        raise ValueError(
            f"{name} is silent: its largest sample lies {-20 * np.log10(peak):.0f} dB below full scale; "
            f"check the inputs and record it again"
        )
    if peak > LOUDEST_PEAK:
        raise ValueError(
            f"{name} holds a sample of {peak:.3g} times full scale; export the recording again with full scale at 1"
        )


def _cut_short(name: str, promised_frames: int, missing_frames: int) -> str:
    return (
        f"{name} is cut short: its header counts {promised_frames} frames and the last {missing_frames} of them are "
        f"missing; copy or record it again"
    )
