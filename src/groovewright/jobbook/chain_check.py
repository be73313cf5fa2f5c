"""Proof that the record is as it was written: every ledger line, every row, every trigger."""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import islice
from typing import Any

from django.db import connection
from django.db.models import JSONField, TextField
from django.db.models.functions import Cast

from groovewright.jobbook.append_only import unprotected_tables
from groovewright.jobbook.ledger import FIRST_DIGEST, content_digest, line_digest
from groovewright.jobbook.models import RECORD_MODELS, LedgerEntry, Record

MODELS_BY_TABLE = {model._meta.db_table: model for model in RECORD_MODELS}
LINES_AT_ONCE = 500


@dataclass(frozen=True)
class ChainReport:
    """What the check found.

    Attributes
    ----------
    lines : int
        Ledger lines that were read and held, up to the first fault.
    head : str
        Digest of the last line that held: printed on paper, it also proves that nothing was cut off the end.
    fault : str
        The first thing that is wrong, in one sentence; empty when the record is whole.
    """

    lines: int
    head: str
    fault: str = ""


def verify_chain() -> ChainReport:
    """Read the whole record against its ledger and name the first row that does not hold."""
    held, head = 0, FIRST_DIGEST
    lines = LedgerEntry.objects.order_by("sequence").iterator(chunk_size=LINES_AT_ONCE)
    while chunk := tuple(islice(lines, LINES_AT_ONCE)):
        contents = _contents(chunk)
        for line in chunk:
            fault = _fault_of(line, held + 1, head, contents)
            if fault:
                return ChainReport(held, head, fault)
            held, head = line.sequence, line.digest
    return ChainReport(held, head, next(_faults_outside_the_chain(), ""))


def _contents(lines: tuple[LedgerEntry, ...]) -> dict[tuple[str, int], str]:
    keys: dict[str, list[int]] = {}
    for line in lines:
        keys.setdefault(line.table, []).append(line.row_key)
    return {
        (table, key): digest
        for table, rows in keys.items()
        if table in MODELS_BY_TABLE
        for key, digest in _stored_digests(MODELS_BY_TABLE[table], rows)
    }


def _stored_digests(model: type[Record], keys: list[int]) -> Iterator[tuple[int, str]]:
    # JSON is read as it is stored: made into quantities and back, a later version might write it otherwise.
    fields = model._meta.concrete_fields
    stored = {f"stored_{f.name}": Cast(f.name, TextField()) for f in fields if isinstance(f, JSONField)}
    plain = [field.attname for field in fields if not isinstance(field, JSONField)]
    for row in model._default_manager.filter(pk__in=keys).annotate(**stored).values(*plain, *stored):
        content = {name: row[name] for name in plain}
        for name in stored:
            content[name.removeprefix("stored_")] = None if row[name] is None else _read(row[name])
        yield row["id"], content_digest(content)


def _read(stored: str) -> Any:
    try:
        return json.loads(stored)
    except ValueError:
        # No longer JSON: then the digest of the text itself names the row.
        return stored


def _fault_of(line: LedgerEntry, sequence: int, previous: str, contents: dict[tuple[str, int], str]) -> str:
    if line.sequence != sequence:
        return f"ledger line {sequence} is missing"
    expected = line_digest(line.sequence, line.table, line.row_key, line.content_digest, line.previous_digest)
    if line.previous_digest != previous or line.digest != expected:
        return f"ledger line {line.sequence} ({line.table}, row {line.row_key}) was changed after it was written"
    content = contents.get((line.table, line.row_key))
    if content is None:
        return f"{line.table}, row {line.row_key} is missing; ledger line {line.sequence} says it was written"
    if content != line.content_digest:
        return f"{line.table}, row {line.row_key} was changed after it was written (ledger line {line.sequence})"
    return ""


def _faults_outside_the_chain() -> Iterator[str]:
    for table, model in MODELS_BY_TABLE.items():
        listed = LedgerEntry.objects.filter(table=table).values("row_key")
        stray = model._default_manager.exclude(pk__in=listed).order_by("pk").first()
        if stray is not None:
            yield f"{table}, row {stray.pk} stands in no ledger line, so the job book did not write it"
    for table in unprotected_tables(connection, [*MODELS_BY_TABLE, LedgerEntry._meta.db_table]):
        yield f"{table} has lost the triggers that keep its rows from being changed or deleted"
