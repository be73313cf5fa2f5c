"""Run by `test_postgresql` on a server of its own: the job book, filled, attacked and carried on PostgreSQL."""

from __future__ import annotations

import json
import sys
import threading


def main() -> None:
    from groovewright.site.server import open_workshop

    open_workshop()
    from django.db import DatabaseError, connection, transaction

    from groovewright.demo.book import make_demo_workshop
    from groovewright.jobbook import entries
    from groovewright.jobbook.append_only import unprotected_tables
    from groovewright.jobbook.chain_check import verify_chain
    from groovewright.jobbook.job_archive import export_jobs, import_jobs
    from groovewright.jobbook.models import RECORD_MODELS, Fault, Job, LedgerEntry, Owner

    def refusal(statement: str) -> str:
        try:
            with transaction.atomic(), connection.cursor() as cursor:
                cursor.execute(statement)
        except DatabaseError as error:
            return str(error)
        return "it was done"

    make_demo_workshop()
    tables = [model._meta.db_table for model in (*RECORD_MODELS, LedgerEntry)]
    result: dict[str, object] = {
        "unprotected": unprotected_tables(connection, tables),
        "refusals": [
            refusal("UPDATE jobbook_reading SET text = 'better'"),
            refusal("DELETE FROM jobbook_reading"),
            refusal("TRUNCATE jobbook_ledger"),
            refusal(
                "INSERT INTO jobbook_owner SELECT * FROM jobbook_owner WHERE id = 1 "
                "ON CONFLICT (id) DO UPDATE SET number = 99"
            ),
        ],
        "jobs": Job.objects.count(),
    }
    archive = export_jobs(list(Job.objects.all()))
    result["same archive"] = len(import_jobs(archive).known) == Job.objects.count()

    def write() -> None:
        for _ in range(10):
            entries.record_fault(Job.objects.get(number=1), text="from one of two writers")
        connection.close()

    writers = [threading.Thread(target=write) for _ in range(2)]
    for writer in writers:
        writer.start()
    for writer in writers:
        writer.join()
    result["two writers"] = [Fault.objects.filter(text__startswith="from one").count(), verify_chain().fault]
    result["fault"] = verify_chain().fault
    with connection.cursor() as cursor:
        cursor.execute("ALTER TABLE jobbook_owner DISABLE TRIGGER USER")
        cursor.execute("UPDATE jobbook_owner SET number = 99 WHERE id = 1")
        cursor.execute("ALTER TABLE jobbook_owner ENABLE TRIGGER USER")
    result["changed row"] = verify_chain().fault
    assert Owner.objects.get(pk=1).number == 99
    sys.stdout.write(json.dumps(result))


if __name__ == "__main__":
    main()
