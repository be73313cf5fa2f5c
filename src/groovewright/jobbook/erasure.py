"""Erased personal data must leave the disk too, not only the tables."""

from __future__ import annotations

from django.db import connection


def leave_no_remains() -> None:
    """Empty SQLite's write-ahead log, which still holds the erased text. Freed pages are zeroed by secure_delete."""
    if connection.vendor == "sqlite" and not connection.in_atomic_block:
        with connection.cursor() as cursor:
            cursor.execute("PRAGMA wal_checkpoint(TRUNCATE)")
