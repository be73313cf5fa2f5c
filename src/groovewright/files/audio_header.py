"""What the header of an audio file promises, beside what the file's length can hold.

A library that reads samples takes what is there and says nothing of the rest, so the promise is read here.
"""

from __future__ import annotations

import struct
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import BinaryIO

MOST_CHUNKS = 1000
UNFINISHED = 0xFFFFFFFF
LARGEST_PLAIN_WAV = 1 << 32

_SUFFIXES = {
    "WAV": (".wav", ".wave", ".rf64", ".bwf"),
    "FLAC": (".flac",),
    "AIFF": (".aif", ".aiff", ".aifc"),
}
_FOREIGN = (
    (b"ID3", "an MP3"),
    (b"OggS", "an Ogg"),
    (b"%PDF", "a PDF"),
    (b"PK\x03\x04", "a zip"),
    (b"\x89PNG", "a PNG"),
    (b"\xff\xd8\xff", "a JPEG"),
    (b"GIF8", "a GIF"),
    (b"\x1aE\xdf\xa3", "a Matroska"),
    (b"riff", "a Wave64"),
    (b"caff", "a CAF"),
    (b"RIFX", "a big-endian WAV"),
)
RIGHT_FORM = "save the recording as WAV, FLAC or AIFF"


@dataclass(frozen=True)
class Promise:
    """What the header says of the samples, and how many bytes of them the file can hold."""

    container: str
    frame_bytes: int
    promised_bytes: int
    present_bytes: int

    @property
    def promised_frames(self) -> int:
        """Frames that the header counts."""
        return self.promised_bytes // self.frame_bytes

    @property
    def missing_frames(self) -> int:
        """Frames that the header counts and the file does not hold."""
        return max(0, self.promised_frames - self.present_bytes // self.frame_bytes)


def read_promise(path: Path) -> Promise | None:
    """Return what the header promises; None for FLAC, whose length shows only as it is read.

    Raises
    ------
    ValueError
        One sentence that names the file, where it is none of these or its header contradicts itself.
    """
    try:
        with path.open("rb") as file:
            head = file.read(512)
            size = file.seek(0, 2)
            return _promise(path.name, file, head, size)
    except OSError as failure:
        raise ValueError(f"{path.name} cannot be read: {(failure.strerror or 'unknown reason').lower()}") from failure


def _promise(name: str, file: BinaryIO, head: bytes, size: int) -> Promise | None:
    if not head:
        raise ValueError(f"{name} is empty (0 bytes); copy or record it again")
    container = _container(head)
    if container is None:
        raise ValueError(f"{name} {_what_it_is(head)}; {RIGHT_FORM}")
    _refuse_other_suffix(name, container)
    if container == "FLAC":
        return None
    if container == "AIFF":
        return _aiff_promise(name, file, size)
    return _wav_promise(name, file, head[:4] == b"RF64", size)


def _container(head: bytes) -> str | None:
    if head[:4] in (b"RIFF", b"RF64") and head[8:12] == b"WAVE":
        return "WAV"
    if head[:4] == b"fLaC":
        return "FLAC"
    if head[:4] == b"FORM" and head[8:12] in (b"AIFF", b"AIFC"):
        return "AIFF"
    return None


def _what_it_is(head: bytes) -> str:
    for start, form in _FOREIGN:
        if head.startswith(start):
            return f"is {form} file by its content"
    if head[4:8] == b"ftyp":
        return "is an MP4 file by its content"
    if len(head) > 1 and head[0] == 0xFF and head[1] & 0xE0 == 0xE0:
        return "is an MP3 or AAC file by its content"
    if not any(head):
        return "starts with nothing but zeros"
    if head[:3] == b"\xef\xbb\xbf" or all(byte >= 32 or byte in b"\t\r\n" for byte in head):
        return "is a text file by its content"
    return "is no audio file that can be read here"


def _refuse_other_suffix(name: str, container: str) -> None:
    suffix = Path(name).suffix.lower()
    for form, suffixes in _SUFFIXES.items():
        if suffix in suffixes and form != container:
            right = Path(name).with_suffix(_SUFFIXES[container][0]).name
            raise ValueError(f"{name} holds {container} by its content, not {form}; rename it to {right}")


def _chunks(file: BinaryIO, order: str, size: int) -> Iterator[tuple[bytes, int, int]]:
    """Yield name, length and place of the content of each chunk, up to the end of the file."""
    place = 12
    for _ in range(MOST_CHUNKS):
        file.seek(place)
        head = file.read(8)
        if len(head) < 8:
            return
        length = struct.unpack(f"{order}I", head[4:])[0]
        yield head[:4], length, place + 8
        place += 8 + length + length % 2
        if place >= size:
            return


def _wav_promise(name: str, file: BinaryIO, is_rf64: bool, size: int) -> Promise:
    frame_bytes = long_bytes = None
    for chunk, length, place in _chunks(file, "<", size):
        file.seek(place)
        if chunk == b"ds64" and is_rf64:
            long_bytes = _unpacked(name, "<8xQ", file.read(16))
        if chunk == b"fmt ":
            frame_bytes = _unpacked(name, "<12xH", file.read(14))
        if chunk != b"data":
            continue
        if not frame_bytes:
            raise ValueError(f"{name} does not say how its samples are stored before they start; {RIGHT_FORM} again")
        promised = long_bytes if long_bytes is not None and length == UNFINISHED else length
        _refuse_unfinished(name, promised, size - place)
        if not is_rf64:
            _refuse_beyond_count(name, (size - place - promised) // frame_bytes, size)
        return Promise("WAV", frame_bytes, promised, max(0, min(promised, size - place)))
    raise ValueError(f"{name} holds a WAV header and no samples after it; copy or record it again")


def _refuse_unfinished(name: str, promised_bytes: int, present_bytes: int) -> None:
    if promised_bytes == UNFINISHED or (promised_bytes == 0 and present_bytes > 0):
        raise ValueError(
            f"{name} was never finished: its header does not say how many samples follow; open it in the program "
            f"that recorded it and save it again"
        )


def _refuse_beyond_count(name: str, frames_beyond: int, size: int) -> None:
    if size > LARGEST_PLAIN_WAV and frames_beyond > 0:
        raise ValueError(
            f"{name} is longer than a plain WAV file can count (4 GB): {frames_beyond} frames lie beyond its header's "
            f"count; save the recording as RF64 or FLAC"
        )


def _aiff_promise(name: str, file: BinaryIO, size: int) -> Promise:
    frame_bytes = promised = None
    samples_place = None
    for chunk, _, place in _chunks(file, ">", size):
        file.seek(place)
        if chunk == b"COMM":
            channels, frames, bits = struct.unpack(">HIH", _whole(name, file.read(8), 8))
            frame_bytes = channels * ((bits + 7) // 8)
            promised = frames * frame_bytes
        if chunk == b"SSND":
            samples_place = place + 8 + _unpacked(name, ">I", file.read(4))
    if not frame_bytes or promised is None or samples_place is None:
        raise ValueError(f"{name} holds an AIFF header without its samples or their form; copy or record it again")
    return Promise("AIFF", frame_bytes, promised, max(0, min(promised, size - samples_place)))


def _whole(name: str, content: bytes, length: int) -> bytes:
    if len(content) < length:
        raise ValueError(f"{name} ends within its header; copy or record it again")
    return content


def _unpacked(name: str, form: str, content: bytes) -> int:
    (number,) = struct.unpack(form, _whole(name, content, struct.calcsize(form)))
    return int(number)
