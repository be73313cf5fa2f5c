"""Archives of jobs: one zip that holds `job.json` and the files it names by their hash.

Bytes in, bytes out; nothing is written anywhere. What is read was made elsewhere and is trusted in nothing: names,
sizes, hashes and the shape of the JSON are checked before a byte of content is handed on.
"""

from __future__ import annotations

import hashlib
import io
import json
import re
import struct
import zipfile
import zlib
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

FORMAT = "groovewright jobs"
VERSION = 1
RECORD_NAME = "job.json"
LARGEST_ARCHIVE_BYTES = 512 * 1024**2
LARGEST_CONTENT_BYTES = 1024**3
LARGEST_RECORD_BYTES = 64 * 1024**2
MOST_FILES = 10_000
# Text in a zip shrinks to a tenth or so; what shrinks to less than a two-hundredth was made to fill a disk.
STEEPEST_COMPRESSION = 200
DEEPEST_NESTING = 40

# What zipfile raises for bytes that are no whole zip file, NotImplementedError for a kind of compression that it does
# not know and RuntimeError for an encrypted member among them.
BROKEN_ZIP = (
    zipfile.BadZipFile,
    zlib.error,
    struct.error,
    EOFError,
    NotImplementedError,
    RuntimeError,
    ValueError,
    OverflowError,
    OSError,
)

_FILE_NAME = re.compile(r"files/([0-9a-f]{64})")
# A fixed date, so that the same jobs give the same bytes.
_DATE = (1980, 1, 1, 0, 0, 0)


class ArchiveRefused(ValueError):  # noqa: N818 - says what happened to the archive
    """The archive is broken, foreign, too new or too large; the message says which in one sentence."""


@dataclass(frozen=True)
class Archive:
    """What an archive holds.

    Parameters
    ----------
    rows : mapping of str to list of dict
        Rows by table name, as plain JSON.
    files : mapping of str to bytes
        Contents by their SHA-256.
    """

    rows: Mapping[str, list[dict[str, Any]]]
    files: Mapping[str, bytes]


def pack(archive: Archive) -> bytes:
    """Return the archive as the bytes of a zip file."""
    record = {"format": FORMAT, "version": VERSION, "files": sorted(archive.files), "rows": archive.rows}
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w", zipfile.ZIP_DEFLATED) as package:
        text = json.dumps(record, ensure_ascii=False, allow_nan=False, sort_keys=True, indent=1)
        package.writestr(_entry(RECORD_NAME), text.encode())
        for sha256, content in sorted(archive.files.items()):
            package.writestr(_entry(f"files/{sha256}"), content)
    return buffer.getvalue()


def unpack(content: bytes) -> Archive:
    """Return what the bytes of a zip file hold.

    Raises
    ------
    ArchiveRefused
        If anything about it is not as `pack` writes it.
    """
    if not content:
        raise ArchiveRefused("the archive is empty; export the job again")
    if len(content) > LARGEST_ARCHIVE_BYTES:
        raise ArchiveRefused(
            f"the archive has {len(content) / 1024**2:.0f} MB; up to {LARGEST_ARCHIVE_BYTES // 1024**2} MB are read. "
            "Export fewer jobs at a time."
        )
    try:
        with zipfile.ZipFile(io.BytesIO(content)) as package:
            return _read(package)
    except ArchiveRefused:
        raise
    except BROKEN_ZIP as error:
        raise ArchiveRefused(f"the archive is broken or no zip file ({error}); export the job again") from error


def _entry(name: str) -> zipfile.ZipInfo:
    entry = zipfile.ZipInfo(name, date_time=_DATE)
    entry.compress_type = zipfile.ZIP_DEFLATED
    entry.external_attr = 0o600 << 16
    return entry


def _read(package: zipfile.ZipFile) -> Archive:
    entries = package.infolist()
    _check_entries(entries)
    record = _record(_member(package, RECORD_NAME))
    files = {}
    for entry in entries:
        if entry.filename == RECORD_NAME:
            continue
        sha256 = entry.filename.removeprefix("files/")
        content = _member(package, entry.filename)
        if hashlib.sha256(content).hexdigest() != sha256:
            raise ArchiveRefused(f"the file {sha256[:12]}… in the archive was changed; export the job again")
        files[sha256] = content
    if record.get("files") != sorted(files):
        raise ArchiveRefused(f"the archive holds other files than its {RECORD_NAME} lists; export the job again")
    return Archive(_rows(record), files)


def _check_entries(entries: list[zipfile.ZipInfo]) -> None:
    names = [entry.filename for entry in entries]
    if RECORD_NAME not in names:
        raise ArchiveRefused(f"the zip file holds no {RECORD_NAME}, so it is not an archive of jobs")
    if len(entries) > MOST_FILES:
        raise ArchiveRefused(f"the archive holds {len(entries)} files; up to {MOST_FILES} are read")
    if len(set(names)) < len(names):
        raise ArchiveRefused("the archive holds two files of one name; export the job again")
    stranger = next((name for name in names if name != RECORD_NAME and not _FILE_NAME.fullmatch(name)), None)
    if stranger is not None:
        raise ArchiveRefused(f"the archive holds {stranger[:80]!r}, which no archive of jobs has; nothing was read")
    total = sum(entry.file_size for entry in entries)
    if total > LARGEST_CONTENT_BYTES:
        raise ArchiveRefused(
            f"the archive unpacks to {total / 1024**2:.0f} MB; up to {LARGEST_CONTENT_BYTES // 1024**2} MB are read"
        )
    for entry in entries:
        if entry.compress_type not in (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED):
            raise ArchiveRefused(f"{entry.filename} in the archive is compressed in a way no export uses")
        if entry.file_size > STEEPEST_COMPRESSION * max(entry.compress_size, 1024):
            raise ArchiveRefused(
                f"{entry.filename} in the archive swells from {entry.compress_size} to {entry.file_size} bytes, as no "
                "real file does; nothing was read"
            )
        if entry.filename == RECORD_NAME and entry.file_size > LARGEST_RECORD_BYTES:
            raise ArchiveRefused(
                f"{RECORD_NAME} in the archive has {entry.file_size / 1024**2:.0f} MB; up to "
                f"{LARGEST_RECORD_BYTES // 1024**2} MB are read. Export fewer jobs at a time."
            )


def _member(package: zipfile.ZipFile, name: str) -> bytes:
    # Never more than the directory stated, whatever the compressed stream says.
    stated = package.getinfo(name).file_size
    with package.open(name) as stream:
        content = stream.read(stated + 1)
    if len(content) != stated:
        raise ArchiveRefused(f"{name} in the archive is cut off; export the job again")
    return content


def _record(text: bytes) -> dict[str, Any]:
    try:
        record = json.loads(text, parse_constant=_no_such_number)
    except (ValueError, RecursionError) as error:
        raise ArchiveRefused(f"{RECORD_NAME} in the archive cannot be read ({error}); export the job again") from error
    if not isinstance(record, dict) or record.get("format") != FORMAT:
        raise ArchiveRefused(f"{RECORD_NAME} in the zip file is not of the format {FORMAT!r}; it is no archive of jobs")
    version = record.get("version")
    if not isinstance(version, int) or isinstance(version, bool) or version < 1:
        raise ArchiveRefused(f"{RECORD_NAME} in the archive states no version of its format; export the job again")
    if version > VERSION:
        raise ArchiveRefused(
            f"the archive has version {version} of its format, this Groovewright reads up to {VERSION}; "
            "install a newer one"
        )
    return record


def _rows(record: dict[str, Any]) -> dict[str, list[dict[str, Any]]]:
    rows = record.get("rows")
    if not isinstance(rows, dict) or not all(
        isinstance(table, list) and all(isinstance(row, dict) for row in table) for table in rows.values()
    ):
        raise ArchiveRefused(f"{RECORD_NAME} in the archive has no rows by table; export the job again")
    if _depth(rows) > DEEPEST_NESTING:
        raise ArchiveRefused(f"{RECORD_NAME} in the archive is nested deeper than any record; nothing was read")
    return rows


def _no_such_number(name: str) -> None:
    raise ValueError(f"{name} is no number of JSON")


def _depth(value: Any) -> int:
    deepest, waiting = 0, [(value, 1)]
    while waiting:
        item, depth = waiting.pop()
        deepest = max(deepest, depth)
        inner = item.values() if isinstance(item, dict) else item if isinstance(item, list) else ()
        waiting.extend((child, depth + 1) for child in inner)
    return deepest
