"""Every page of the demo on narrow screens and after a turn of the screen: nothing off the side, cut or misplaced."""

import re
from urllib.parse import urlsplit

import pytest

from groovewright.demo.book import make_demo_workshop
from groovewright.jobbook.models import Capture

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

# Width and height in CSS px: a phone upright, the least width of WCAG 2.2 1.4.10, a desk, a tablet.
SCREENS = ((390, 844), (320, 640), (1440, 900), (1024, 768), (390, 844))
# On these the header takes less than a fifth of the height.
HEADER_SCREENS = ((390, 844), (1440, 900))
# Pages of one kind, such as those of ten jobs, are alike: these many of each.
MAX_OF_A_KIND = 3
# A chart is drawn anew this long after the last change of width, at most.
REDRAWN_MS = 10_000

ADDRESSES = (
    """() => [...document.querySelectorAll("a[href]")].filter((link) => !link.download).map((link) => link.href)"""
)
SIDEWAYS = """() => {
  const root = document.documentElement;
  if (root.scrollWidth <= root.clientWidth) return null;
  return [...document.querySelectorAll("main *")]
    .filter((one) => one.getBoundingClientRect().right > root.clientWidth + 1)
    .slice(0, 3).map((one) => one.outerHTML.slice(0, 90));
}"""
HEADER_SHARE = "() => (document.querySelector('main').getBoundingClientRect().top + scrollY) / innerHeight"
# Charts that are not as wide as their place, and flags that are not over their band.
MISPLACED = """() => {
  const wrong = [];
  for (const chart of document.querySelectorAll(".js-plotly-plot")) {
    const drawn = chart.querySelector(".main-svg").getBoundingClientRect();
    const place = chart.getBoundingClientRect();
    if (Math.abs(drawn.width - place.width) > 2) wrong.push(`chart of ${drawn.width} px in ${place.width} px`);
  }
  const flags = [...document.querySelectorAll(".flag")];
  const bands = [...document.querySelectorAll("[data-figure=outline] .layer-below .shapelayer path")];
  bands.forEach((band, k) => {
    const [drawn, flag] = [band.getBoundingClientRect(), flags[k].getBoundingClientRect()];
    if (Math.abs(drawn.left - flag.left) > 3) wrong.push(`flag at ${flag.left}, its band at ${drawn.left}`);
  });
  return wrong;
}"""


def kind_of(address):
    return re.sub(r"\d+", "N", urlsplit(address).path)


def all_pages(page, live_server):
    """Yield every page that links lead to from the list of jobs, opened; of each kind a few, and every capture."""
    captures = [f"/jobs/{capture.job.number}/captures/{capture.pk}/" for capture in Capture.objects.all()]
    waiting, seen, kinds = [f"{live_server.url}{address}" for address in ("/", *captures)], set(), {}
    while waiting:
        address = waiting.pop(0)
        kind = kind_of(address)
        if address in seen or kinds.get(kind, 0) >= MAX_OF_A_KIND or not address.startswith(live_server.url):
            continue
        seen.add(address)
        if "text/html" not in page.request.get(address).headers["content-type"]:
            continue
        kinds[kind] = kinds.get(kind, 0) + 1
        page.goto(address)
        waiting += [found.split("#")[0] for found in page.evaluate(ADDRESSES)]
        yield kind, address.removeprefix(live_server.url)


def show_charts(page):
    for chart in page.locator(".curves").all():
        chart.scroll_into_view_if_needed()
        chart.locator(".main-svg").first.wait_for()
    page.evaluate("scrollTo(0, 0)")


def test_no_page_of_the_demo_runs_off_the_side_or_is_misplaced_after_a_turn_of_the_screen(open_page, live_server):
    make_demo_workshop()
    page = open_page(viewport={"width": 390, "height": 844}, color_scheme="light")
    wrong, kinds = [], set()
    for kind, address in all_pages(page, live_server):
        kinds.add(kind)
        page.evaluate("document.querySelectorAll('details').forEach((one) => { one.open = true; })")
        show_charts(page)
        for width, height in SCREENS:
            page.set_viewport_size({"width": width, "height": height})
            if sideways := page.evaluate(SIDEWAYS):
                wrong.append((address, width, sideways))
            if (width, height) in HEADER_SCREENS and (share := page.evaluate(HEADER_SHARE)) >= 0.2:
                wrong.append((address, width, f"header takes {share:.2f} of the height"))
            page.wait_for_timeout(50)
            for _ in range(REDRAWN_MS // 100):
                misplaced = page.evaluate(MISPLACED)
                if not misplaced:
                    break
                page.wait_for_timeout(100)
            wrong += [(address, width, one) for one in misplaced]
    assert not wrong, "\n".join(map(str, wrong))
    assert {"/", "/jobs/N/choose/", "/jobs/N/bench/", "/jobs/N/captures/N/", "/gauges/compare/"} <= kinds
    assert len(kinds) >= 20
