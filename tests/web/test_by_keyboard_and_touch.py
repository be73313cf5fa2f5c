"""A whole job twice, from the empty list to the issued report: by keyboard alone, and by touch on a narrow screen."""

from __future__ import annotations

import pytest
from playwright.sync_api import expect

from groovewright.jobbook import entries
from groovewright.jobbook.job_record import job_record
from groovewright.jobbook.job_states import job_state
from groovewright.jobbook.models import AdjustmentMade, IssuedReport, Job, Reading
from groovewright.measurement.quantity import Quantity

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

GRAM_FORCE_MN = 9.80665
MOST_STEPS = 150
"""Presses of the Tab key until a test gives up; no page has as many places to stop at."""

FOUND = {
    "Overhang": "16.3 +- 0.2",
    "Azimuth": "-1.1 +- 0.2",
    "Stylus rake angle": "92.1 +- 0.3",
    "Whole angle": "22.2 +- 0.4",
}
ASKED = {
    "Tracking force": "1.91",
    "Side force left over": "0.02 +- 0.02",
    "Zenith error": "0.9 +- 0.2",
    "Tracking error at a radius": "0.9 +- 0.2",
}
"""What is typed where the bench asks for more before it proposes a move."""

SETTING_KEYS = {"Overhang": "1", "Azimuth": "5", "Stylus rake angle": "6", "Whole angle": "7"}


class Keyboard:
    """Hands that never touch a pointer."""

    def __init__(self, page) -> None:
        self.page = page

    def press(self, key: str) -> None:
        self.page.keyboard.press(key)

    def go_to(self, wanted) -> None:
        """Press Tab until the place has the focus."""
        wanted.wait_for()
        for _ in range(MOST_STEPS):
            if wanted.evaluate("one => one === document.activeElement"):
                return
            self.press("Tab")
        raise AssertionError(f"no way there by Tab: {wanted}")

    def follow(self, wanted) -> None:
        self.go_to(wanted)
        self.press("Enter")

    def type_into(self, wanted, text: str) -> None:
        self.go_to(wanted)
        self.press("Control+A")
        self.page.keyboard.type(text)

    def open_entry(self, kind: str) -> None:
        # A key works wherever the focus is, but not while one types.
        if self.page.evaluate("/^(INPUT|TEXTAREA|SELECT)$/.test(document.activeElement.tagName)"):
            self.press("Tab")
        self.page.evaluate("document.activeElement.blur()")
        self.press(SETTING_KEYS[kind])

    def store(self) -> None:
        self.press("Enter")


class Finger:
    """One finger on a screen, and the keys that it brings up."""

    def __init__(self, page) -> None:
        self.page = page

    def follow(self, wanted) -> None:
        wanted.tap()

    def type_into(self, wanted, text: str) -> None:
        wanted.tap()
        wanted.fill(text)

    def open_entry(self, kind: str) -> None:
        self.page.get_by_label("What is read").get_by_role("link", name=SUBJECT[kind]).tap()

    def store(self) -> None:
        self.page.get_by_role("button", name="Store").tap()


SUBJECT = {
    "Overhang": "Effective length",
    "Azimuth": "Azimuth",
    "Stylus rake angle": "Stylus rake angle",
    "Whole angle": "Vertical tracking angle",
}


def read(page, hands, kind, text) -> None:
    page.wait_for_load_state("networkidle")
    hands.open_entry(kind)
    entry = page.get_by_label(kind, exact=True)
    expect(entry).to_be_focused()
    hands.type_into(entry, text)
    page.locator("#preview").get_by_text("not stored yet").wait_for()
    hands.store()
    page.get_by_text(f"Stored: {Reading.Kind(KINDS[kind]).label}, {text}").wait_for()


def store_what_is_asked(page, hands) -> None:
    entry = page.locator("[name=entry]")
    expect(entry).to_be_focused()
    asked = entry.evaluate("one => one.labels[0].textContent.trim()")
    hands.type_into(entry, ASKED[asked])
    hands.store()
    page.get_by_text("Stored: ").wait_for()


KINDS = {
    "Overhang": "overhang",
    "Azimuth": "azimuth_rotation",
    "Stylus rake angle": "stylus_rake_angle",
    "Whole angle": "vertical_tracking_angle",
}


def is_not_wider_than_the_screen(page) -> bool:
    page.wait_for_load_state("networkidle")
    return page.evaluate("document.documentElement.scrollWidth <= innerWidth")


def whole_job(page, hands) -> None:
    page.goto("/")
    hands.follow(page.get_by_role("link", name="New job").first)
    page.wait_for_load_state()
    hands.type_into(page.locator("[name=deck_description]"), "Belt drive, ash plinth")
    hands.type_into(page.locator("[name=force_range]"), "1.6:2.2")
    hands.type_into(page.locator("[name=pivot_to_spindle]"), "222 +- 0.3")
    assert is_not_wider_than_the_screen(page)
    hands.follow(page.get_by_role("button", name="Take in"))

    page.get_by_role("heading", name="Choose the geometry").wait_for()
    page.locator("figure.plan-figure").wait_for()
    assert page.get_by_label("Pivot-to-spindle distance").input_value().startswith("222 +- 0.3")
    assert is_not_wider_than_the_screen(page)
    hands.follow(page.get_by_role("button", name="Choose these targets"))

    page.get_by_role("heading", name="Plate", exact=True).first.wait_for()
    assert is_not_wider_than_the_screen(page)
    hands.follow(page.locator("#progress").get_by_role("link", name="Bench"))
    page.locator("#entry").wait_for()
    for kind, text in FOUND.items():
        read(page, hands, kind, text)

    move = page.get_by_role("link", name="I made this move")
    for _ in range(2 * len(ASKED)):
        page.wait_for_load_state("networkidle")
        if move.count():
            break
        hands.follow(page.locator("#next [data-key=n]"))
        store_what_is_asked(page, hands)
    hands.follow(move)
    page.get_by_text("As proposed.").wait_for()
    hands.follow(page.get_by_role("button", name="Store the move"))
    page.get_by_text("Stored: ").wait_for()
    moved = AdjustmentMade.objects.get()
    assert page.locator(".verdict-word.calculated").count() > 0
    if "slide_mm" in moved.amounts:
        read(page, hands, "Overhang", "17.34 +- 0.12")
    if "roll_deg" in moved.amounts:
        read(page, hands, "Azimuth", "0.05 +- 0.15")
    assert is_not_wider_than_the_screen(page)

    hands.follow(page.locator("#progress").get_by_role("link", name="Report"))
    hands.type_into(page.get_by_label("What was done besides"), "Cleaned the stylus.")
    hands.type_into(page.locator("[name=workshop]"), "Bench & Sons")
    assert is_not_wider_than_the_screen(page)
    hands.follow(page.get_by_role("button", name="Issue the report"))
    page.get_by_role("link", name="PDF").first.wait_for()


def is_as_typed() -> None:
    job = Job.objects.get()
    record = job_record(job)
    assert {reading.text for reading in record.readings} >= {f"{FOUND['Overhang']} mm", f"{FOUND['Azimuth']} deg"}
    assert {reading.stage for reading in record.readings[1:5]} == {"as found"}
    settings = {one.key: one for one in job_state(record).now.settings}
    # What the move touched was read again, and the rest is as it was found.
    assert "calculated" not in {settings[key].basis for key in ("stylus_rake_angle", "vertical_tracking_angle")}
    assert IssuedReport.objects.get().job == job


@pytest.fixture(autouse=True)
def scale(db):
    return entries.add_scale(description="Scale 2", resolution=Quantity.exact(0.01 * GRAM_FORCE_MN, "mN"))


def test_a_whole_job_by_keyboard_alone(page):
    whole_job(page, Keyboard(page))
    is_as_typed()


def test_a_whole_job_by_touch_on_a_narrow_screen(open_page):
    page = open_page(viewport={"width": 390, "height": 844}, has_touch=True)
    whole_job(page, Finger(page))
    is_as_typed()
