"""Recordings to files: WAV, and RF64 where WAV cannot count that far; whole or not at all."""

from __future__ import annotations

import struct
import tempfile
from collections.abc import Callable
from pathlib import Path
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from groovewright.testtone.capture.recording import BLOCK_FRAMES, Recording

SampleFormat = Literal["float", "24-bit"]

WAV_LIMIT_BYTES = 4_000_000_000
"""Size from which RF64 is written; a WAV counts its bytes with 32 bits, which ends at 4.29e9. [byte]"""

_INTEGER_TAG, _FLOAT_TAG = 1, 3
_NOT_COUNTED_HERE = 0xFFFFFFFF
_LARGEST_24_BIT = (1 << 23) - 1


def write_recording(
    path: Path,
    recording: Recording,
    sample_format: SampleFormat,
    *,
    wav_limit_bytes: int = WAV_LIMIT_BYTES,
    progress: Callable[[float], None] | None = None,
) -> str:
    """Write a recording a block at a time, and return the container: "WAV" or "RF64".

    It is written under another name beside `path` and then put in its place, so that a broken-off run leaves an
    older file of that name as it was. The same samples give the same bytes.

    Parameters
    ----------
    path : Path
        File to write.
    recording : Recording
        Its sample rate a whole number of Hz.
    sample_format : {"float", "24-bit"}
        32-bit float, or 24-bit integer, whose steps are 2^-23 of full scale.
    wav_limit_bytes : int
        From which size on RF64 is written.
    progress : callable, optional
        Told the share that is done.

    Raises
    ------
    OSError
        If the file cannot be written.
    """
    sample_bytes = 4 if sample_format == "float" else 3
    data_bytes = recording.frame_count * recording.channel_count * sample_bytes
    container = "WAV" if data_bytes < wav_limit_bytes else "RF64"
    # A folder of its own, so that the draft is made with the rights that any new file has here.
    with tempfile.TemporaryDirectory(dir=path.parent, prefix=f".{path.name}.") as folder:
        draft = Path(folder) / "draft"
        with draft.open("wb") as stream:
            stream.write(_head(recording, sample_bytes, data_bytes, container))
            for start in range(0, recording.frame_count, BLOCK_FRAMES):
                count = min(BLOCK_FRAMES, recording.frame_count - start)
                stream.write(_packed(recording.read(start, count), sample_format))
                if progress is not None:
                    progress((start + count) / recording.frame_count)
            # Every chunk has an even length; the odd byte after it belongs to none.
            stream.write(b"\0" * (data_bytes % 2))
        draft.replace(path)
    return container


def _head(recording: Recording, sample_bytes: int, data_bytes: int, container: str) -> bytes:
    """Return everything before the samples: of RF64 (EBU Tech 3306) the true sizes stand in a chunk of their own."""
    rate_hz, frame_bytes = round(recording.sample_rate_hz), sample_bytes * recording.channel_count
    tag = _FLOAT_TAG if sample_bytes == 4 else _INTEGER_TAG
    form = struct.pack(
        "<4sIHHIIHH",
        b"fmt ",
        16,
        tag,
        recording.channel_count,
        rate_hz,
        rate_hz * frame_bytes,
        frame_bytes,
        8 * sample_bytes,
    )
    if container == "WAV":
        fact = struct.pack("<4sII", b"fact", 4, recording.frame_count)
        chunks = form + fact
        after_size = 4 + len(chunks) + 8 + data_bytes + data_bytes % 2
        return struct.pack("<4sI4s", b"RIFF", after_size, b"WAVE") + chunks + struct.pack("<4sI", b"data", data_bytes)
    after_size = 4 + 36 + len(form) + 8 + data_bytes + data_bytes % 2
    sizes = struct.pack("<4sIQQQI", b"ds64", 28, after_size, data_bytes, recording.frame_count, 0)
    head = struct.pack("<4sI4s", b"RF64", _NOT_COUNTED_HERE, b"WAVE") + sizes + form
    return head + struct.pack("<4sI", b"data", _NOT_COUNTED_HERE)


def _packed(samples: NDArray[np.float64], sample_format: SampleFormat) -> bytes:
    if sample_format == "float":
        return samples.astype("<f4").tobytes()
    steps = np.clip(np.rint(samples * (1 << 23)), -(1 << 23), _LARGEST_24_BIT).astype("<i4")
    # The lower three of the four bytes of each.
    return steps.reshape(-1, 1).view(np.uint8)[:, :3].tobytes()
