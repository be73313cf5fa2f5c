"""Recordings on their way in: a long file comes in pieces that are added to a draft beside the kept files."""

from __future__ import annotations

import re
import secrets
import shutil
import time
from collections.abc import Iterable
from pathlib import Path

from django.conf import settings

from groovewright.jobbook.not_written import NotWritten

PIECE_BYTES = 8 * 1024**2
KEPT_FOR_S = 24 * 3600


class UploadRefused(ValueError):  # noqa: N818 - says what happened to the upload
    """The file cannot be taken in; the message says why."""


def begin_upload(name: str, size: int) -> str:
    """Make room for a file of this size and return the word under which its pieces are added."""
    largest = settings.LARGEST_RECORDING_BYTES
    if size > largest:
        raise UploadRefused(
            f"{name} has {in_words(size)}; a recording may have up to {in_words(largest)}. Record one side of the disc "
            "at a time, or save it as FLAC."
        )
    if size < 1:
        raise UploadRefused(f"{name} is empty; choose it again.")
    folder = _folder()
    _remove_forgotten(folder)
    if shutil.disk_usage(folder).free < size:
        raise UploadRefused(f"The disk has no room for the {in_words(size)} of {name}; make room and send it again.")
    upload = secrets.token_hex(16)
    (folder / upload).touch(mode=0o600)
    return upload


def add_piece(upload: str, start: int, blocks: Iterable[bytes]) -> int:
    """Add a piece to the end of an upload; return how long it is now. A piece that is there already changes nothing."""
    draft = draft_of(upload)
    if draft is None:
        raise UploadRefused("This upload is no longer here; choose the file again.")
    size = draft.stat().st_size
    if start != size:
        return size
    try:
        with draft.open("ab") as stream:
            for block in blocks:
                if stream.tell() + len(block) > settings.LARGEST_RECORDING_BYTES:
                    raise UploadRefused(f"The file is longer than {in_words(settings.LARGEST_RECORDING_BYTES)}.")
                stream.write(block)
            return stream.tell()
    except OSError as error:
        raise NotWritten(
            f"The recording was not kept: {error.strerror}. Make room on the disk, and send it again."
        ) from error


def keep_upload(blocks: Iterable[bytes], name: str, size: int) -> str:
    """Take in a file that came whole with its form, and return the word of its upload."""
    upload = begin_upload(name, size)
    add_piece(upload, 0, blocks)
    return upload


def draft_of(upload: str) -> Path | None:
    """Return where an upload lies; None if there is none of that word."""
    if not re.fullmatch(r"[0-9a-f]{32}", upload):
        return None
    draft = _folder() / upload
    return draft if draft.is_file() else None


def in_words(size: int) -> str:
    """Return a size as it is said.

    >>> in_words(4 * 1024**3), in_words(5_400_000)
    ('4 GB', '5.1 MB')
    """
    for unit, step in (("GB", 1024**3), ("MB", 1024**2), ("kB", 1024)):
        if size >= step:
            return f"{size / step:.2g} {unit}" if size / step < 10 else f"{size / step:.0f} {unit}"
    return f"{size} bytes"


def _folder() -> Path:
    folder = Path(settings.CONTENT_DIR) / "uploads"
    folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    return folder


def _remove_forgotten(folder: Path) -> None:
    oldest = time.time() - KEPT_FOR_S
    for draft in folder.iterdir():
        if draft.stat().st_mtime < oldest:
            draft.unlink(missing_ok=True)
