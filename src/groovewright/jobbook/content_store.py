"""Files by the hash of what is in them: written once, whole or not at all, never served as static files."""

from __future__ import annotations

import hashlib
import os
import re
import tempfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

from django.conf import settings

from groovewright.jobbook.not_written import NotWritten

BLOCK_BYTES = 4 * 1024**2


class ContentDamaged(Exception):  # noqa: N818 - says what happened to the file
    """A kept file is gone, or is no longer what its hash says."""


def path_of(sha256: str) -> Path:
    """Return where the file with this hash lies or would lie."""
    if not re.fullmatch(r"[0-9a-f]{64}", sha256):
        raise ValueError(f"{sha256[:80]!r} is not a SHA-256 in 64 small hexadecimal digits")
    return Path(settings.CONTENT_DIR) / sha256[:2] / sha256


def keep(content: bytes) -> str:
    """Write the file to the disk, if it is not there yet, and return its hash once it is safe.

    Raises
    ------
    NotWritten
        If the disk takes no more or cannot be written.
    """
    sha256 = hashlib.sha256(content).hexdigest()
    place = path_of(sha256)
    if place.exists():
        return sha256
    try:
        _write_whole(content, place)
    except OSError as error:
        raise NotWritten(
            f"The file was not kept: {error.strerror}. All that was entered before is safe. "
            f"Make room on the disk of {settings.CONTENT_DIR}, and enter it again."
        ) from error
    return sha256


def keep_file(draft: Path) -> str:
    """Move a file that lies in the folder of kept files into its place there, and return its hash once it is safe.

    The file is read in blocks, so its size costs no memory.

    Raises
    ------
    NotWritten
        If the disk cannot be written.
    """
    try:
        with draft.open("rb") as stream:
            os.fsync(stream.fileno())
            sha256 = hashlib.file_digest(stream, "sha256").hexdigest()
        place = path_of(sha256)
        if place.exists():
            draft.unlink()
            return sha256
        place.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
        draft.rename(place)
        _sync_folders_of(place)
    except OSError as error:
        raise NotWritten(
            f"The file was not kept: {error.strerror}. All that was entered before is safe. "
            f"Make room on the disk of {settings.CONTENT_DIR}, and enter it again."
        ) from error
    return sha256


def check(sha256: str, progress: Callable[[float], None]) -> Path:
    """Return where a kept file lies, after reading it in blocks against its hash.

    Parameters
    ----------
    progress : callable
        Told the share that is read, 0 to 1.

    Raises
    ------
    ContentDamaged
        If the file is missing or was changed since it was kept.
    """
    place = path_of(sha256)
    if not place.is_file():
        raise ContentDamaged(f"the file {sha256[:12]}… is not in {place.parent}; bring it back from a backup")
    digest, done, size = hashlib.sha256(), 0, place.stat().st_size
    with place.open("rb") as stream:
        while block := stream.read(BLOCK_BYTES):
            digest.update(block)
            done += len(block)
            progress(min(1.0, done / max(1, size)))
    if digest.hexdigest() != sha256:
        raise ContentDamaged(f"the file {place} was changed since it was kept; bring it back from a backup")
    return place


@contextmanager
def under_name(path: Path, name: str) -> Iterator[Path]:
    """Give a kept file the name that the user knows it by, for as long as something is read and said of it."""
    with tempfile.TemporaryDirectory(dir=settings.CONTENT_DIR, prefix="reading-") as folder:
        named = Path(folder) / (Path(name).name or "file")
        os.link(path, named)
        yield named


def _write_whole(content: bytes, place: Path) -> None:
    place.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
    descriptor, draft = tempfile.mkstemp(dir=place.parent, prefix="draft-")
    try:
        with os.fdopen(descriptor, "wb") as stream:
            stream.write(content)
            stream.flush()
            os.fsync(stream.fileno())
        Path(draft).rename(place)
    except OSError:
        Path(draft).unlink(missing_ok=True)
        raise
    _sync_folders_of(place)


def _sync_folders_of(place: Path) -> None:
    for folder in (place.parent, place.parent.parent, place.parent.parent.parent):
        _sync_folder(folder)


def read(sha256: str) -> bytes:
    """Return the content of a kept file.

    Raises
    ------
    ContentDamaged
        If the file is missing or was changed since it was kept.
    """
    place = path_of(sha256)
    if not place.is_file():
        raise ContentDamaged(f"the file {sha256[:12]}… is no longer in {place.parent}; bring it back from a backup")
    content = place.read_bytes()
    if hashlib.sha256(content).hexdigest() != sha256:
        raise ContentDamaged(f"the file {place} was changed since it was kept; bring it back from a backup")
    return content


def _sync_folder(folder: Path) -> None:
    descriptor = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(descriptor)
    finally:
        os.close(descriptor)
