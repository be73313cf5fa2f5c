"""Nothing acknowledged is lost: not when the program is killed, not when the disk is full."""

from __future__ import annotations

import errno
import json
import os
import subprocess
import sys
from datetime import date
from pathlib import Path

import pytest
from django.conf import settings
from django.db import connection

from groovewright.jobbook import entries
from groovewright.jobbook.chain_check import verify_chain
from groovewright.jobbook.entries import NotWritten
from groovewright.jobbook.models import Attachment, Fault, LedgerEntry

KILLED_WRITERS = Path(__file__).with_name("killed_writers.py")


def test_every_acknowledged_entry_outlives_a_killed_writer(tmp_path):
    run = subprocess.run(
        [sys.executable, str(KILLED_WRITERS), str(tmp_path / "book"), "33"],
        env={**os.environ, "GROOVEWRIGHT_DATA_DIR": "", "DJANGO_SETTINGS_MODULE": "groovewright.site.settings"},
        capture_output=True,
        text=True,
        timeout=120,
        check=False,
    )
    assert run.returncode == 0, run.stderr
    result = json.loads(run.stdout)
    assert result["faults"] == []
    assert result["acknowledged"] > 50
    assert result["lines"] >= result["acknowledged"] + 3


@pytest.mark.django_db(transaction=True)
@pytest.mark.skipif(connection.vendor != "sqlite", reason="fills SQLite's own file")
def test_a_full_disk_gives_one_clear_sentence_and_loses_nothing_acknowledged():
    job = entries.open_job(entries.add_deck(entries.add_owner(), description="deck"), opened=date(2026, 1, 1))
    with connection.cursor() as cursor:
        pages = cursor.execute("PRAGMA page_count").fetchone()[0]
        cursor.execute(f"PRAGMA max_page_count = {pages + 20}")
    acknowledged = []
    with pytest.raises(NotWritten) as refusal:  # noqa: PT012 - fills until it is full
        for number in range(1000):
            acknowledged.append(entries.record_fault(job, text=f"fault {number} " + "x" * 500).pk)
    assert str(refusal.value) == (
        "Nothing of this entry was written: database or disk is full. All that was entered before is safe. "
        "Make room on the disk or free the database, and enter it again."
    )
    assert len(acknowledged) > 5
    assert list(Fault.objects.order_by("pk").values_list("pk", flat=True)) == acknowledged
    with connection.cursor() as cursor:
        cursor.execute("PRAGMA max_page_count = 1073741823")
    entries.record_fault(job, text="after room was made")
    assert verify_chain().fault == ""
    assert verify_chain().lines == len(acknowledged) + 4


@pytest.mark.django_db
def test_a_full_disk_keeps_no_half_of_a_file(bench, monkeypatch):
    before = LedgerEntry.objects.count()

    def full(descriptor: int) -> None:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(NotWritten, match=r"The file was not kept: No space left on device\. All that was entered"):
        entries.attach_file(bench.job, name="new.jpg", media_type="image/jpeg", content=b"never seen before")
    assert Attachment.objects.count() == 1
    assert LedgerEntry.objects.count() == before
    assert not list(Path(settings.CONTENT_DIR).rglob("draft-*"))
