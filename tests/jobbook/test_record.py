"""The record is only added to, whoever tries otherwise and however."""

from __future__ import annotations

import json

import pytest
from django.db import IntegrityError, connection, transaction

from groovewright.jobbook.append_only import unprotected_tables
from groovewright.jobbook.chain_check import verify_chain
from groovewright.jobbook.ledger import FIRST_DIGEST, content_digest, content_of
from groovewright.jobbook.models import RECORD_MODELS, LedgerEntry, Owner, Reading

pytestmark = pytest.mark.django_db
SQLITE = connection.vendor == "sqlite"
TABLES = [model._meta.db_table for model in (*RECORD_MODELS, LedgerEntry)]


def run(statement: str) -> None:
    with transaction.atomic(), connection.cursor() as cursor:
        cursor.execute(statement)


def lift_triggers(table: str) -> None:
    for words in ("no_update", "no_delete"):
        run(f'DROP TRIGGER "{table}_{words}"')


def test_every_table_of_the_record_is_protected():
    assert unprotected_tables(connection, TABLES) == []


def test_a_row_can_be_neither_updated_nor_deleted_nor_replaced(bench):
    key = bench.reading.pk
    for statement in (
        f"UPDATE jobbook_reading SET text = 'better' WHERE id = {key}",
        f"DELETE FROM jobbook_reading WHERE id = {key}",
        "DELETE FROM jobbook_ledger",
        f"REPLACE INTO jobbook_owner (id, uid, recorded_at, recorded_zone, number) "
        f"SELECT id, uid, recorded_at, recorded_zone, 99 FROM jobbook_owner WHERE id = {bench.owner.pk}",
        f"INSERT OR REPLACE INTO jobbook_owner (id, uid, recorded_at, recorded_zone, number) "
        f"SELECT id + 100, uid, recorded_at, recorded_zone, 99 FROM jobbook_owner WHERE id = {bench.owner.pk}",
    ):
        with pytest.raises(IntegrityError, match="only added to"):
            run(statement)
    assert Reading.objects.get(pk=key).text == "222.4 +- 0.2 mm"
    assert Owner.objects.get(pk=bench.owner.pk).number == 1


@pytest.mark.parametrize("change", ["save", "delete", "update", "bulk"])
def test_no_way_through_the_models_changes_a_row(bench, change):
    bench.reading.text = "better"
    ways = {
        "save": bench.reading.save,
        "delete": lambda: Reading.objects.filter(kind="tracking_force").delete(),
        "update": lambda: Reading.objects.update(text="better"),
        "bulk": lambda: Reading.objects.bulk_update([bench.reading], ["text"]),
    }
    with pytest.raises(IntegrityError, match="only added to"), transaction.atomic():
        ways[change]()


def test_every_row_of_the_record_has_one_ledger_line_and_the_chain_holds(bench):
    rows = sum(model.objects.count() for model in RECORD_MODELS)
    report = verify_chain()
    assert report.fault == ""
    assert report.lines == rows == LedgerEntry.objects.count()
    assert report.head == LedgerEntry.objects.latest("sequence").digest


def test_an_empty_book_is_whole():
    assert verify_chain().head == FIRST_DIGEST


@pytest.mark.parametrize(
    "column", [field.column for field in Reading._meta.concrete_fields if field.column not in ("id", "corrects_id")]
)
def test_a_change_to_any_column_is_named(bench, column):
    lift_triggers("jobbook_reading")
    other = {
        "quantity": """'{"value": 222.5, "unit": "mm", "components": [], "why_unknown": "", "how": ""}'""",
        "platform_height": """'{"value": 1, "unit": "mm", "components": [], "why_unknown": "", "how": ""}'""",
        "recorded_at": "'2020-01-01 00:00:00'",
        "uid": "'00000000000000000000000000000001'",
        "withdrawn": "1",
        "job_id": "NULL",
        "gauge_id": "NULL",
        "scale_id": str(bench.scale.pk),
        "plate_id": str(bench.plate.pk),
        "analysis_id": str(bench.analysis.pk),
    }.get(column, "'other'")
    if column == "job_id":
        other = "job_id + 1"
    with connection.constraint_checks_disabled():
        run(f"UPDATE jobbook_reading SET {column} = {other} WHERE id = {bench.reading.pk}")
    assert f"jobbook_reading, row {bench.reading.pk} was changed" in verify_chain().fault
    if column == "job_id":
        run(f"UPDATE jobbook_reading SET job_id = job_id - 1 WHERE id = {bench.reading.pk}")


@pytest.mark.skipif(not SQLITE, reason="PostgreSQL keeps JSON whole by itself")
def test_a_quantity_that_is_no_longer_json_is_named(bench):
    lift_triggers("jobbook_reading")
    run("PRAGMA ignore_check_constraints = ON")
    run(f"UPDATE jobbook_reading SET quantity = 'torn' WHERE id = {bench.reading.pk}")
    run("PRAGMA ignore_check_constraints = OFF")
    assert f"jobbook_reading, row {bench.reading.pk} was changed" in verify_chain().fault
    run(f"UPDATE jobbook_reading SET quantity = NULL WHERE id = {bench.reading.pk}")


def test_a_missing_row_is_named(bench):
    lift_triggers("jobbook_fault")
    key = bench.job.faults.get().pk
    run("DELETE FROM jobbook_fault")
    assert verify_chain().fault.startswith(f"jobbook_fault, row {key} is missing")


def test_a_removed_ledger_line_is_named(bench):
    lift_triggers("jobbook_ledger")
    run("DELETE FROM jobbook_ledger WHERE sequence = 3")
    assert verify_chain().fault == "ledger line 3 is missing"


def test_a_rewritten_ledger_line_is_named(bench):
    lift_triggers("jobbook_ledger")
    run(f"UPDATE jobbook_ledger SET content_digest = '{'a' * 64}' WHERE sequence = 2")
    assert verify_chain().fault.startswith("ledger line 2 (")


def test_a_row_written_past_the_book_is_named(bench):
    run(
        "INSERT INTO jobbook_owner (uid, recorded_at, recorded_zone, number) "
        "VALUES ('00000000000000000000000000000002', '2026-01-01 00:00:00', 'UTC', 7)"
    )
    assert "stands in no ledger line" in verify_chain().fault


def test_a_lost_trigger_is_named(bench):
    lift_triggers("jobbook_deck")
    assert "jobbook_deck has lost the triggers" in verify_chain().fault


def test_the_table_of_targets_kept_its_triggers_when_it_was_changed():
    from groovewright.jobbook.append_only import unprotected_tables

    assert unprotected_tables(connection, ["jobbook_targetchoice"]) == []


@pytest.mark.django_db(transaction=True)
@pytest.mark.skipif(not SQLITE, reason="these settings are SQLite's")
def test_sqlite_syncs_fully_and_keeps_a_write_ahead_log():
    with connection.cursor() as cursor:
        found = {
            name: cursor.execute(f"PRAGMA {name}").fetchone()[0]
            for name in ("journal_mode", "synchronous", "recursive_triggers", "secure_delete")
        }
    assert found == {"journal_mode": "wal", "synchronous": 2, "recursive_triggers": 1, "secure_delete": 1}


def test_a_quantity_is_sealed_as_it_was_stored_not_as_it_would_be_written_today(bench):
    with connection.cursor() as cursor:
        cursor.execute("SELECT quantity FROM jobbook_reading WHERE id = %s", [bench.reading.pk])
        older = json.loads(cursor.fetchone()[0])
    older["a key that no version reads any more"] = 1
    content = content_of(bench.reading) | {"quantity": older}
    lift_triggers("jobbook_reading")
    lift_triggers("jobbook_ledger")
    with connection.cursor() as cursor:
        cursor.execute("UPDATE jobbook_reading SET quantity = %s WHERE id = %s", [json.dumps(older), bench.reading.pk])
    assert "was changed" in verify_chain().fault
    run(
        f"UPDATE jobbook_ledger SET content_digest = '{content_digest(content)}' "
        f"WHERE \"table\" = 'jobbook_reading' AND row_key = {bench.reading.pk}"
    )
    assert verify_chain().fault.startswith("ledger line ")


def test_a_column_that_is_empty_changes_no_digest(bench):
    content = content_of(bench.reading)
    assert content_digest(content | {"added later": None}) == content_digest(content)
    assert content_digest(content | {"added later": 0}) != content_digest(content)
