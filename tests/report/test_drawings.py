"""The pictures: true to scale, told apart without colour, and legible in grey."""

from __future__ import annotations

import itertools
import re
from xml.etree import ElementTree

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from groovewright.bench.estimate.setting_state import SettingState
from groovewright.measurement.conformity import IN_TOLERANCE, OUT_OF_TOLERANCE, UNDECIDED, Tolerance
from groovewright.measurement.coverage import coverage_interval
from groovewright.measurement.quantity import Quantity
from groovewright.report.curves_svg import LINE_STYLES, Curve, Point, groove_plot, round_ticks, spread
from groovewright.report.drawing import ACCENT, BAND, INK, LOOK_HERE, PAPER, STEEL, Drawing
from groovewright.report.tracks_svg import (
    LANE_MM,
    TRACK_MM,
    Mark,
    marks_of,
    setting_track,
    verdict_shape,
)

SVG = "{http://www.w3.org/2000/svg}"


def elements(svg: str, tag: str) -> list[ElementTree.Element]:
    return list(ElementTree.fromstring(svg).iter(SVG + tag))


def points_of(line: ElementTree.Element) -> np.ndarray:
    return np.array([[float(n) for n in pair.split(",")] for pair in line.get("points").split()])


def number(text: str) -> float | None:
    return float(text.replace("−", "-")) if re.fullmatch(r"−?\d+(\.\d+)?", text) else None


def scale_of(svg: str, *, anchor: str) -> np.poly1d:
    """Return value as a function of position, read from the numbers printed on one axis."""
    along = "x" if anchor == "middle" else "y"
    labels = [
        (float(t.get(along)), number(t.text))
        for t in elements(svg, "text")
        if t.get("text-anchor") == anchor and number(t.text) is not None
    ]
    position, value = np.array(labels).T
    fit = np.polyfit(position, value, 1)
    np.testing.assert_allclose(np.polyval(fit, position), value, atol=2e-3 * np.ptp(value))
    return np.poly1d(fit)


def luminance(colour: str) -> float:
    channels = [int(colour[k : k + 2], 16) / 255 for k in (1, 3, 5)]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in channels]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(first: str, second: str) -> float:
    """Return the contrast ratio of WCAG 2.2; it depends on luminance alone, so it holds in grey."""
    low, high = sorted((luminance(first), luminance(second)))
    return (high + 0.05) / (low + 0.05)


@pytest.mark.parametrize("colour", [INK, STEEL, ACCENT])
@pytest.mark.parametrize("ground", [PAPER, BAND])
def test_texts_are_legible_in_grey(colour, ground):
    assert contrast(colour, ground) >= 4.5  # WCAG 2.2, 1.4.3


def test_marks_are_visible_in_grey():
    assert contrast(LOOK_HERE, PAPER) >= 3  # WCAG 2.2, 1.4.11
    assert contrast(INK, ACCENT) >= 2  # a dot on its bar; its edge and size tell it too
    assert contrast(INK, BAND) >= 3


def test_contrast_is_that_of_the_standard():
    assert contrast("#000000", "#ffffff") == pytest.approx(21)
    assert contrast("#777777", "#ffffff") == pytest.approx(4.48, abs=0.005)


def test_shapes_of_the_verdicts_differ_without_colour():
    outcomes = (IN_TOLERANCE, OUT_OF_TOLERANCE, UNDECIDED)
    shapes = [re.sub(r"#[0-9a-f]{6}", "", verdict_shape(outcome)) for outcome in outcomes]
    assert all(a != b for a, b in itertools.combinations(shapes, 2))


def test_the_dot_stands_between_or_beyond_its_posts():
    def posts_and_dot(outcome: str) -> tuple[list[float], float]:
        svg = verdict_shape(outcome)
        return [points_of(p)[0, 0] for p in elements(svg, "polyline")], float(elements(svg, "circle")[0].get("cx"))

    posts, dot = posts_and_dot(IN_TOLERANCE)
    assert posts[0] < dot < posts[1]
    posts, dot = posts_and_dot(OUT_OF_TOLERANCE)
    assert dot > max(posts)
    svg = verdict_shape(UNDECIDED)
    (bar,) = elements(svg, "rect")
    post = points_of(elements(svg, "polyline")[0])[0, 0]
    assert float(bar.get("x")) < post < float(bar.get("x")) + float(bar.get("width"))


def test_a_shape_for_an_unknown_verdict_is_refused():
    with pytest.raises(ValueError, match="no shape for the verdict 'fine'"):
        verdict_shape("fine")


def setting(value: float | None, tolerance: Tolerance | None, *, u: float = 0.02, aim: float = 0.0) -> SettingState:
    quantity = None if value is None else Quantity.measured(value, "mm", standard_uncertainty=u, source="gauge")
    return SettingState("effective_length", "read", quantity, aim, tolerance, None)


@settings(max_examples=40, deadline=None)
@given(
    middle=st.floats(-50, 50),
    width=st.floats(0.01, 10),
    found=st.floats(-1.1, 1.1),
    left=st.floats(-0.9, 0.9),
    bar=st.floats(0.005, 0.03),
)
def test_a_setting_is_drawn_to_scale_in_a_lane_as_wide_as_any(middle, width, found, left, bar):
    tolerance = Tolerance(middle - width / 2, middle + width / 2, "mm")
    states = [setting(middle + place * width, tolerance, u=bar * width) for place in (found, left)]
    svg = setting_track(tolerance, *marks_of(*states), is_last=False)
    lane, *bars = elements(svg, "rect")
    assert float(lane.get("width")) == pytest.approx(LANE_MM)
    assert float(lane.get("x")) == pytest.approx((TRACK_MM - LANE_MM) / 2)
    per_mm = width / LANE_MM

    def value_at(x_mm: str | float) -> float:
        return tolerance.lower + (float(x_mm) - float(lane.get("x"))) * per_mm

    tolerated = 0.0015 * per_mm  # positions are written to 0.001 mm
    dots = [value_at(dot.get("cx")) for dot in elements(svg, "circle")]
    np.testing.assert_allclose(dots, [state.quantity.value for state in states], atol=tolerated)
    for drawn, state in zip(bars, states, strict=True):
        low, high = coverage_interval(state.quantity)
        edges = (float(drawn.get("x")), float(drawn.get("x")) + float(drawn.get("width")))
        if edges[0] > 2 and edges[1] < TRACK_MM - 2:
            np.testing.assert_allclose(list(map(value_at, edges)), [low, high], atol=2 * tolerated)


def test_a_value_far_off_is_an_arrow_at_the_edge_that_keeps_the_lane():
    tolerance = Tolerance(-1.0, 1.0, "mm")
    svg = setting_track(tolerance, *marks_of(setting(-40.0, tolerance), setting(0.1, tolerance)), is_last=True)
    (arrow,) = elements(svg, "polygon")
    assert points_of(arrow)[:, 0].min() < 2
    assert len(elements(svg, "circle")) == 1
    assert float(elements(svg, "rect")[0].get("width")) == pytest.approx(LANE_MM)


@pytest.mark.parametrize("tolerance", [Tolerance(None, 2.0, "mm"), Tolerance(2.0, None, "mm")])
def test_a_one_sided_tolerance_has_one_post_and_an_open_lane(tolerance):
    marks = marks_of(setting(2.0, tolerance), None)
    svg = setting_track(tolerance, *marks, is_last=False)
    posts = [p for p in elements(svg, "polyline") if p.get("stroke-width") == "0.45"]
    assert len(posts) == 1
    assert points_of(posts[0])[0, 0] == pytest.approx(float(elements(svg, "circle")[0].get("cx")))
    assert float(elements(svg, "rect")[0].get("width")) > LANE_MM


def test_what_was_not_read_or_has_no_limits_has_no_dot():
    tolerance = Tolerance(-1.0, 1.0, "mm")
    assert marks_of(setting(None, tolerance), setting(0.1, tolerance))[0] is None
    assert marks_of(setting(0.3, None), None) == (None, None)
    assert elements(setting_track(None, None, None, is_last=False), "circle") == []
    assert elements(setting_track(tolerance, None, None, is_last=False), "circle") == []


def test_found_is_open_and_left_is_filled():
    svg = setting_track(Tolerance(-1, 1, "mm"), Mark(0.0, None, None), Mark(0.2, None, None), is_last=False)
    assert [dot.get("fill") for dot in elements(svg, "circle")] == [PAPER, ACCENT]


def test_a_band_and_readings_lie_on_the_same_axes_as_their_curve():
    radius, height = (60.0, 100.0, 140.0), (0.5, -0.5, 0.5)
    band = (tuple(h - 0.2 for h in height), tuple(h + 0.2 for h in height))
    reading = Point("as left", 100.0, -0.3, (-0.6, 0.0))
    svg = groove_plot([Curve("as left", radius, height, band)], title="Tracking error, degrees", readings=[reading])
    across, up = scale_of(svg, anchor="middle"), scale_of(svg, anchor="end")
    outline = points_of(elements(svg, "polygon")[0])
    np.testing.assert_allclose(across(outline[:, 0]), [*radius, *reversed(radius)], atol=0.05)
    np.testing.assert_allclose(up(outline[:, 1] + 1.0), [*band[0], *reversed(band[1])], atol=0.01)
    (dot,) = elements(svg, "circle")
    assert across(float(dot.get("cx"))) == pytest.approx(100.0, abs=0.05)
    assert up(float(dot.get("cy")) + 1.0) == pytest.approx(-0.3, abs=0.01)


def test_a_curve_runs_through_its_points():
    radius = tuple(np.linspace(60, 140, 41))
    height = tuple(0.01 * (r - 80) * (r - 120) / 10 for r in radius)
    svg = groove_plot([Curve("as left", radius, height)], title="Tracking error, degrees")
    across, up = scale_of(svg, anchor="middle"), scale_of(svg, anchor="end")
    style = LINE_STYLES["as left"]
    drawn = next(points_of(p) for p in elements(svg, "polyline") if len(points_of(p)) == 41)
    np.testing.assert_allclose(across(drawn[:, 0]), radius, atol=0.05)
    # The number stands with its baseline 1 mm under its line.
    np.testing.assert_allclose(up(drawn[:, 1] + 1.0), height, atol=0.003 * np.ptp(height))
    assert style.stroke == ACCENT


def test_curves_are_told_apart_without_colour():
    told = {(style.dash_mm, style.width_mm) for style in LINE_STYLES.values()}
    assert len({dash for dash, _ in told}) == len(LINE_STYLES)


def test_labels_of_equal_curves_do_not_lie_on_each_other():
    same = tuple(Curve(label, (60.0, 140.0), (0.5, 0.7)) for label in LINE_STYLES)
    svg = groove_plot(same, title="t", zero_based=True)
    places = sorted(float(t.get("y")) for t in elements(svg, "text") if t.text in LINE_STYLES)
    assert np.diff(places).min() > 3


def test_a_flat_curve_is_drawn():
    flat = groove_plot([Curve("target", (60.0, 140.0), (0.0, 0.0))], title="t", zero_based=True)
    assert "nan" not in flat
    assert "inf" not in flat


@settings(max_examples=60, deadline=None)
@given(low=st.floats(-1e4, 1e4), span=st.floats(1e-3, 1e4), about=st.integers(2, 10))
def test_ticks_enclose_the_range_evenly(low, span, about):
    ticks = round_ticks(low, low + span, about=about)
    assert ticks[0] <= low + 1e-6 * span
    assert ticks[-1] >= low + span - 1e-6 * span
    assert 2 <= len(ticks) <= 2 * about + 3


@settings(max_examples=60, deadline=None)
@given(wanted=st.lists(st.floats(0, 100), min_size=1, max_size=6))
def test_labels_keep_their_order_and_their_distance(wanted):
    places = spread(wanted, step=4.0, lowest=0.0, highest=100.0)
    order = sorted(range(len(wanted)), key=lambda k: wanted[k])
    in_order = [places[k] for k in order]
    assert all(b - a >= 4.0 - 1e-9 for a, b in itertools.pairwise(in_order))
    assert min(in_order) >= -1e-9
    assert max(in_order) <= 100 + 1e-9


def test_words_in_a_drawing_are_text_and_not_markup():
    sheet = Drawing(10, 10)
    sheet.text(1, 5, '<b> & "x"')
    assert elements(sheet.as_svg(), "text")[0].text == '<b> & "x"'
