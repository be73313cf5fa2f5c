"""A double click enters nothing twice."""

import pytest

from groovewright.jobbook.models import IssuedPlate, IssuedReport, Job, Reading

BETWEEN_CLICKS_MS = 150
LONGER_THAN_A_DOUBLE_CLICK_MS = 700


def click_twice(page, name):
    """Click as a hand does: by the second click the next page may stand there already, with the same button."""
    button = page.get_by_role("button", name=name)
    button.scroll_into_view_if_needed()
    box = button.bounding_box()
    place = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    page.mouse.click(*place)
    page.wait_for_timeout(BETWEEN_CLICKS_MS)
    page.mouse.click(*place)


pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


def test_a_plate_is_issued_once(page, fill_book):
    number = fill_book().job.number
    page.goto(f"/jobs/{number}/plate/")
    click_twice(page, "Issue this plate")
    page.locator(".plate-card").wait_for()
    page.wait_for_load_state("networkidle")
    assert IssuedPlate.objects.count() == 1


def test_a_report_is_issued_once(page, fill_book):
    number = fill_book().job.number
    page.goto(f"/jobs/{number}/report/")
    page.get_by_role("textbox", name="Workshop").fill("Bench & Sons")
    click_twice(page, "Issue the report")
    page.get_by_text(f"Report {number}-R1").wait_for()
    page.wait_for_load_state("networkidle")
    assert IssuedReport.objects.count() == 1


def test_a_job_is_opened_once(page, fill_book):
    fill_book()
    page.goto("/jobs/new/")
    for label, words in (("Deck", "Idler drive"), ("Arm if known", "Ten-inch arm"), ("Cartridge if known", "MC")):
        page.get_by_label(label, exact=True).fill(words)
    click_twice(page, "Take in")
    page.wait_for_url("**/choose/")
    page.wait_for_load_state("networkidle")
    assert Job.objects.count() == 2


def test_a_reading_is_stored_once_by_click_and_by_key(page, fill_book):
    number = fill_book().job.number
    before = Reading.objects.count()
    page.goto(f"/jobs/{number}/bench/?enter=tracking_force")
    page.get_by_label("Tracking force", exact=True).fill("1.91 g")
    page.get_by_role("button", name="Store").dblclick()
    page.get_by_text("Stored: ").wait_for()
    page.wait_for_load_state("networkidle")
    assert Reading.objects.count() == before + 1
    page.wait_for_timeout(LONGER_THAN_A_DOUBLE_CLICK_MS)
    page.goto(f"/jobs/{number}/bench/?enter=tracking_force")
    page.get_by_label("Tracking force", exact=True).fill("1.92 g")
    page.keyboard.press("Enter")
    page.keyboard.press("Enter")
    page.get_by_text("Stored: tracking force, 1.92 g").wait_for()
    page.wait_for_load_state("networkidle")
    assert Reading.objects.count() == before + 2


def test_a_form_that_comes_back_refused_can_be_sent_again(page, fill_book):
    number = fill_book().job.number
    page.goto(f"/jobs/{number}/report/")
    page.get_by_role("textbox", name="Workshop").fill("")
    page.get_by_role("button", name="Issue the report").click()
    page.get_by_text("type the name of the workshop").wait_for()
    page.get_by_role("textbox", name="Workshop").fill("Bench & Sons")
    page.get_by_role("button", name="Issue the report").click()
    page.get_by_text(f"Report {number}-R1").wait_for()


def test_a_page_one_comes_back_to_is_free_again(page, fill_book):
    number = fill_book().job.number
    page.goto(f"/jobs/{number}/plate/")
    page.get_by_role("button", name="Issue this plate").click()
    page.locator(".plate-card").wait_for()
    page.go_back()
    page.goto(f"/jobs/{number}/plate/")
    page.wait_for_timeout(LONGER_THAN_A_DOUBLE_CLICK_MS)
    page.get_by_role("button", name="Issue this plate").click()
    page.locator(".plate-card").nth(1).wait_for()
    assert IssuedPlate.objects.count() == 2
