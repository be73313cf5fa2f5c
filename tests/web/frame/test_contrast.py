"""Every pair of colours that meets on a page keeps WCAG 2.2 AA: 4.5 for text (1.4.3), 3 for edges, marks (1.4.11)."""

import itertools
import re
from importlib.resources import files

import numpy as np
import pytest

COLOURS = (files("groovewright.web.frame") / "static/frame/colours.css").read_text()
PAIRS = re.findall(r"--([a-z0-9-]+): light-dark\((#[0-9a-f]{6}), (#[0-9a-f]{6})\);", COLOURS)
THEMES = {
    "light": {name: light for name, light, _ in PAIRS},
    "dark": {name: dark for name, _, dark in PAIRS},
}
GROUNDS = ("ground", "surface", "sunken")
OUTCOMES = ("in-tolerance", "out-of-tolerance", "undecided", "calculated")
TEXT = [
    *((outcome, ground) for outcome in OUTCOMES for ground in (*GROUNDS, "accent-soft", "look-soft", "fault-soft")),
    ("ink", "tolerance-band"),
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
    *((outcome, "tolerance-band") for outcome in OUTCOMES),
    *((mark, ground) for mark in ("edge", "accent", "look-mark", "fault") for ground in GROUNDS),
    *((f"curve-{k}", "surface") for k in range(1, 7)),
]


# G. M. Machado, M. M. Oliveira, L. A. F. Fernandes, IEEE Trans. Vis. Comput. Graph. 15, 1291 (2009), severity 1.0: what
# eyes that lack one kind of cone make of linear red, green, blue.
EYES = {
    "all cones": np.eye(3),
    "no long cones": np.array(
        [[0.152286, 1.052583, -0.204868], [0.114503, 0.786281, 0.099216], [-0.003882, -0.048116, 1.051998]]
    ),
    "no middle cones": np.array(
        [[0.367322, 0.860646, -0.227968], [0.280085, 0.672501, 0.047413], [-0.011820, 0.042940, 0.968881]]
    ),
    "no short cones": np.array(
        [[1.255528, -0.076749, -0.178779], [-0.078411, 0.930809, 0.147602], [0.004733, 0.691367, 0.303900]]
    ),
}
# Distance in Oklab; 0.02 is just seen side by side. The outcomes keep five times that among each other. From links
# "in tolerance" keeps three times: eyes without short cones see blue and teal alike, so there lightness parts them.
OUTCOMES_APART, FROM_LINKS_APART = 0.10, 0.06


def linear(colour: str) -> np.ndarray:
    channels = np.array([int(colour[k : k + 2], 16) / 255 for k in (1, 3, 5)])
    return np.where(channels <= 0.04045, channels / 12.92, ((channels + 0.055) / 1.055) ** 2.4)


def oklab(rgb: np.ndarray) -> np.ndarray:
    """Return lightness, a, b of linear sRGB (B. Ottosson, Oklab, 2020)."""
    cones = np.array(
        [
            [0.4122214708, 0.5363325363, 0.0514459929],
            [0.2119034982, 0.6806995451, 0.1073969566],
            [0.0883024619, 0.2817188376, 0.6299787005],
        ]
    )
    opponents = np.array(
        [
            [0.2104542553, 0.7936177850, -0.0040720468],
            [1.9779984951, -2.4285922050, 0.4505937099],
            [0.0259040371, 0.7827717662, -0.8086757660],
        ]
    )
    return opponents @ np.cbrt(cones @ np.clip(rgb, 0, 1))


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


def test_white_in_oklab_is_of_full_lightness_and_no_hue():
    np.testing.assert_allclose(oklab(linear("#ffffff")), [1, 0, 0], atol=1e-6)


@pytest.mark.parametrize("eyes", EYES)
@pytest.mark.parametrize("theme", THEMES)
def test_outcomes_are_told_apart_by_all_eyes_and_from_links(theme, eyes):
    seen = {name: oklab(EYES[eyes] @ linear(THEMES[theme][name])) for name in (*OUTCOMES, "accent")}
    for first, second in itertools.combinations(OUTCOMES, 2):
        assert np.linalg.norm(seen[first] - seen[second]) >= OUTCOMES_APART, (first, second)
    assert np.linalg.norm(seen["in-tolerance"] - seen["accent"]) >= FROM_LINKS_APART
