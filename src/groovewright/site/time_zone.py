"""The time zone of the bench."""

from __future__ import annotations

import os
from pathlib import Path
from zoneinfo import available_timezones

LOCAL_TIME = Path("/etc/localtime")


def bench_time_zone() -> str:
    """Return the zone named by GROOVEWRIGHT_TIME_ZONE, else the machine's own, else UTC."""
    named = os.environ.get("GROOVEWRIGHT_TIME_ZONE")
    zones = available_timezones()
    if named and named not in zones:
        raise ValueError(f"GROOVEWRIGHT_TIME_ZONE is {named!r}; it has to be a zone such as Europe/Rome or UTC")
    if named:
        return named
    of_machine = str(LOCAL_TIME.resolve()).rpartition("zoneinfo/")[2]
    return of_machine if of_machine in zones else "UTC"
