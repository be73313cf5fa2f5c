"""The one door to the record: rows go in with a ledger line each, sealed into one chain."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from datetime import UTC, datetime
from typing import Any, TypeVar

from django.db import OperationalError, connection, transaction
from django.utils import timezone

from groovewright.jobbook.models import LedgerEntry, Record
from groovewright.jobbook.not_written import NotWritten
from groovewright.measurement.quantity import Quantity

FIRST_DIGEST = "0" * 64


@contextmanager
def writing() -> Iterator[None]:
    """Run a block as one entry: all of it is written, or none.

    Raises
    ------
    NotWritten
        If the disk is full, or the database cannot be reached or written.
    """
    try:
        with transaction.atomic():
            _wait_for_other_writers()
            yield
    except OperationalError as error:
        raise NotWritten(
            f"Nothing of this entry was written: {error}. All that was entered before is safe. "
            "Make room on the disk or free the database, and enter it again."
        ) from error


def _wait_for_other_writers() -> None:
    # SQLite has one writer at a time already (transaction_mode IMMEDIATE).
    if connection.vendor == "postgresql":
        with connection.cursor() as cursor:
            cursor.execute(f'LOCK TABLE "{LedgerEntry._meta.db_table}" IN EXCLUSIVE MODE')


R = TypeVar("R", bound=Record)


def append(row: R) -> R:
    """Write one new row and its ledger line. Call it inside `writing`."""
    return append_all([row])[0]


def append_all(rows: Sequence[R]) -> Sequence[R]:
    """Write new rows of one table and their ledger lines. Call it inside `writing`."""
    if not rows:
        return rows
    now, zone = timezone.now(), timezone.get_current_timezone_name()
    for row in rows:
        # A row from an archive keeps the time and the place of its first writing.
        row.recorded_at = row.recorded_at or now
        row.recorded_zone = row.recorded_zone or zone
    model = type(rows[0])
    model._default_manager.bulk_create(rows, batch_size=500)
    last = LedgerEntry.objects.order_by("-sequence").first()
    sequence, digest = (last.sequence, last.digest) if last else (0, FIRST_DIGEST)
    lines = []
    for row in rows:
        line = _line(row, sequence=sequence + 1, previous_digest=digest)
        sequence, digest = line.sequence, line.digest
        lines.append(line)
    LedgerEntry.objects.bulk_create(lines, batch_size=500)
    return rows


def _line(row: Record, *, sequence: int, previous_digest: str) -> LedgerEntry:
    table, key, content = row._meta.db_table, row.pk, content_digest(content_of(row))
    return LedgerEntry(
        sequence=sequence,
        table=table,
        row_key=key,
        content_digest=content,
        previous_digest=previous_digest,
        digest=line_digest(sequence, table, key, content, previous_digest),
    )


def line_digest(sequence: int, table: str, row_key: int, content: str, previous: str) -> str:
    """Return the seal of one ledger line over its own content and the line before."""
    return hashlib.sha256(f"{sequence}|{table}|{row_key}|{content}|{previous}".encode()).hexdigest()


def content_of(row: Record) -> dict[str, Any]:
    """Return all that a row holds, by column."""
    return {field.attname: getattr(row, field.attname) for field in row._meta.concrete_fields}


def content_digest(content: Mapping[str, Any]) -> str:
    """Return the SHA-256 of the content of a row, the same on every database.

    Empty columns stay out, so that a column added later, empty in the old rows, changes no digest.
    """
    plain = {name: _plain(value) for name, value in content.items() if value is not None}
    return hashlib.sha256(json.dumps(plain, sort_keys=True, ensure_ascii=True).encode()).hexdigest()


def _plain(value: Any) -> Any:
    if value is None or isinstance(value, bool | str):
        plain = value
    elif isinstance(value, int | float):
        # Through float: a database may give 100.0 back as 100, and -0.0 as 0.
        plain = float(value) + 0.0
    elif isinstance(value, datetime):
        plain = value.astimezone(UTC).isoformat(timespec="microseconds")
    elif isinstance(value, Quantity):
        plain = _plain(value.as_record())
    elif isinstance(value, dict):
        plain = {str(key): _plain(item) for key, item in value.items()}
    elif isinstance(value, list | tuple):
        plain = [_plain(item) for item in value]
    else:
        plain = str(value)
    return plain
