"""One question, one answer: list, bench, report and commands say the same of every setting of every job.

Two hundred jobs are made at random, and the demo's besides. What each place says is taken from what it really gives:
the page's HTML, the text of the PDF, the JSON of the commands. Nothing is compared with how the program formats it.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from typing import Any

import pytest
from click.testing import CliRunner
from tests.consistency.random_jobs import make_random_job

from groovewright.jobbook.models import Job

pytestmark = pytest.mark.django_db

JOBS = 200


@pytest.fixture(scope="module")
def jobs(
    django_db_setup: None, django_db_blocker: Any, tmp_path_factory: pytest.TempPathFactory
) -> Iterator[list[int]]:
    """Return the numbers of two hundred jobs at random and those of the demo."""
    from django.conf import settings
    from django.db import transaction

    from groovewright.demo.book import make_demo_workshop

    with django_db_blocker.unblock(), transaction.atomic():
        before, settings.CONTENT_DIR = settings.CONTENT_DIR, tmp_path_factory.mktemp("content")
        make_demo_workshop()
        for seed in range(JOBS):
            make_random_job(seed)
        yield list(Job.objects.order_by("number").values_list("number", flat=True))
        settings.CONTENT_DIR = before
        transaction.set_rollback(True)


def command(*words: object) -> dict[str, Any]:
    from groovewright.cli.main import main

    ran = CliRunner().invoke(main, [str(word) for word in words])
    assert ran.exit_code == 0, (words, ran.output, ran.exception)
    return json.loads(ran.stdout)


@pytest.fixture
def book(monkeypatch: pytest.MonkeyPatch, tmp_path: Any) -> Any:
    """Let the commands work on the book of the test."""
    monkeypatch.setattr("groovewright.site.server.open_workshop", lambda folder: tmp_path)
    return tmp_path


def test_state_and_report_carry_the_same_settings_and_nothing_unread_is_in_tolerance(jobs, book):
    seen = set()
    for number in jobs:
        state = command("state", number, "--json", "--data-dir", book)["settings"]
        report = command("job", "report", number, "--json", "--data-dir", book, "--out", book / "report.pdf")
        assert report["settings"] == state, number
        for stage in ("as_found", "as_left"):
            for setting in state[stage] or ():
                seen.add((setting["basis"], setting["verdict"]))
                if setting["basis"] != "read":
                    assert setting["verdict"] != "in tolerance", (number, stage, setting["key"])
                if setting["quantity"] is None:
                    assert setting["verdict"] is None
    # The jobs are of every sort, so that the test can fail.
    assert {
        ("read", "in tolerance"),
        ("read", "out of tolerance"),
        ("read", "undecided"),
        ("calculated", "undecided"),
        ("calculated", "out of tolerance"),
        ("not read", None),
        ("does not apply", None),
    } <= seen
