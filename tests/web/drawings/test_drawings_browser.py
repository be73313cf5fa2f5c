"""The drawings as a browser shows them: everything inside the frame, letters large enough, in both themes."""

from importlib.resources import files

import pytest

from groovewright.tonearm.arm_state import ADJUSTERS
from groovewright.web.drawings.folds import FOLDS
from groovewright.web.drawings.gauges import GAUGES
from groovewright.web.drawings.moves import drawing_of_moves
from groovewright.web.drawings.readings import READINGS
from groovewright.web.drawings.settings import SETTINGS_DRAWN

pytestmark = pytest.mark.browser

WEB = files("groovewright.web")
STYLE = "".join(
    (WEB / path).read_text()
    for path in (
        "frame/static/frame/colours.css",
        "frame/static/frame/frame.css",
        "drawings/static/drawings/drawings.css",
    )
)
DRAWINGS = [
    *READINGS.values(),
    *(drawing_of_moves(((adjuster, sign),)) for adjuster in ADJUSTERS for sign in (1, -1)),
    *(drawing_of_moves((("slide_mm", slide), ("turn_deg", turn))) for slide in (1, -1) for turn in (1, -1)),
    *FOLDS.values(),
    *GAUGES.values(),
    *SETTINGS_DRAWN.values(),
]
# Marks may not leave the drawing; shapes, such as a tube, go on beyond its edge.
LOOK = """(least) => [...document.querySelectorAll("figure.drawing")].flatMap((figure) => {
  const said = [];
  const name = figure.dataset.drawing;
  if (figure.scrollWidth > figure.parentElement.clientWidth + 1) said.push(`${name} is wider than its place`);
  for (const svg of figure.querySelectorAll("svg")) {
    const frame = svg.getBoundingClientRect();
    for (const group of svg.querySelectorAll(":scope > g")) {
      const box = group.getBBox();
      if (!(box.width > 0 && box.height >= 0)) said.push(`${name}: an empty shape`);
    }
    for (const mark of svg.querySelectorAll(".drawn-arrow, text, .drawn-ring, .drawn-dimension-head")) {
      const box = mark.getBoundingClientRect();
      const words = `${name} ${svg.dataset.view} ${mark.textContent || mark.dataset.arrow || mark.className.baseVal}`;
      if (!(box.width > 0)) said.push(`${words} is empty`);
      // A letter's box is taller than its ink.
      const slack = mark.tagName === "text" ? box.height * 0.25 : 0.5;
      const across = Math.max(frame.left - box.left, box.right - frame.right);
      const out = Math.max(across, frame.top - box.top, box.bottom - frame.bottom);
      if (out > slack) said.push(`${words} leaves the drawing by ${out.toFixed(1)} px`);
      const size = parseFloat(getComputedStyle(mark).fontSize) * frame.width / 100;
      if (mark.tagName === "text" && size < least) said.push(`${words} is ${size.toFixed(1)} px high`);
    }
    const signs = [...svg.querySelectorAll("text.drawn-sign, text.drawn-joint")];
    signs.forEach((one, k) => signs.slice(k + 1).forEach((other) => {
      const a = one.getBoundingClientRect(), b = other.getBoundingClientRect();
      const across = Math.min(a.right, b.right) - Math.max(a.left, b.left);
      const down = Math.min(a.bottom, b.bottom) - Math.max(a.top, b.top);
      if (across > 2 && down > a.height * 0.4) said.push(`${name}: ${one.textContent} is under ${other.textContent}`);
    }));
  }
  return said;
})"""
SMALL_TEXT_PX = 14.4
"""The smallest text of a page: 0.8 of 18 px."""


@pytest.mark.parametrize("theme", ["light", "dark"])
@pytest.mark.parametrize("width", [150, 320])
def test_every_drawing_fits_its_frame_and_can_be_read(chromium, theme, width):
    page = chromium.new_page(viewport={"width": 1300, "height": 800}, color_scheme=theme)
    drawn = "".join(f'<div style="width:{width}px">{drawing.render()}</div>' for drawing in DRAWINGS)
    page.set_content(f"<style>{STYLE}</style><body><main>{drawn}</main></body>")
    assert page.locator("figure.drawing").count() == len(DRAWINGS)
    assert page.evaluate(LOOK, SMALL_TEXT_PX) == []
    ink, ground = (
        page.locator(".drawing").first.evaluate(f"figure => getComputedStyle({of}).{name}")
        for of, name in (("figure", "color"), ("figure.querySelector('svg')", "backgroundColor"))
    )
    # Ink is light on a dark ground, and dark on a light one.
    assert (brightness(ink) > brightness(ground)) == (theme == "dark")
    page.close()


def brightness(colour):
    return sum(int(part) for part in colour.removeprefix("rgb(").removesuffix(")").split(","))


@pytest.mark.django_db(transaction=True)
def test_the_gauge_page_draws_every_gauge_that_it_compares(page):
    page.goto("/gauges/compare/")
    for key in GAUGES:
        assert page.locator(f'#gauge-{key} [data-drawing="gauge {key}"] svg').bounding_box()["width"] >= 150
    page.set_viewport_size({"width": 320, "height": 800})
    for box in (figure.bounding_box() for figure in page.locator(".gauge-drawn .drawing").all()):
        assert box["x"] + box["width"] <= 320
