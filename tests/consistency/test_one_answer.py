"""One question, one answer: list, bench, report and commands say the same of every setting of every job.

Two hundred jobs are made at random, and the demo's besides. What each place says is taken from what it really gives:
the page's HTML, the text of the PDF, the JSON of the commands. Nothing is compared with how the program formats it.
"""

from __future__ import annotations

import html
import json
import re
from collections import defaultdict
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner
from pdfminer.high_level import extract_pages
from pdfminer.layout import LTTextContainer, LTTextLine
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


TITLES = {
    "effective_length": "Effective length",
    "tracking_force": "Tracking force",
    "side_force": "Side force",
    "zenith": "Zenith",
    "azimuth": "Azimuth",
    "stylus_rake_angle": "Stylus rake angle",
    "vertical_tracking_angle": "Vertical tracking angle",
}
GRAM_FORCE_MN = 9.80665


def plain(markup: str) -> str:
    """Return the words of a piece of HTML."""
    return " ".join(html.unescape(re.sub(r"<[^>]+>", " ", markup)).split())


def first_number(text: str) -> float:
    """Return the first number of a text, whatever its minus sign."""
    words = plain(text).replace("\N{MINUS SIGN}", "-")
    return float(re.search(r"-?\d+(?:\.\d+)?", words)[0])


def in_shown_unit(setting: dict[str, Any]) -> float:
    """Return the value as pages print it: a tracking force in grams."""
    value = setting["quantity"]["value"]
    return value / GRAM_FORCE_MN if setting["key"] == "tracking_force" else value


def half_a_digit(text: str) -> float:
    """Return half of the last digit that is printed of the first number of a text, and a little."""
    digits = re.search(r"\d+(?:\.(\d+))?", plain(text))[1] or ""
    return 0.5001 * 10 ** -len(digits)


def expected_words(setting: dict[str, Any]) -> str:
    return setting["verdict"] or ("no limits" if setting["quantity"] else setting["basis"])


def rows_of_settings(pdf: Path) -> dict[str, dict[str, str]]:
    """Return what the table of the seven says in a PDF, by title and stage, by where its words are on the page."""
    rows: dict[str, dict[str, str]] = defaultdict(lambda: {"as_found": "", "as_left": ""})
    lines = []
    for page in extract_pages(pdf):
        boxes = [box for box in page if isinstance(box, LTTextContainer)]
        lines = [
            (line.x0, line.y0, line.get_text().strip()) for box in boxes for line in box if isinstance(line, LTTextLine)
        ]
        if any(text == "Setting, limits" for _, _, text in lines):
            break
    heads = {text: (x, y) for x, y, text in lines if text in ("As found", "As left", "Setting, limits")}
    table = [line for line in lines if line[1] < heads["Setting, limits"][1]]
    starts = sorted(
        ((y, text) for x, y, text in table if x < heads["As found"][0] - 50 and text in TITLES.values()), reverse=True
    )
    assert len(starts) == len(TITLES), starts
    edges = [y + 6 for y, _ in starts] + [starts[-1][0] - 26]
    middle = (heads["As found"][0] + heads["As left"][0]) / 2
    for (_, title), top, bottom in zip(starts, edges, edges[1:], strict=False):
        inside = sorted(
            (line for line in table if bottom < line[1] <= top and line[0] >= heads["As found"][0] - 8),
            key=lambda line: (-line[1], line[0]),
        )
        rows[title]["as_found"] = " ".join(text for x, _, text in inside if x < middle)
        rows[title]["as_left"] = " ".join(text for x, _, text in inside if x >= middle)
    return rows


def lines_of_list(client: Any) -> dict[int, str]:
    """Return the words of every line of the list of jobs, by number."""
    lines = {}
    page = 1
    while True:
        answer = client.get("/", {"page": page, "states": "all"}).content.decode()
        for part in answer.split("<li>")[1:]:
            if number := re.search(r'<span class="no">(\d+)</span>', part):
                lines[int(number[1])] = plain(part)
        if ">Older</a>" not in answer:
            return lines
        page += 1


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


def test_list_and_bench_say_what_the_state_says(jobs, book, client):
    lines = lines_of_list(client)
    for number in jobs:
        state = command("state", number, "--json", "--data-dir", book)["settings"]
        line = lines[number]
        bench = client.get(f"/jobs/{number}/bench/").content.decode()
        for setting in state["as_left"] or state["as_found"]:
            title, where = TITLES[setting["key"]], (number, setting["key"])
            row = re.search(rf'<li class="setting" id="setting-{setting["key"]}">(.*?)</li>', bench, re.DOTALL)[1]
            words = re.findall(r'class="verdict-word ([a-z-]+)"', row)
            verdict = [setting["verdict"].replace(" ", "-")] if setting["verdict"] else []
            assert words == verdict + ["calculated"] * (setting["basis"] == "calculated"), where
            value = re.search(r'class="setting-value">(.*?)</p>', row, re.DOTALL)[1]
            if setting["quantity"]:
                assert abs(first_number(value) - in_shown_unit(setting)) <= half_a_digit(value), where
            else:
                assert plain(value) == setting["basis"], where
            assert f"{title}: {expected_words(setting)}" in line, (where, line)
        if state["as_left"]:
            for setting in state["as_found"]:
                row = re.search(rf'<li class="setting" id="setting-{setting["key"]}">(.*?)</li>', bench, re.DOTALL)[1]
                found = re.search(r'class="setting-found">found (.*?)</p>', row, re.DOTALL)
                assert (found is not None) == (setting["quantity"] is not None), (number, setting["key"])
                if found:
                    assert abs(first_number(found[1]) - in_shown_unit(setting)) <= half_a_digit(found[1])


def test_the_report_prints_what_the_state_says(jobs, book):
    for number in jobs:
        state = command("state", number, "--json", "--data-dir", book)["settings"]
        out = book / f"report-{number}.pdf"
        command("job", "report", number, "--json", "--data-dir", book, "--out", out, "--part", "customer")
        rows = rows_of_settings(out)
        for stage in ("as_found", "as_left"):
            for setting in state[stage] or ():
                said, where = rows[TITLES[setting["key"]]][stage], (number, stage, setting["key"])
                assert expected_words(setting) in said, (where, said)
                assert ("calculated" in said) == (setting["basis"] == "calculated"), (where, said)
                if setting["quantity"]:
                    assert abs(first_number(said) - in_shown_unit(setting)) <= half_a_digit(said), (where, said)
