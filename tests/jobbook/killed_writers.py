"""Run by `test_safety`: writers that are killed at random moments, and what the book holds after each."""

from __future__ import annotations

import json
import os
import random
import signal
import sys
import time
from datetime import date
from pathlib import Path

ROUNDS = 12


def write_until_killed(acknowledge: int) -> None:
    from groovewright.jobbook import entries
    from groovewright.jobbook.models import Job
    from groovewright.measurement.quantity import Quantity

    job = Job.objects.get(number=1)
    count = 0
    while True:
        count += 1
        quantity = Quantity.measured(222 + count / 1000, "mm", standard_uncertainty=0.1, source=f"reading {count}")
        reading = entries.record_reading(
            job, kind="pivot_to_spindle", stage="as found", text=f"{quantity.value} mm", quantity=quantity
        )
        os.write(acknowledge, f"reading {reading.uid}\n".encode())
        if count % 5 == 0:
            file = entries.attach_file(job, name="x", media_type="text/plain", content=os.urandom(20_000))
            os.write(acknowledge, f"file {file.uid}\n".encode())


def one_round(wait_s: float) -> tuple[list[str], int]:
    from django.db import connections

    connections.close_all()
    listen, acknowledge = os.pipe()
    writer = os.fork()
    if writer == 0:
        os.close(listen)
        write_until_killed(acknowledge)
    os.close(acknowledge)
    time.sleep(wait_s)
    os.kill(writer, signal.SIGKILL)
    os.waitpid(writer, 0)
    with os.fdopen(listen, "rb") as stream:
        # A line cut short was never acknowledged.
        lines = stream.read().decode().split("\n")[:-1]
    return lines, writer


def missing(acknowledged: list[str]) -> list[str]:
    from groovewright.jobbook import content_store
    from groovewright.jobbook.models import Attachment, Reading

    readings = {f"reading {uid}" for uid in Reading.objects.values_list("uid", flat=True)}
    files = {f"file {file.uid}" for file in Attachment.objects.all() if content_store.read(file.file_sha256)}
    return sorted(set(acknowledged) - readings - files)


def main() -> None:
    from groovewright.site.server import open_workshop

    open_workshop(Path(sys.argv[1]))
    from groovewright.jobbook import entries
    from groovewright.jobbook.chain_check import verify_chain

    entries.open_job(entries.add_deck(entries.add_owner(), description="deck"), opened=date(2026, 1, 1))
    chance = random.Random(int(sys.argv[2]))
    acknowledged: list[str] = []
    faults: list[str] = []
    for _ in range(ROUNDS):
        lines, _writer = one_round(chance.uniform(0.02, 0.25))
        acknowledged += lines
        faults += missing(acknowledged) + ([verify_chain().fault] if verify_chain().fault else [])
    sys.stdout.write(json.dumps({"acknowledged": len(acknowledged), "lines": verify_chain().lines, "faults": faults}))


if __name__ == "__main__":
    main()
