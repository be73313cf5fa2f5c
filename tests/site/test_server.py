"""The server as it is started: on loopback, in its own folder, loudly when it cannot."""

from __future__ import annotations

import os
import signal
import sqlite3
import stat
import subprocess
import sys
import urllib.error
import urllib.request
from collections.abc import Callable, Iterator
from http.client import HTTPResponse
from pathlib import Path
from typing import Any

import pytest

from groovewright.site.static_files import static_hash

SERVE = """
import sys
from pathlib import Path
from groovewright.site.server import StartRefused, serve
try:
    serve(sys.argv[1], int(sys.argv[2]), data_dir=Path(sys.argv[3]), announce=lambda text: print(text, flush=True),
          listening=lambda address, folder: print(address, flush=True), new_password=lambda: sys.argv[4])
except StartRefused as refusal:
    sys.exit(str(refusal))
"""
PASSWORD = "slow brass platter"


class Running:
    """A server in a process of its own."""

    def __init__(self, folder: Path, *, host: str = "127.0.0.1", port: int = 0, password: str = PASSWORD) -> None:
        environment = {key: value for key, value in os.environ.items() if not key.startswith("GROOVEWRIGHT_")}
        self.process = subprocess.Popen(
            [sys.executable, "-c", SERVE, host, str(port), str(folder), password],
            env=environment,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
        )

    def address(self) -> str:
        for line in iter(self.process.stdout.readline, ""):
            if line.startswith("http"):
                return line.strip()
        raise AssertionError(self.process.stderr.read())

    def stop(self) -> tuple[int, str, str]:
        self.process.send_signal(signal.SIGTERM)
        self.process.wait(timeout=20)
        # Not communicate: it would miss what readline has buffered.
        return self.process.returncode, self.process.stdout.read(), self.process.stderr.read()


@pytest.fixture
def start(tmp_path) -> Iterator[Callable[..., Running]]:
    running: list[Running] = []

    def start_one(**options: Any) -> Running:
        running.append(Running(tmp_path / "workshop", **options))
        return running[-1]

    yield start_one
    for server in running:
        if server.process.poll() is None:
            server.process.kill()
        server.process.communicate()


def ask(address: str, **headers: str) -> tuple[int, HTTPResponse | urllib.error.HTTPError]:
    opener = urllib.request.build_opener(urllib.request.ProxyHandler({}))
    try:
        with opener.open(urllib.request.Request(address, headers=headers), timeout=20) as answer:
            answer.body = answer.read()
            return answer.status, answer
    except urllib.error.HTTPError as error:
        error.body = error.read()
        error.close()
        return error.code, error


def test_it_serves_from_a_private_folder_and_stops_in_order(start, tmp_path):
    server = start()
    address = server.address()
    assert address.startswith("http://127.0.0.1:")
    status, answer = ask(f"{address}static/{static_hash()}/fonts/SourceSansPro-Regular.ttf")
    assert (status, len(answer.body) > 50_000) == (200, True)
    assert ask(f"{address}static/{static_hash()}/plotly/plotly.min.js")[0] == 200
    assert ask(f"{address}static/{static_hash()}/plotly/package.json")[0] == 404
    folder = tmp_path / "workshop"
    modes = {path.name: stat.S_IMODE(path.stat().st_mode) for path in (folder, *folder.iterdir()) if path.exists()}
    assert modes["workshop"] == 0o700
    assert modes["secret-key"] == modes["job-book.sqlite3"] == 0o600
    status, out, err = server.stop()
    assert (status, err) == (0, "")
    assert out.strip().endswith("Groovewright has stopped; all that was entered is kept.")


def test_a_page_forbids_all_that_is_not_this_site_and_a_foreign_host_is_refused(start):
    address = start().address()
    _, answer = ask(f"{address}login/")
    policy = answer.headers["Content-Security-Policy"]
    assert "script-src 'self';" in policy
    assert "frame-ancestors 'none'" in policy
    assert answer.headers["X-Content-Type-Options"] == "nosniff"
    assert answer.headers["Referrer-Policy"] == "same-origin"
    cookie = answer.headers["Set-Cookie"]
    assert cookie.startswith("groovewright_csrf=")
    for host in ("elsewhere.example", "127.0.0.1.elsewhere.example"):
        assert ask(f"{address}login/", Host=host)[0] == 400


def test_a_taken_port_is_refused_with_what_to_do(start, tmp_path):
    address = start().address()
    port = int(address.rstrip("/").rpartition(":")[2])
    second = start(port=port)
    out, err = second.process.communicate(timeout=30)
    assert second.process.returncode == 1
    assert out == ""
    assert err.strip() == (
        f"cannot listen on 127.0.0.1, port {port}: Address already in use. Stop the program that uses it (perhaps a "
        "Groovewright still running), or give another with --port; 0 takes a free one."
    )


def test_a_book_that_is_none_is_refused_and_left_as_it_is(start, tmp_path):
    folder = tmp_path / "workshop"
    folder.mkdir()
    book = folder / "job-book.sqlite3"
    book.write_bytes(b"not a book" * 200)
    _, err = start().process.communicate(timeout=30)
    assert "job-book" not in err
    assert "cannot be opened (file is not a database)" in err
    assert book.read_bytes() == b"not a book" * 200


def test_a_book_of_a_newer_version_is_refused(start, tmp_path):
    first = start()
    first.address()
    first.stop()
    with sqlite3.connect(tmp_path / "workshop" / "job-book.sqlite3") as book:
        book.execute(
            "INSERT INTO django_migrations (app, name, applied) VALUES ('jobbook', '0999_later', '2030-01-01 00:00:00')"
        )
    book.close()
    _, err = start().process.communicate(timeout=30)
    assert "was written by a newer Groovewright (0999_later); install that version" in err


def test_beyond_this_machine_it_asks_for_a_password_and_lets_no_one_else_in(start):
    server = start(host="0.0.0.0")
    address = server.address().replace("0.0.0.0", "127.0.0.1")
    _, answer = ask(f"{address}login/")
    assert b'type="password"' in answer.body
    status, _ = ask(f"{address}login/", Host="elsewhere.example")
    assert status == 400
    _, out, _ = server.stop()
    assert "The connection is not encrypted: use it only on a network that you trust." in out


@pytest.mark.parametrize("password", ["short", "password123456"[:11], "1234567890"])
def test_a_weak_password_is_refused(start, password):
    _, err = start(host="0.0.0.0", password=password).process.communicate(timeout=30)
    assert "password" in err
    assert len(err.strip().splitlines()) == 1
