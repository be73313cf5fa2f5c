"""A deck's visits: the history, two of them side by side, and what is shown to have changed."""

from __future__ import annotations

import html
import re
from datetime import date

import pytest

from groovewright.bench.estimate.settings import SETTINGS
from groovewright.bench.targets.targets import TargetRequest, choose_targets
from groovewright.gauges.check_weights import weight_of_class
from groovewright.gauges.scale_calibration import WeightReading
from groovewright.jobbook import entries
from groovewright.jobbook.models import Scale
from groovewright.jobbook.queries import next_reading_source
from groovewright.measurement.parsing import parse_quantity
from groovewright.measurement.units import GRAM_FORCE_MN
from groovewright.tonearm.arm_state import Adjustments

ADDRESS = "/decks/1/visits/"
# Left with the force read as 1.90 g, see conftest; all three of the later visit are read as found.
FOUND_LATER = (
    ("overhang", "length", "17.2 mm +- 0.2 mm", {}),
    ("tracking_force", "force", "1.70 g", {"place": "outer"}),
    ("azimuth_rotation", "angle", "0.2 deg +- 0.2 deg", {}),
)


def come_back(deck, *, opened, complaint="hums", readings=FOUND_LATER, stylus_hours=265.0):
    last = deck.jobs.order_by("number").last().intakes.get()
    job = entries.open_job(deck, opened=opened, complaint=complaint)
    entries.record_intake(
        job,
        arm=last.arm,
        cartridge=last.cartridge,
        innermost_mm=last.innermost_mm,
        outermost_mm=last.outermost_mm,
        record_thickness=last.record_thickness,
        stylus_hours=stylus_hours,
    )
    distance = parse_quantity("222 mm +- 0.3 mm", "length", source=f"distance at {job}")
    entries.record_targets(job, choose_targets(TargetRequest(distance, "minimax", 60.325, 146.05)))
    scale, weight = Scale.objects.get(), weight_of_class("2 g, class M1", nominal_g=2.0, accuracy_class="M1")
    shown = [((), 0.0), ((), 0.0), ((weight,), 2.0), ((weight,), 2.0), ((weight,), 2.01)]
    weighed = [WeightReading(weights, grams * GRAM_FORCE_MN) for weights, grams in shown]
    entries.check_scale(scale, job=job, readings=weighed)
    for kind, quantity, text, where in readings:
        read = parse_quantity(text, quantity, source=next_reading_source(job, kind))
        with_it = {"scale": scale} if kind == "tracking_force" else {}
        entries.record_reading(job, kind=kind, stage="as found", text=text, quantity=read, **where, **with_it)
    return job


def text_of(answer):
    return " ".join(html.unescape(re.sub(r"<[^>]+>", " ", answer.content.decode())).split())


@pytest.fixture
def twice(bench):
    come_back(bench.deck, opened=date(2031, 8, 31))
    return bench


def test_what_changed_stands_first_in_plain_words(client, twice):
    page = text_of(client.get(ADDRESS))
    assert "Job 1 to job 2: 182 days in between, 145 hours on the stylus" in page
    assert "The tracking force has changed." in page
    assert "The effective length is not shown to have changed: its difference lies within the uncertainty." in page
    assert "Found out of tolerance" not in page
    assert "The side force, the zenith, the azimuth" in page
    for setting in SETTINGS.values():
        assert setting.title in page


def test_drift_stands_with_its_uncertainty_and_both_occasions(client, twice):
    rows = {row.setting.key: row for row in client.get(ADDRESS).context["comparison"].rows}
    force = rows["tracking_force"]
    # 1.70 g found less 1.90 g left, each at the height of the record.
    assert float(force.change.replace("−", "-")) == pytest.approx(-0.20, abs=0.01)
    assert force.drift.shown
    assert force.left.track.value > force.found.track.value
    assert rows["azimuth"].left.track is None
    assert rows["azimuth"].found.track is not None
    page = text_of(client.get(ADDRESS))
    assert "no change shown" in page
    assert "cannot be told" in page


def test_what_was_found_out_of_tolerance_is_said_first_of_all_else(client, bench):
    readings = (("overhang", "length", "15.9 mm +- 0.1 mm", {}),)
    come_back(bench.deck, opened=date(2031, 8, 31), readings=readings)
    page = text_of(client.get(ADDRESS))
    assert "The effective length has changed. Found out of tolerance: the effective length." in page
    # 15.9 mm found less 17.3 mm left; 0.1 and 0.2 mm, and 0.07 of 0.3 mm of the distance at either visit.
    row = client.get(ADDRESS).context["comparison"].rows[0]
    assert row.change == "−1.40"
    assert row.uncertainty == "0.23"


def test_the_history_lists_every_visit_newest_first(client, twice):
    page = text_of(client.get(ADDRESS))
    history = page[page.index("History") :]
    assert history.index("31 Aug 2031") < history.index("2 Mar 2031")
    assert "hums" in history
    assert "harsh at the end of a side" in history
    assert "120 h" in history
    assert "265 h" in history


def test_two_visits_are_picked_and_what_was_moved_in_between_is_said(client, twice):
    between = come_back(twice.deck, opened=date(2031, 9, 30))
    amounts = Adjustments(counterweight_mm=0.4)
    entries.record_adjustment(between, amounts=amounts, uncertainties=Adjustments(counterweight_mm=0.05))
    come_back(twice.deck, opened=date(2031, 12, 1), stylus_hours=300.0)
    assert "Job 3 to job 4" in text_of(client.get(ADDRESS))
    page = text_of(client.get(ADDRESS, {"earlier": "1", "later": "4"}))
    assert "Job 1 to job 4" in page
    assert "The deck was set in between, at job 3 (30 Sep 2031): what was moved there is part of the changes" in page
    assert "Counterweight moved toward the pivot 0.4 mm" in page


@pytest.mark.parametrize(
    ("picked", "sentence"),
    [
        ({"earlier": "2", "later": "2"}, "Job 2 is picked twice; pick two different visits."),
        ({"earlier": "3", "later": "3"}, "Job 3 is picked twice; pick two different visits."),
        ({"earlier": "3", "later": "1"}, "Job 1 came before job 3; swap the two."),
        ({"earlier": "9", "later": "2"}, "This deck had no such visit; pick one of the list."),
        ({"earlier": "1", "later": "first"}, "This deck had no such visit; pick one of the list."),
        ({"earlier": "", "later": "2"}, "Pick a visit."),
    ],
)
def test_two_visits_that_cannot_be_compared_are_refused(client, twice, picked, sentence):
    come_back(twice.deck, opened=date(2031, 9, 30))
    answer = client.get(ADDRESS, picked)
    assert answer.status_code == 422
    assert sentence in text_of(answer)
    assert "History" in text_of(answer)
    assert answer.content.decode().count('class="wrong"') == 1


def test_the_job_of_another_deck_is_no_visit_of_this_one(client, twice):
    other = entries.open_job(entries.add_deck(twice.owner, description="Idler drive"), opened=date(2031, 9, 1))
    answer = client.get(ADDRESS, {"earlier": "1", "later": str(other.number)})
    assert answer.status_code == 422
    assert "This deck had no such visit; pick one of the list." in text_of(answer)


def test_a_row_is_spoken_in_the_units_that_it_shows(client, twice):
    page = html.unescape(client.get(ADDRESS).content.decode())
    force = next(row for row in client.get(ADDRESS).context["comparison"].rows if row.setting.key == "tracking_force")
    assert force.unit == "g"
    assert f'aria-label="Tracking force changed by {force.change} ± {force.uncertainty} g"' in page


def test_a_first_visit_has_nothing_to_compare(client, bench):
    page = text_of(client.get(ADDRESS))
    assert "One visit so far" in page
    assert "harsh at the end of a side" in page


def test_a_deck_without_a_job_has_no_visit(client, bench):
    deck = entries.add_deck(bench.owner, description="Idler drive")
    assert "No visit yet" in text_of(client.get(f"/decks/{deck.number}/visits/"))


def test_a_visit_at_which_nothing_was_read_says_that_no_change_can_be_told(client, bench):
    entries.open_job(bench.deck, opened=date(2031, 4, 1), complaint="")
    page = text_of(client.get(ADDRESS))
    assert "Nothing was read on both occasions, so no change can be told." in page


def test_a_reading_that_was_left_out_is_said_with_the_reason(client, bench):
    come_back(bench.deck, opened=date(2031, 8, 31), readings=(("overhang", "length", "16.2 mm", {}),))
    page = text_of(client.get(ADDRESS))
    assert "Job 2 as found: overhang as found cannot be weighted, because nobody knows how far it may be off" in page
    assert "Job 1 as left: there are readings as left before any move on record" in page


def test_what_the_owner_said_is_never_markup(client, twice):
    come_back(twice.deck, opened=date(2031, 9, 30), complaint="</td><script>alert(1)</script>")
    assert "<script>alert(1)" not in client.get(ADDRESS).content.decode()


def test_an_unknown_deck_is_not_found(client, bench):
    assert client.get("/decks/99/visits/").status_code == 404


def test_a_wrong_method_is_refused(client, twice):
    assert client.post(ADDRESS, {"earlier": "1", "later": "2"}).status_code == 405


@pytest.mark.browser
@pytest.mark.django_db(transaction=True)
def test_another_pair_is_picked_in_the_browser(page, fill_book):
    deck = fill_book().deck
    for opened in (date(2031, 8, 31), date(2031, 12, 1)):
        come_back(deck, opened=opened)
    page.goto(ADDRESS)
    page.get_by_text("Job 2 to job 3").wait_for()
    page.get_by_label("As left at", exact=True).select_option("1")
    page.get_by_role("button", name="Compare").click()
    page.get_by_text("Job 1 to job 3").wait_for()
    assert page.get_by_role("heading", level=2).first.inner_text() == "The tracking force has changed."
    assert page.get_by_label("As left at", exact=True).input_value() == "1"
    marks = page.locator("#drift-tracking_force svg.track circle.value")
    assert marks.count() == 2
    assert marks.nth(0).bounding_box()["x"] > marks.nth(1).bounding_box()["x"]
