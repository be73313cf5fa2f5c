"""The same book on PostgreSQL, where a server binary and the driver are installed."""

from __future__ import annotations

import importlib.util
import json
import os
import pwd
import socket
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

BINARIES = sorted(Path("/usr/lib/postgresql").glob("*/bin/pg_ctl"))
SCRIPT = Path(__file__).with_name("book_on_postgresql.py")
# PostgreSQL refuses to run as root.
ACCOUNT = next((name for name in ("postgres", "nobody") if any(name == user.pw_name for user in pwd.getpwall())), None)

pytestmark = [
    pytest.mark.skipif(not BINARIES, reason="no PostgreSQL server is installed on this machine"),
    pytest.mark.skipif(
        importlib.util.find_spec("psycopg") is None, reason="psycopg is the extra 'postgresql' and is not installed"
    ),
    pytest.mark.skipif(os.geteuid() == 0 and ACCOUNT is None, reason="no account to run PostgreSQL under"),
]


@pytest.fixture(scope="module")
def server_url(tmp_path_factory) -> Iterator[str]:
    folder = tmp_path_factory.mktemp("postgresql")
    data = folder / "data"
    user = {"user": ACCOUNT} if os.geteuid() == 0 else {}
    if user:
        for parent in (folder, folder.parent, folder.parent.parent):
            parent.chmod(0o755)
        os.chown(folder, pwd.getpwnam(str(ACCOUNT)).pw_uid, -1)

    def run(*command: str) -> None:
        subprocess.run(command, check=True, stdout=subprocess.DEVNULL, timeout=60, cwd=folder, **user)

    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    pg_ctl = str(BINARIES[-1])
    run(str(BINARIES[-1].with_name("initdb")), "-D", str(data), "-U", "bench", "--auth=trust", "-N")
    options = f"-p {port} -k {folder} -c listen_addresses=127.0.0.1"
    run(pg_ctl, "-D", str(data), "-o", options, "-l", str(folder / "log"), "-w", "start")
    yield f"postgresql://bench@127.0.0.1:{port}/postgres"
    run(pg_ctl, "-D", str(data), "-m", "immediate", "-w", "stop")


def test_the_book_holds_on_postgresql(server_url, tmp_path):
    run = subprocess.run(
        [sys.executable, str(SCRIPT)],
        env={
            **os.environ,
            "GROOVEWRIGHT_DATABASE_URL": server_url,
            "GROOVEWRIGHT_DATA_DIR": str(tmp_path),
            "DJANGO_SETTINGS_MODULE": "groovewright.site.settings",
        },
        capture_output=True,
        text=True,
        timeout=120,
        check=False,
    )
    assert run.returncode == 0, run.stderr
    result = json.loads(run.stdout)
    refusals = result.pop("refusals")
    assert all("the record is only added to" in refusal for refusal in refusals)
    assert len(refusals) == 4
    assert result == {
        "unprotected": [],
        "fault": "",
        "jobs": 7,
        "same archive": True,
        "two writers": [20, ""],
        "changed row": "jobbook_owner, row 1 was changed after it was written (ledger line 4)",
    }
