"""Archives from elsewhere: read when whole, refused in one sentence when not."""

from __future__ import annotations

import hashlib
import io
import json
import zipfile

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from groovewright.files import archive
from groovewright.files.archive import Archive, ArchiveRefused, pack, unpack

CONTENT = b"a plate" * 50
WHOLE = Archive({"job": [{"number": 4}], "owner": []}, {hashlib.sha256(CONTENT).hexdigest(): CONTENT})


def zipped(members: dict[str, bytes], *, method: int = zipfile.ZIP_DEFLATED) -> bytes:
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w", method) as package:
        for name, content in members.items():
            package.writestr(name, content)
    return buffer.getvalue()


def record(**changes: object) -> bytes:
    return json.dumps({"format": archive.FORMAT, "version": 1, "files": [], "rows": {}, **changes}).encode()


def test_what_is_packed_is_unpacked_and_equal_jobs_give_equal_bytes():
    assert unpack(pack(WHOLE)) == WHOLE
    assert pack(WHOLE) == pack(WHOLE)


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"", "is empty"),
        (b"not a zip at all", "broken or no zip file"),
        (pack(WHOLE)[:-30], "broken or no zip file"),
        (zipped({"letter.txt": b"hello"}), "no job.json"),
        (zipped({"job.json": b"{"}), "cannot be read"),
        (zipped({"job.json": b"\xff\xfe{"}), "cannot be read"),
        (zipped({"job.json": b"[" * 100_000}), "cannot be read"),
        (zipped({"job.json": b"[]"}), "is not of the format"),
        (zipped({"job.json": b'{"format": "something else"}'}), "is not of the format"),
        (zipped({"job.json": record(version=None)}), "states no version"),
        (zipped({"job.json": record(version=True)}), "states no version"),
        (zipped({"job.json": record(version=2)}), "reads up to 1; install a newer one"),
        (zipped({"job.json": record(rows=[])}), "no rows by table"),
        (zipped({"job.json": record(rows={"job": [1]})}), "no rows by table"),
        (zipped({"job.json": record().replace(b"{}", b'{"job": [{"a": NaN}]}')}), "NaN is no number"),
        (zipped({"job.json": record(files=["0" * 64])}), "other files than its job.json lists"),
        (zipped({"job.json": record(files=3)}), "other files than its job.json lists"),
        (zipped({"job.json": record(), "../../evil": b"x"}), "which no archive of jobs has"),
        (zipped({"job.json": record(), "/etc/passwd": b"x"}), "which no archive of jobs has"),
        (zipped({"job.json": record(), f"files/{'0' * 64}": b"x"}), "was changed"),
        (zipped({"job.json": record(), f"files/{'0' * 64}": bytes(3_000_000)}), "swells from"),
        (zipped({"job.json": record()}, method=zipfile.ZIP_LZMA), "compressed in a way"),
    ],
)
def test_what_is_not_an_archive_of_jobs_is_refused(content, words):
    with pytest.raises(ArchiveRefused, match=words) as refusal:
        unpack(content)
    assert "\n" not in str(refusal.value)


@pytest.mark.filterwarnings("ignore:Duplicate name")
def test_two_files_of_one_name_are_refused():
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w") as package:
        package.writestr("job.json", record())
        package.writestr("job.json", record())
    with pytest.raises(ArchiveRefused, match="two files of one name"):
        unpack(buffer.getvalue())


@pytest.mark.parametrize(
    ("limit", "value", "words"),
    [
        ("LARGEST_ARCHIVE_BYTES", 100, "are read. Export fewer"),
        ("LARGEST_CONTENT_BYTES", 100, "unpacks to"),
        ("LARGEST_RECORD_BYTES", 10, "Export fewer jobs"),
        ("MOST_FILES", 1, "holds 2 files; up to 1"),
        ("DEEPEST_NESTING", 2, "nested deeper"),
    ],
)
def test_bounds_are_kept(monkeypatch, limit, value, words):
    monkeypatch.setattr(archive, limit, value)
    with pytest.raises(ArchiveRefused, match=words):
        unpack(pack(WHOLE))


def test_a_member_that_states_too_small_a_size_is_refused():
    whole = pack(WHOLE)
    # The size before compression stands in the central directory, 24 bytes after its mark.
    at = whole.rindex(b"PK\x01\x02") + 24
    lying = whole[:at] + (7).to_bytes(4, "little") + whole[at + 4 :]
    with pytest.raises(ArchiveRefused):
        unpack(lying)


@settings(max_examples=150, deadline=None)
@given(st.integers(0, len(pack(WHOLE)) - 1), st.integers(1, 255))
def test_a_flipped_byte_never_passes_as_something_else(position, flip):
    content = bytearray(pack(WHOLE))
    content[position] ^= flip
    try:
        read = unpack(bytes(content))
    except ArchiveRefused:
        return
    assert read == WHOLE
