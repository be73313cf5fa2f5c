"""Start and stop of a workshop: its folder, its book, its web server."""

from __future__ import annotations

import ipaddress
import logging
import os
import signal
import socket
import sys
import threading
import webbrowser
from collections.abc import Callable
from pathlib import Path
from typing import Any

from groovewright.site.data_dir import DATA_DIR_VARIABLE, data_dir, prepare_data_dir

SETTINGS_MODULE = "groovewright.site.settings"
LARGEST_REQUEST_BYTES = 264 * 1024**2
"""The largest archive, 256 MB, with room for the form around it; kept on the disk. Recordings come in pieces."""


class StartRefused(Exception):  # noqa: N818 - says what happened at start
    """The workshop cannot be opened or served; the message says why and what to do."""


def open_workshop(folder: Path | None = None) -> Path:
    """Open the job book in `folder` for this process, made or brought up to date first; return the folder.

    Commands that read or write the book call this before they import it. A process opens one workshop.
    """
    place = _begin(folder)
    _bring_up_to_date(place)
    return place


def serve(
    host: str = "127.0.0.1",
    port: int = 8713,
    *,
    data_dir: Path | None = None,
    open_browser: bool = False,
    announce: Callable[[str], None] = print,
    new_password: Callable[[], str] | None = None,
    listening: Callable[[str, Path], None] | None = None,
) -> None:
    """Serve the workshop until it is stopped by a signal or from the keyboard.

    Parameters
    ----------
    host, port : str, int
        Where to listen; port 0 takes a free one. Anything but this machine's own loopback needs a login.
    data_dir : Path, optional
        The workshop's folder.
    open_browser : bool
        Whether to show the first page in the user's browser.
    announce : callable
        Given sentences for the user: where it listens, cautions, that it has stopped.
    new_password : callable, optional
        Asked for the workshop's password when it has none and the host is not loopback.
    listening : callable, optional
        Given the bare address and the workshop's folder once the server listens.

    Raises
    ------
    StartRefused
        If the port is taken, the host cannot be listened on, or the folder or the book cannot be used.
    """
    wider = not _is_loopback(host)
    if wider:
        os.environ["GROOVEWRIGHT_LISTENS_WIDER"] = "1"
        os.environ["GROOVEWRIGHT_HOST_NAMES"] = " ".join(_names_of_this_machine(host))
    place = _begin(data_dir)
    # The port first: an older server still running on it may have this very book open.
    server = _listen(host, port)
    try:
        _bring_up_to_date(place)
        if wider:
            _see_to_password(new_password)
        address = f"http://{f'[{host}]' if ':' in host else host}:{server.effective_port}/"
        announce(f"Groovewright serves {place} at {address}  (stop it with Ctrl+C)")
        if listening is not None:
            listening(address, place)
        if wider:
            announce("The connection is not encrypted: use it only on a network that you trust.")
        if open_browser:
            threading.Thread(target=webbrowser.open, args=(address,), daemon=True).start()
        _run_until_stopped(server)
    finally:
        server.close()
    announce("Groovewright has stopped; all that was entered is kept.")


def _begin(folder: Path | None) -> Path:
    if folder is not None:
        os.environ[DATA_DIR_VARIABLE] = str(folder)
    place = data_dir()
    try:
        prepare_data_dir(place)
    except OSError as error:
        raise StartRefused(
            f"the folder {place} cannot be used ({error.strerror}); name another with --data-dir"
        ) from error
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", SETTINGS_MODULE)
    import django

    try:
        django.setup()
    except ValueError as error:
        raise StartRefused(str(error)) from error
    return place


def _bring_up_to_date(place: Path) -> None:
    from django.core.management import call_command
    from django.db import DatabaseError, connection
    from django.db.migrations.loader import MigrationLoader

    try:
        loader = MigrationLoader(connection)
        foreign = [
            name
            for app, name in loader.applied_migrations
            if app == "jobbook" and (app, name) not in loader.disk_migrations
        ]
        if foreign:
            raise StartRefused(
                f"the job book in {place} was written by a newer Groovewright ({max(foreign)}); install that version"
            )
        call_command("migrate", verbosity=0, interactive=False)
    except DatabaseError as error:
        raise StartRefused(
            f"the job book in {place} cannot be opened ({error}). Free the disk or the database, or bring the book "
            "back from a backup; nothing was changed."
        ) from error
    if connection.vendor == "sqlite":
        Path(connection.settings_dict["NAME"]).chmod(0o600)


def _listen(host: str, port: int) -> Any:
    from waitress.server import create_server

    from groovewright.site.wsgi import application

    # A browser asks for more files at once than there are threads; that they wait a moment is no news for the user.
    logging.getLogger("waitress.queue").setLevel(logging.ERROR)
    try:
        return create_server(
            application,
            host=host,
            port=port,
            threads=8,
            ident=None,
            max_request_body_size=LARGEST_REQUEST_BYTES,
            clear_untrusted_proxy_headers=True,
        )
    except (OSError, ValueError) as error:
        raise StartRefused(
            f"cannot listen on {host}, port {port}: {getattr(error, 'strerror', None) or error}. Stop the program that "
            "uses it (perhaps a Groovewright still running), or give another with --port; 0 takes a free one."
        ) from error


def _see_to_password(new_password: Callable[[], str] | None) -> None:
    from django.core.exceptions import ValidationError

    from groovewright.site.login import password_is_set, set_password

    if password_is_set():
        return
    if new_password is None:
        raise StartRefused("to listen beyond this machine the workshop needs a password; set one first")
    try:
        set_password(new_password())
    except ValidationError as error:
        raise StartRefused(" ".join(error.messages)) from error


def _run_until_stopped(server: Any) -> None:
    # Waitress finishes the requests in hand when it is asked to exit.
    if threading.current_thread() is threading.main_thread():
        signal.signal(signal.SIGTERM, lambda *_: sys.exit(0))
    server.run()


def _is_loopback(host: str) -> bool:
    if host == "localhost":
        return True
    try:
        return ipaddress.ip_address(host).is_loopback
    except ValueError:
        return False


def _names_of_this_machine(host: str) -> list[str]:
    name = socket.gethostname()
    names = {name, f"{name}.local", f"[{host}]" if ":" in host else host}
    try:
        found = socket.getaddrinfo(name, None)
    except socket.gaierror:
        found = []
    names.update(str(address[4][0]) for address in found)
    return sorted(names - {"0.0.0.0", "[::]"})
