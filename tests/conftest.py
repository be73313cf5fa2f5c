"""What the tests share: a job book of their own, and a browser that may only talk to the site under test."""

from __future__ import annotations

import os
import re
import shutil
import tempfile
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any
from urllib.parse import urlsplit

import pytest

# As the command does: threads of the linear algebra only wait for each other over small matrices.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page

CHROMIUM_ARGUMENTS = [
    "--headless",
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]
# A form that comes back with its errors answers 422; Chromium notes every answer above 399 in the console.
# A full disk answers 507, which a test brings about. htmx notes a preview that is still under way when the page is
# left; a request that truly failed it notes as "htmx:sendError" besides.
EXPECTED_IN_CONSOLE = re.compile(r"the server responded with a status of (422|507)|^htmx:(sendAbort|afterRequest),")


def pytest_configure(config: pytest.Config) -> None:
    """Give the run a data folder of its own: no test may touch the job book of whoever runs it."""
    from django.conf import settings

    folder = Path(tempfile.mkdtemp(prefix="groovewright-tests-"))
    config.add_cleanup(lambda: shutil.rmtree(folder, ignore_errors=True))
    os.environ["GROOVEWRIGHT_DATA_DIR"] = str(folder)
    settings.DATA_DIR = folder
    settings.CONTENT_DIR = folder / "content"
    # The live server of the tests would answer /workshop/ with the file of that name in the folder it runs in.
    settings.MEDIA_ROOT, settings.MEDIA_URL = str(folder / "media"), "/media/"


@pytest.fixture(scope="session")
def django_db_modify_db_settings() -> None:
    """Keep the test database in a file, as the real one is, so that threads and journals behave alike."""
    from django.conf import settings
    from django.db import connection

    if connection.vendor == "sqlite":
        connection.settings_dict["TEST"]["NAME"] = str(settings.DATA_DIR / "test-job-book.sqlite3")


@pytest.fixture(scope="session", autouse=True)
def _emptying_lifts_the_triggers() -> Iterator[None]:
    """Let Django empty the tables after a test that commits: there alone the append-only triggers are lifted."""
    from django.db import connection
    from django.test import TransactionTestCase

    empty_tables = TransactionTestCase._fixture_teardown

    def teardown(case: Any) -> None:
        if connection.vendor != "sqlite":
            empty_tables(case)
            return
        with connection.cursor() as cursor:
            cursor.execute("SELECT name, sql FROM sqlite_master WHERE type = 'trigger'")
            triggers = cursor.fetchall()
            for name, _ in triggers:
                cursor.execute(f'DROP TRIGGER "{name}"')
        empty_tables(case)
        with connection.cursor() as cursor:
            for _, sql in triggers:
                cursor.execute(sql)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(TransactionTestCase, "_fixture_teardown", teardown)
        yield


@pytest.fixture(scope="session")
def chromium() -> Iterator[Browser]:
    """Start the system's Chromium once for all browser tests."""
    from playwright.sync_api import sync_playwright

    executable = os.environ.get("GROOVEWRIGHT_CHROMIUM") or shutil.which("chromium") or "/usr/bin/chromium"
    if not Path(executable).exists():
        pytest.fail("the browser tests need Chromium: install Debian's package chromium, or run the test command")
    with pytest.MonkeyPatch.context() as patch, sync_playwright() as playwright:
        # Playwright keeps an event loop in this thread; the tests read the job book beside it, never inside it.
        patch.setenv("DJANGO_ALLOW_ASYNC_UNSAFE", "true")
        browser = playwright.chromium.launch(executable_path=executable, args=CHROMIUM_ARGUMENTS)
        yield browser
        browser.close()


@pytest.fixture
def open_page(chromium: Browser, live_server: Any) -> Iterator[Callable[..., Page]]:
    """Return a function that opens a fresh page on the site; options are those of a Playwright browser context.

    The test fails if a page asked for anything off this site, or wrote an error to its console.
    """
    site = urlsplit(live_server.url).netloc
    complaints: list[str] = []
    contexts = []

    def guard(route: Any) -> None:
        address = urlsplit(route.request.url)
        if address.scheme in ("data", "blob") or address.netloc == site:
            route.continue_()
            return
        complaints.append(f"asked for {route.request.url}, which is off the site")
        route.abort()

    def note_console(message: Any) -> None:
        if message.type == "error" and not EXPECTED_IN_CONSOLE.search(message.text):
            complaints.append(f"console error: {message.text}")

    def open_one(**options: Any) -> Page:
        context = chromium.new_context(**{"base_url": live_server.url, "accept_downloads": True, **options})
        context.set_default_timeout(10_000)
        contexts.append(context)
        context.route("**/*", guard)
        page = context.new_page()
        page.on("console", note_console)
        page.on("pageerror", lambda error: complaints.append(f"script error: {error}"))
        return page

    yield open_one
    for context in contexts:
        context.close()
    assert not complaints, "\n".join(complaints)


@pytest.fixture
def page(open_page: Callable[..., Page]) -> Page:
    """A page of 1280 x 900 in the light theme, on a fresh live site with an empty job book."""
    return open_page(viewport={"width": 1280, "height": 900}, color_scheme="light")
