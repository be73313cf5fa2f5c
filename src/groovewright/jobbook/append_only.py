"""Database triggers that refuse to change or delete a row of the record."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

REFUSAL = "the record is only added to: write a new row that names the one it corrects"


def protect(connection: Any, tables: Iterable[str]) -> None:
    """Make the triggers on `tables`, for SQLite or PostgreSQL."""
    statements = {"sqlite": _sqlite_triggers, "postgresql": _postgresql_triggers}.get(connection.vendor)
    if statements is None:
        raise ValueError(f"the job book runs on SQLite or PostgreSQL, not on {connection.vendor}")
    with connection.cursor() as cursor:
        for table in tables:
            for statement in statements(table):
                cursor.execute(statement)


def unprotected_tables(connection: Any, tables: Iterable[str]) -> list[str]:
    """Return those of `tables` on which a trigger is missing."""
    catalogue = (
        "SELECT tbl_name, name FROM sqlite_master WHERE type = 'trigger'"
        if connection.vendor == "sqlite"
        else "SELECT relname, tgname FROM pg_trigger JOIN pg_class ON pg_class.oid = tgrelid WHERE tgenabled = 'O'"
    )
    with connection.cursor() as cursor:
        cursor.execute(catalogue)
        present = set(cursor.fetchall())
    last_words = ("no_update", "no_delete") if connection.vendor == "sqlite" else ("no_change", "no_truncate")
    return [t for t in tables if any((t, f"{t}_{words}") not in present for words in last_words)]


def _sqlite_triggers(table: str) -> list[str]:
    return [
        f"""CREATE TRIGGER "{table}_no_{event}" BEFORE {event.upper()} ON "{table}"
            BEGIN SELECT RAISE(ABORT, '{REFUSAL}'); END"""
        for event in ("update", "delete")
    ]


def _postgresql_triggers(table: str) -> list[str]:
    return [
        f"""CREATE OR REPLACE FUNCTION jobbook_refuse() RETURNS trigger LANGUAGE plpgsql
            AS $$ BEGIN RAISE EXCEPTION '{REFUSAL}' USING ERRCODE = 'restrict_violation'; END $$""",
        f"""CREATE TRIGGER "{table}_no_change" BEFORE UPDATE OR DELETE ON "{table}"
            FOR EACH ROW EXECUTE FUNCTION jobbook_refuse()""",
        f"""CREATE TRIGGER "{table}_no_truncate" BEFORE TRUNCATE ON "{table}"
            FOR EACH STATEMENT EXECUTE FUNCTION jobbook_refuse()""",
    ]
