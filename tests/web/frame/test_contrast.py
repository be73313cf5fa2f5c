"""Every pair of colours that meets on a page keeps WCAG 2.2 AA: 4.5 for text (1.4.3), 3 for edges, marks (1.4.11)."""

import re
from importlib.resources import files

import pytest

COLOURS = (files("groovewright.web.frame") / "static/frame/colours.css").read_text()
PAIRS = re.findall(r"--([a-z0-9-]+): light-dark\((#[0-9a-f]{6}), (#[0-9a-f]{6})\);", COLOURS)
THEMES = {
    "light": {name: light for name, light, _ in PAIRS},
    "dark": {name: dark for name, _, dark in PAIRS},
}
GROUNDS = ("ground", "surface", "sunken")
TEXT = [
    *((ink, ground) for ink in ("ink", "quiet", "accent", "look", "fault") for ground in GROUNDS),
    *((ink, "accent-soft") for ink in ("ink", "quiet", "accent")),
    ("ink", "look-soft"),
    ("look", "look-soft"),
    ("ink", "fault-soft"),
    ("fault", "fault-soft"),
    ("quiet", "fault-soft"),
    ("on-accent", "accent"),
]
MARKS = [
    *((mark, ground) for mark in ("edge", "accent", "look-mark", "fault") for ground in GROUNDS),
    *((f"curve-{k}", "surface") for k in range(1, 7)),
]


def luminance(colour: str) -> float:
    channels = [int(colour[k : k + 2], 16) / 255 for k in (1, 3, 5)]
    red, green, blue = (c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in channels)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(first: str, second: str) -> float:
    lighter, darker = sorted((luminance(first), luminance(second)), reverse=True)
    return (lighter + 0.05) / (darker + 0.05)


def test_contrast_of_black_and_white_is_21():
    assert contrast("#000000", "#ffffff") == pytest.approx(21, abs=1e-9)


@pytest.mark.parametrize("theme", THEMES)
@pytest.mark.parametrize(("text", "ground"), TEXT)
def test_text_is_legible(theme, text, ground):
    assert contrast(THEMES[theme][text], THEMES[theme][ground]) >= 4.5


@pytest.mark.parametrize("theme", THEMES)
@pytest.mark.parametrize(("mark", "ground"), MARKS)
def test_edges_and_marks_are_seen(theme, mark, ground):
    assert contrast(THEMES[theme][mark], THEMES[theme][ground]) >= 3
