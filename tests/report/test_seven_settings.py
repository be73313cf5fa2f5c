"""The seven settings, the moves and the visit before, in a report of a job that has them, and in none that has not."""

from __future__ import annotations

import pytest

from groovewright.demo.book import make_demo_workshop
from groovewright.jobbook.models import Job
from groovewright.measurement.conformity import Tolerance
from groovewright.measurement.quantity import Quantity
from groovewright.report.bench_layout import setting_rows
from groovewright.report.contents import contents_of_job
from groovewright.report.layout import lay_out
from groovewright.report.parts import AS_FOUND, AS_LEFT, SettingLine
from groovewright.report.pdf import report_pdf

pytestmark = pytest.mark.django_db


@pytest.fixture
def contents(db):
    make_demo_workshop()
    return {number: contents_of_job(Job.objects.get(number=number)) for number in (2, 8, 9)}


def test_a_report_lists_the_seven_the_moves_and_the_visit_before_where_there_are_any(contents):
    assert (contents[2].settings, contents[2].moves, contents[2].visit_before) == ((), (), None)
    first, second = contents[8], contents[9]
    assert len(first.settings) == len(second.settings) == 7
    assert (first.settings_stage, second.settings_stage) == (AS_LEFT, AS_FOUND)
    assert [line.verdict.outcome for line in first.settings] == ["in tolerance"] * 7
    assert [move.number for move in first.moves] == [1, 2, 3, 4, 5]
    assert first.visit_before is None
    assert second.moves == ()
    assert "185 days earlier. The stylus has played 145 hours since." in second.visit_before.sentence
    changed = [line.setting for line in second.visit_before.changes if "changed by" in line.sentence]
    assert changed == ["Tracking force", "Side force left"]
    assert any("5 moves were made" in sentence for sentence in first.done)
    assert not any("Azimuth" in sentence for sentence in first.missing)
    assert "what was read of it is not drawn" in first.curves_note


def test_the_tables_are_printed_with_forces_in_grams_and_few_digits(contents):
    tree = lay_out(contents[8])
    rows = {row["setting"]: row for row in tree["settings"]}
    assert rows["Tracking force"]["unit"] == "g"
    assert rows["Tracking force"]["tolerance"] == "1.5 to 2 g"
    assert rows["Tracking force"]["aim"] == "aim 1.75 g"
    assert len(rows["Side force left"]["tolerance"]) < len("\u22120.0855 to 0.0654 g and more")
    assert tree["moves"][0]["amounts"] == ["arm raised 6.00 mm ± 0.32 mm"]
    assert lay_out(contents[9])["visit_before"]["rows"][1]["sentence"].startswith("Tracking force changed by")
    assert lay_out(contents[2])["settings"] == []


def test_a_setting_that_was_not_read_or_has_no_limits_says_so():
    aim = Quantity.exact(0.0, "deg")
    unread, unlimited = setting_rows(
        (
            SettingLine("Azimuth", None, aim, Tolerance(-0.5, 0.5, "deg"), None),
            SettingLine("Zenith error", Quantity.exact(0.2, "deg"), None, None, None, "to be read again"),
        )
    )
    assert (unread["value"], unread["tolerance"], unread["outcome"]) == ("not read", "\u22120.5 to 0.5°", "")
    assert (unlimited["tolerance"], unlimited["aim"], unlimited["note"]) == ("no limits", "", "to be read again")


def test_a_report_with_all_of_it_is_printed(contents):
    assert report_pdf(contents[9]).startswith(b"%PDF-")
