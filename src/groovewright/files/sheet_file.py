"""A sheet or table in a text file: read with a limit, and refused with the file's name before what is wrong in it."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TypeVar

LARGEST_BYTES = 100_000

Read = TypeVar("Read")


def load_sheet(path: Path, read: Callable[[str], Read], *, what: str) -> Read:
    """Return what `read` makes of the text of a file.

    Parameters
    ----------
    path : Path
        A text file in UTF-8 of at most 100 kB.
    read : callable
        Turns the text into what it says, or raises ValueError with one sentence.
    what : str
        What the file should be, for refusals, such as ``"a band sheet"``.

    Raises
    ------
    ValueError
        One sentence that names the file.
    """
    try:
        with path.open("rb") as file:
            content = file.read(LARGEST_BYTES + 1)
    except (OSError, ValueError) as failure:
        reason = (getattr(failure, "strerror", None) or "unknown reason").lower()
        raise ValueError(f"{path} cannot be read: {reason}") from failure
    if len(content) > LARGEST_BYTES:
        raise ValueError(f"{path} is larger than {LARGEST_BYTES // 1000} kB; {what} is a page of text")
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError as failure:
        raise ValueError(f"{path} is not a text file in UTF-8; {what} is plain text") from failure
    try:
        return read(text)
    except ValueError as refusal:
        raise ValueError(f"{path}: {refusal}") from refusal
