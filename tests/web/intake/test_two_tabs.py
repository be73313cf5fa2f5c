"""Two tabs on one job: what one stores is not taken back by the other, and the way back shows what was stored."""

import pytest

from groovewright.jobbook.models import Reading
from groovewright.jobbook.queries import complaint_of, deck_now
from groovewright.web.intake.beside_others import as_shown, beside_others


@pytest.fixture
def post(rf):
    return lambda **fields: rf.post("/", fields).POST


def test_a_field_left_as_shown_is_as_the_record_has_it_now(post):
    posted = post(
        complaint="harsh\r\nat the end", note="mine", as_shown=as_shown({"complaint": "harsh\nat the end", "note": ""})
    )
    beside = beside_others(posted, {"complaint": "hums too", "note": "theirs"})
    assert beside["complaint"] == "hums too"
    assert beside["note"] == "mine"


@pytest.mark.parametrize("now", [True, False])
def test_a_box_that_was_not_touched_is_as_the_record_has_it_now(post, now):
    shown = {"ticked": True, "empty": False}
    beside = beside_others(post(ticked="on", as_shown=as_shown(shown)), {"ticked": now, "empty": now})
    assert (beside["ticked"] == "on", beside["empty"] == "on") == (now, now)


def test_a_box_that_was_unticked_stays_unticked(post):
    beside = beside_others(post(as_shown=as_shown({"ticked": True})), {"ticked": True})
    assert "ticked" not in beside


@pytest.mark.parametrize("broken", ["", "{", "[]", "3", '{"complaint": 5}'])
def test_without_what_was_shown_all_that_was_posted_counts(post, broken):
    assert beside_others(post(complaint="mine", as_shown=broken), {"complaint": "theirs"})["complaint"] == "mine"


@pytest.mark.browser
@pytest.mark.django_db(transaction=True)
def test_both_tabs_of_take_in_store_and_neither_is_lost(page, fill_book):
    job = fill_book().job
    other = page.context.new_page()
    for tab in (page, other):
        tab.goto(f"/jobs/{job.number}/take-in/")
    page.get_by_label("Complaint", exact=True).fill("hums on the left")
    other.locator("#fold-contact > summary").click()
    other.get_by_label("Note on the deck", exact=True).fill("one foot is missing")
    for tab in (page, other):
        tab.get_by_role("button", name="Save what changed").click()
        tab.wait_for_url("**/choose/")
    assert complaint_of(job) == "hums on the left"
    assert deck_now(job).note == "one foot is missing"


@pytest.mark.browser
@pytest.mark.django_db(transaction=True)
def test_the_way_back_shows_what_was_stored(page, fill_book):
    number = fill_book().job.number
    page.goto(f"/jobs/{number}/take-in/")
    page.get_by_label("Complaint", exact=True).fill("hums on the left")
    page.get_by_role("button", name="Save what changed").click()
    page.wait_for_url("**/choose/")
    page.go_back()
    page.wait_for_url("**/take-in/")
    assert page.get_by_label("Complaint", exact=True).input_value() == "hums on the left"


@pytest.mark.browser
@pytest.mark.django_db(transaction=True)
def test_both_tabs_of_readings_store_and_a_reload_stores_nothing_again(page, fill_book):
    job = fill_book().job
    other = page.context.new_page()
    before = Reading.objects.count()
    for tab in (page, other):
        tab.goto(f"/jobs/{job.number}/bench/?enter=tracking_force")
    for tab, text in ((page, "1.91 g"), (other, "1.92 g")):
        entry = tab.get_by_label("Tracking force", exact=True)
        entry.fill(text)
        entry.press("Enter")
        tab.get_by_text(f"Stored: tracking force, {text}").wait_for()
    page.reload()
    page.goto(f"/jobs/{job.number}/bench/readings/")
    for text in ("1.91 g", "1.92 g"):
        page.locator("table").get_by_text(text).wait_for()
    assert Reading.objects.count() == before + 2
