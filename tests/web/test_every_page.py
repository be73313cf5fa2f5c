"""Every page of the flow in the browser: nothing runs off the side, every entry has a name, no id comes twice."""

import pytest

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

PAGES = (
    "/",
    "/jobs/new/",
    "/jobs/bring-in/",
    "/jobs/{job}/take-in/",
    "/jobs/{job}/readings/",
    "/jobs/{job}/readings/scale-check/",
    "/jobs/{job}/verdicts/",
    "/jobs/{job}/report/",
    "/jobs/{job}/attachments/",
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
  [...document.querySelectorAll("main button, main .button, main select, main input")]
    .filter((element) => !["hidden", "radio", "checkbox"].includes(element.type))
    .filter((element) => element.getClientRects().length && element.getBoundingClientRect().height < 38)
    .map((element) => element.outerHTML.slice(0, 120))
"""


@pytest.mark.parametrize(("theme", "width"), [("light", 1280), ("dark", 820)])
def test_every_page_fits_and_names_its_entries(open_page, fill_book, theme, width):
    bench = fill_book(owner_name="An owner with a very long name that has to be broken " + "o" * 80)
    page = open_page(viewport={"width": width, "height": 900}, color_scheme=theme)
    for pattern in PAGES:
        address = pattern.format(job=bench.job.number, owner=bench.owner.number)
        page.goto(address)
        assert page.evaluate("document.documentElement.scrollWidth") <= width, address
        assert page.evaluate(IDS_THAT_COME_TWICE) == [], address
        assert page.evaluate(ENTRIES_WITHOUT_A_NAME) == [], address
        assert page.evaluate(SMALL_TARGETS) == [], address
        assert page.locator("h1").count() == 1, address
