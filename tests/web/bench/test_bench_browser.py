"""The bench in the browser: all at one sight, entries without help, by keyboard alone and by touch."""

from __future__ import annotations

import pytest
from playwright.sync_api import expect

from groovewright.jobbook.models import AdjustmentMade, Reading

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

PARTS = ("#next", "#entry", ".seven-card")
ANGLES = {
    "zenith_error": "1.1 +- 0.2",
    "azimuth_rotation": "-0.9 +- 0.2",
    "stylus_rake_angle": "92.1 +- 0.3",
    "vertical_tracking_angle": "22.2 +- 0.4",
    "compensation_force": "1.9 +- 0.1",
    "friction_coefficient": "0.3 +- 0.02",
}


@pytest.fixture
def number(fill_book):
    return fill_book().job.number


@pytest.fixture
def all_read(client, number):
    for kind, entry in ANGLES.items():
        client.post(f"/jobs/{number}/bench/readings/", {"kind": kind, "stage": "as left", "entry": entry})
    return number


def is_within(page, selector, width, height):
    box = page.locator(selector).bounding_box()
    return box["x"] >= 0 and box["y"] >= 0 and box["x"] + box["width"] <= width and box["y"] + box["height"] <= height


@pytest.mark.parametrize(
    "enter", ["", "?read=null_angle", "?enter=side_force", "?enter=tracking_force", "?enter=proposed", "?enter=photo"]
)
def test_settings_next_move_and_entry_are_seen_without_scrolling(open_page, all_read, enter):
    page = open_page(viewport={"width": 1440, "height": 900})
    page.goto(f"/jobs/{all_read}/bench/{enter}")
    for part in PARTS:
        assert is_within(page, part, 1440, 900), (part, page.locator(part).bounding_box())
    assert page.evaluate("scrollY") == 0
    assert page.locator(".seven .setting").count() == 7


def test_a_newcomer_finds_where_an_angle_is_entered(page, number):
    page.goto(f"/jobs/{number}/bench/")
    page.get_by_label("What is read").get_by_role("link", name="Azimuth").click()
    entry = page.get_by_label("Azimuth", exact=True)
    expect(entry).to_be_focused()
    expect(entry).to_have_attribute("placeholder", "-0.6 +- 0.2 deg")
    assert page.locator("#entry figure.drawing").is_visible()
    page.keyboard.type("0.2 +- 0.15")
    page.locator("#preview").get_by_text("not stored yet").wait_for()
    page.locator("#preview").get_by_text("0.20°").wait_for()
    page.keyboard.press("Enter")
    page.get_by_text("Stored: azimuth rotation, 0.2 +- 0.15 deg.").wait_for()
    assert "0.20°" in page.locator("#setting-azimuth .setting-value").inner_text()


def test_a_setting_that_is_clicked_opens_its_entry_and_a_kind_its_own_fields(page, number):
    page.goto(f"/jobs/{number}/bench/")
    # Anywhere in the row.
    box = page.locator("#setting-zenith").bounding_box()
    page.mouse.click(box["x"] + 0.7 * box["width"], box["y"] + 0.5 * box["height"])
    expect(page.locator("[name=entry]")).to_be_focused()
    page.get_by_label("How it is read").get_by_role("link", name="Zenith error").click()
    expect(page.get_by_label("Zenith error", exact=True)).to_be_focused()
    assert page.get_by_label("Groove radius").count() == 0
    page.get_by_label("How it is read").get_by_role("link", name="Tracking error at a radius").click()
    expect(page.get_by_label("Tracking error at a radius", exact=True)).to_be_focused()
    assert page.get_by_label("Groove radius").is_visible()


def test_i_made_this_move_is_one_click_and_is_changed_before_it_is_stored(page, all_read):
    page.goto(f"/jobs/{all_read}/bench/")
    page.get_by_role("link", name="I made this move").click()
    page.get_by_text("As proposed.").wait_for()
    filled = [name for name in ("slide_mm", "turn_deg", "roll_deg", "compensation_mn", "arm_height_mm")
              if page.locator(f"[name={name}]").input_value()]  # fmt: skip
    assert filled
    expect(page.locator(f"[name={filled[0]}]")).to_be_focused()
    assert not AdjustmentMade.objects.exists()
    page.keyboard.press("Control+A")
    page.keyboard.type("0.3")
    page.get_by_role("button", name="Store the move").click()
    page.get_by_text("Stored: ").wait_for()
    assert AdjustmentMade.objects.get().amounts[filled[0]] == 0.3
    assert page.locator(".verdict-word.calculated").first.is_visible()


def test_an_amount_that_is_typed_and_one_that_is_not_known_exclude_each_other(page, all_read):
    page.goto(f"/jobs/{all_read}/bench/?enter=move")
    page.get_by_label("Cartridge rolled", exact=True).fill("0.5")
    page.get_by_label("Cartridge rolled: amount not known").check()
    expect(page.get_by_label("Cartridge rolled", exact=True)).to_have_value("")
    page.get_by_role("button", name="Store the move").click()
    page.get_by_text("by an unknown amount").first.wait_for()
    assert AdjustmentMade.objects.get().amounts == {"roll_deg": None}
    assert page.locator("#setting-azimuth .setting-value").inner_text() == "not read"


def test_a_job_is_read_and_moved_by_keyboard_alone(page, all_read):
    page.goto(f"/jobs/{all_read}/bench/")
    page.keyboard.press("5")
    entry = page.get_by_label("Azimuth", exact=True)
    expect(entry).to_be_focused()
    # While one types, keys are letters.
    page.keyboard.type("-0.8 +- 0.2")
    page.keyboard.press("Enter")
    page.get_by_text("Stored: azimuth rotation").wait_for()
    expect(page.locator("#next [data-key=n]")).to_be_focused()
    page.keyboard.press("Enter")
    page.locator(".amount .typed-quantity:focus").wait_for()
    with page.expect_navigation():
        page.keyboard.press("Enter")
    expect(page.locator("#next .main")).to_be_focused()
    assert AdjustmentMade.objects.count() == 1
    page.keyboard.press("m")
    expect(page.get_by_label("Cartridge slid forward", exact=True)).to_be_focused()
    page.get_by_label("Cartridge slid forward", exact=True).blur()
    page.keyboard.press("l")
    page.locator("#listed table").wait_for()
    assert page.locator("#listed tbody tr").count() == Reading.objects.count()


def test_single_keys_can_be_turned_off(page, number):
    page.goto(f"/jobs/{number}/bench/")
    page.keyboard.press("?")
    page.get_by_role("heading", name="Keys of the bench").wait_for()
    page.get_by_label("Single keys are on.").uncheck()
    page.keyboard.press("Escape")
    page.reload()
    page.keyboard.press("m")
    page.keyboard.press("?")
    page.wait_for_timeout(300)
    assert page.get_by_role("button", name="Store the move").count() == 0
    assert not page.get_by_role("heading", name="Keys of the bench").is_visible()


@pytest.mark.parametrize("width", [390, 320])
def test_it_is_worked_by_touch_and_never_scrolls_sideways(open_page, all_read, width):
    page = open_page(viewport={"width": width, "height": 844}, has_touch=True)
    page.goto(f"/jobs/{all_read}/bench/")
    tops = [page.locator(part).bounding_box()["y"] for part in PARTS]
    assert tops == sorted(tops)
    page.get_by_role("link", name="I made this move").tap()
    page.get_by_text("As proposed.").wait_for()
    page.get_by_role("button", name="Store the move").tap()
    page.get_by_text("Stored: ").wait_for()
    page.get_by_label("What is read").get_by_role("link", name="Stylus rake angle").tap()
    page.get_by_label("Stylus rake angle", exact=True).fill("92.0 +- 0.3")
    page.get_by_role("button", name="Store").tap()
    page.get_by_text("Stored: stylus rake angle").wait_for()
    for name in ("all-readings", "moves", "based-on", "would-help", "groove", "checks", "faults", "order", "resonance"):
        page.locator(f"#{name} > summary").tap()
    page.locator("#all-readings").scroll_into_view_if_needed()
    page.locator("#listed table").wait_for()
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    small = page.evaluate(
        """() => [...document.querySelectorAll(".chips a, .tabs a, .seven .setting-name a, .fold > summary, .unknown")]
        .filter((one) => one.getClientRects().length && one.getBoundingClientRect().height < 43.5)
        .map((one) => one.outerHTML.slice(0, 80))"""
    )
    assert small == []


def test_a_reading_is_corrected_and_another_withdrawn(page, number):
    page.goto(f"/jobs/{number}/bench/readings/")
    page.get_by_role("row").filter(has_text="1.90 g").get_by_role("link", name="Correct").click()
    entry = page.get_by_label("Tracking force", exact=True)
    expect(entry).to_have_value("1.90 g")
    expect(entry).to_be_focused()
    entry.fill("1.92")
    page.get_by_role("button", name="Store the correction").click()
    page.get_by_text("Stored: tracking force, 1.92 g.").wait_for()
    page.locator(".stored").get_by_role("link", name="Withdraw").click()
    page.get_by_label("Why").fill("scale not level")
    page.get_by_role("button", name="Withdraw it").click()
    page.locator("#all-readings > summary").click()
    page.locator("#all-readings").scroll_into_view_if_needed()
    expect(page.locator("#listed del", has_text="1.90 g")).to_be_visible()
    page.locator("#listed").get_by_text("scale not level").wait_for()


def test_the_groove_is_drawn_when_its_fold_is_opened(page, number):
    page.goto(f"/jobs/{number}/bench/")
    page.wait_for_load_state("networkidle")
    assert page.evaluate("typeof Plotly") == "undefined"
    page.locator("#groove > summary").click()
    page.locator("#curves .main-svg").first.wait_for()


def test_the_lines_of_the_list_come_with_their_seven_verdicts(page, all_read):
    page.goto("/")
    line = page.locator(".job-lines li").first
    line.locator(".seven-small > span").nth(6).wait_for()
    assert line.locator(".seven-small .icon").count() == 7
