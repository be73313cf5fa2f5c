"""Every page of the flow in the browser: nothing runs off the side, every entry has a name, no id comes twice."""

import pytest

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

PAGES = (
    "/",
    "/jobs/new/",
    "/jobs/bring-in/",
    "/jobs/{job}/take-in/",
    "/jobs/{job}/choose/",
    "/jobs/{job}/plate/",
    "/jobs/{job}/bench/scale-check/",
    "/jobs/{job}/bench/readings/",
    "/jobs/{job}/bench/",
    "/jobs/{job}/bench/?read=null_angle",
    "/jobs/{job}/bench/?enter=move",
    "/jobs/{job}/bench/?enter=capture",
    "/jobs/{job}/bench/?enter=photo",
    "/jobs/{job}/bench/trace/",
    "/jobs/{job}/captures/",
    "/jobs/{job}/report/",
    "/jobs/{job}/attachments/",
    "/decks/{deck}/visits/",
    "/gauges/compare/",
    "/workshop/",
    "/workshop/scales/new/",
    "/workshop/owners/{owner}/",
    "/workshop/owners/{owner}/delete-details/",
)

IDS_THAT_COME_TWICE = """() => {
  const ids = [...document.querySelectorAll("[id]")].map((element) => element.id);
  return ids.filter((id, k) => ids.indexOf(id) !== k);
}"""
ENTRIES_WITHOUT_A_NAME = """() =>
  [...document.querySelectorAll("input:not([type=hidden]), select, textarea")]
    .filter((entry) => !entry.labels?.length && !entry.getAttribute("aria-label"))
    .map((entry) => entry.name || entry.id)
"""
SMALL_TARGETS = """() =>
  [...document.querySelectorAll("a.workshop, main :is(button, .button, select, input, summary, .actions a)")]
    .filter((element) => !["hidden", "radio", "checkbox"].includes(element.type))
    .filter((element) => element.getClientRects().length && !element.closest(".curves"))
    .filter((element) => element.getBoundingClientRect().height < 43.5)
    .map((element) => element.outerHTML.slice(0, 120))
"""

HEADINGS_THAT_SKIP_A_LEVEL = """() => {
  const levels = [...document.querySelectorAll("h1, h2, h3, h4")].map((heading) => Number(heading.tagName[1]));
  return levels.filter((level, k) => level > (levels[k - 1] ?? 0) + 1);
}"""
WORDS_THAT_ARE_NOT_THERE = """() =>
  [...document.querySelectorAll("[aria-describedby]")]
    .filter((entry) => entry.getAttribute("aria-describedby").split(" ").some((id) => !document.getElementById(id)))
    .map((entry) => entry.id)
"""


@pytest.mark.parametrize(("theme", "width"), [("light", 1280), ("dark", 820)])
def test_every_page_fits_and_names_its_entries(open_page, fill_book, theme, width):
    bench = fill_book(owner_name="An owner with a very long name that has to be broken " + "o" * 80)
    page = open_page(viewport={"width": width, "height": 900}, color_scheme=theme)
    for pattern in PAGES:
        address = pattern.format(job=bench.job.number, deck=bench.deck.number, owner=bench.owner.number)
        page.goto(address)
        assert page.evaluate("document.documentElement.scrollWidth") <= width, address
        assert page.evaluate(IDS_THAT_COME_TWICE) == [], address
        assert page.evaluate(ENTRIES_WITHOUT_A_NAME) == [], address
        assert page.evaluate(SMALL_TARGETS) == [], address
        assert page.evaluate(HEADINGS_THAT_SKIP_A_LEVEL) == [], address
        assert page.evaluate(WORDS_THAT_ARE_NOT_THERE) == [], address
        assert page.locator("h1").count() == page.locator("main").count() == 1, address


def test_a_refused_entry_points_at_what_would_be_right(page, fill_book):
    number = fill_book().job.number
    page.goto(f"/jobs/{number}/take-in/")
    page.get_by_label("Record thickness", exact=True).fill("two")
    page.get_by_role("button", name="Save what changed").click()
    entry = page.get_by_label("Record thickness", exact=True)
    entry.and_(page.locator("[aria-invalid=true]")).wait_for()
    words = page.locator(f"#{entry.get_attribute('aria-describedby').split()[-1]}")
    assert "two" in words.inner_text()
    assert entry.evaluate("entry => entry === document.activeElement")
    assert page.evaluate(WORDS_THAT_ARE_NOT_THERE) == []


def test_words_that_come_while_typing_are_tied_to_their_entry(page, fill_book):
    number = fill_book().job.number
    page.goto(f"/jobs/{number}/choose/")
    entry = page.get_by_label("Pivot-to-spindle distance")
    entry.fill("222 kg")
    page.get_by_text("222 kg is a mass").wait_for()
    entry.and_(page.locator("[aria-invalid=true]")).wait_for()
    assert "id_pivot_to_spindle_error" in entry.get_attribute("aria-describedby")
    entry.fill("222 mm +- 0.3 mm")
    entry.and_(page.locator(":not([aria-invalid])")).wait_for()
    assert page.evaluate(WORDS_THAT_ARE_NOT_THERE) == []


def test_a_focus_that_is_moved_by_key_is_seen(page, fill_book):
    fill_book()
    page.goto("/")
    page.keyboard.press("Tab")
    assert page.locator(".skip").bounding_box()["y"] >= 0
    for _ in range(8):
        page.keyboard.press("Tab")
        outline = page.evaluate("getComputedStyle(document.activeElement).outlineWidth")
        assert float(outline.removesuffix("px")) >= 3
