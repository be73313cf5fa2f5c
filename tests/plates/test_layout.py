"""The drawing itself, over the arms and records a workshop meets."""

import math
from itertools import combinations, pairwise

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from reportlab.pdfbase.pdfmetrics import stringWidth

from groovewright.plates.arc_plate import lanes
from groovewright.plates.pdf import scene_to_pdf
from groovewright.plates.plate import PlateRequest, draw_plate
from groovewright.plates.scene import Arc, Circle, Line, Polyline, Scene, Text
from groovewright.tonearm.criteria import CRITERIA, closed_form_geometry
from groovewright.tonearm.geometry import Geometry
from groovewright.tonearm.optimum import optimum

FONTS = {"regular": "SourceSansPro", "semibold": "SourceSansPro-Semibold"}


@pytest.fixture(scope="module", autouse=True)
def _fonts():
    scene_to_pdf(Scene(10, 10, (Text((1, 1), "a", 2, "A"),), "Fonts"))


def box(text):
    """Corners of the words from baseline to capitals, less a hair."""
    width = stringWidth(text.words, FONTS[text.weight], text.size_mm)
    start = {"start": 0.0, "middle": -width / 2, "end": -width}[text.anchor]
    turn = math.radians(text.turn_deg)
    rotation = np.array([[math.cos(turn), -math.sin(turn)], [math.sin(turn), math.cos(turn)]])
    corners = [(start, 0.0), (start + width, 0.0), (start + width, 0.6 * text.size_mm), (start, 0.6 * text.size_mm)]
    return np.array(text.at) + np.array(corners) @ rotation.T


def along(shape):
    """Points every few tenths of a millimetre along a stroke."""
    match shape:
        case Line(start=start, end=end):
            legs = [(start, end)]
        case Polyline(points=points):
            legs = list(pairwise(points))
        case Arc(centre=centre, radius_mm=radius, start_deg=first, end_deg=last):
            turn = np.radians(np.linspace(first, last, max(3, int(radius * math.radians(last - first) / 0.3))))
            return np.array(centre) + radius * np.column_stack([np.cos(turn), np.sin(turn)])
        case Circle(centre=centre, radius_mm=radius):
            turn = np.linspace(0, 2 * np.pi, 120)
            return np.array(centre) + radius * np.column_stack([np.cos(turn), np.sin(turn)])
    return np.concatenate(
        [np.linspace(start, end, max(2, int(math.dist(start, end) / 0.3))) for start, end in legs], axis=0
    )


def inside(points, corners):
    """Which points lie inside a convex polygon given counterclockwise."""
    held = np.ones(len(points), dtype=bool)
    for start, end in zip(corners, np.roll(corners, -1, axis=0), strict=True):
        edge, to = end - start, points - start
        held &= edge[0] * to[:, 1] - edge[1] * to[:, 0] > 1e-9
    return held


def apart(first, second):
    """Whether two convex polygons are separated by a side of either."""
    for polygon in (first, second):
        for start, end in zip(polygon, np.roll(polygon, -1, axis=0), strict=True):
            normal = np.array([end[1] - start[1], start[0] - end[0]])
            if (first @ normal).max() < (second @ normal).min() or (second @ normal).max() < (first @ normal).min():
                return True
    return False


def check_layout(scene):
    texts = [shape for shape in scene.shapes if isinstance(shape, Text)]
    boxes = [box(text) for text in texts]
    strokes = np.concatenate([along(shape) for shape in scene.shapes if not isinstance(shape, Text)])
    low, high = strokes.min(axis=0), strokes.max(axis=0)
    for text, corners in zip(texts, boxes, strict=True):
        assert (corners > low + 1).all(), f"{text.words!r} leaves the plate"
        assert (corners < high - 1).all(), f"{text.words!r} leaves the plate"
        hit = strokes[inside(strokes, corners)]
        assert not len(hit), f"a line crosses {text.words!r}"
    for (one, its), (other, others) in combinations(zip(texts, boxes, strict=True), 2):
        assert apart(its, others), f"{one.words!r} overlaps {other.words!r}"
    page_low = np.array(scene.placement.on_page(tuple(low)))
    page_high = np.array(scene.placement.on_page(tuple(high)))
    assert (page_low >= 5 - 1e-9).all()
    assert (page_high <= np.array([scene.width_mm, scene.height_mm]) - 5 + 1e-9).all()


@pytest.mark.parametrize("criterion", [key for key in CRITERIA if not key.startswith("exact")])
@pytest.mark.parametrize("kind", ["arc", "two-null", "cut"])
@pytest.mark.parametrize(("pivot_to_spindle_mm", "fan_half_width_mm"), [(211.0, 2.0), (222.0, 0.0), (295.0, 3.0)])
def test_nothing_on_a_plate_overlaps(criterion, kind, pivot_to_spindle_mm, fan_half_width_mm):
    geometry = closed_form_geometry(
        criterion, pivot_to_spindle_mm=pivot_to_spindle_mm, innermost_mm=60.325, outermost_mm=146.05
    )
    label = CRITERIA[criterion].label
    check_layout(draw_plate(PlateRequest(kind, geometry, 60.325, 146.05, label, fan_half_width_mm=fan_half_width_mm)))


@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(
    pivot_to_spindle_mm=st.floats(180, 330),
    innermost_mm=st.floats(50, 65),
    width_mm=st.floats(28, 90),
    kind=st.sampled_from(["arc", "two-null", "cut"]),
    neighbours=st.integers(0, 6),
    scale_x=st.floats(0.98, 1.02),
)
def test_any_arm_and_record_gives_a_plate_whose_paths_meet_their_nulls(
    *, pivot_to_spindle_mm, innermost_mm, width_mm, kind, neighbours, scale_x
):
    outermost_mm = innermost_mm + width_mm
    geometry = closed_form_geometry(
        "minimax", pivot_to_spindle_mm=pivot_to_spindle_mm, innermost_mm=innermost_mm, outermost_mm=outermost_mm
    )
    request = PlateRequest(
        kind, geometry, innermost_mm, outermost_mm, "Least peak", "A3", scale_x, fan_half_width_mm=neighbours * 0.5
    )
    scene = draw_plate(request)
    check_layout(scene)
    for lane in () if kind == "two-null" else lanes(request):
        (path,) = [
            shape
            for shape in scene.shapes
            if isinstance(shape, Arc) and math.dist(shape.centre, lane.pivot) < 1e-9 and shape.radius_mm > 100
        ]
        for null_mm in geometry.null_radii_mm:
            # The two circles (about pivot and spindle) must meet where the path runs.
            null = lane.stylus(null_mm)
            assert math.hypot(*null) == pytest.approx(null_mm, abs=1e-9)
            assert math.dist(null, path.centre) == pytest.approx(path.radius_mm, abs=1e-9)
            bearing = math.degrees(math.atan2(null[1] - path.centre[1], null[0] - path.centre[0]))
            assert 0 <= (bearing - path.start_deg + 1e-9) % 360 <= path.end_deg - path.start_deg + 2e-9


@pytest.mark.parametrize("criterion", [key for key in CRITERIA if not key.startswith("exact")])
def test_each_neighbour_is_the_target_of_the_same_criterion_at_its_own_distance(criterion):
    limits = {"innermost_mm": 60.325, "outermost_mm": 146.05}
    geometry = closed_form_geometry(criterion, pivot_to_spindle_mm=222.0, **limits)
    for lane in lanes(PlateRequest("arc", geometry, 60.325, 146.05, "Any")):
        own = closed_form_geometry(criterion, pivot_to_spindle_mm=lane.pivot_to_spindle_mm, **limits)
        assert lane.effective_length_mm == pytest.approx(own.effective_length_mm, abs=1e-9)


def test_a_stylus_stands_clockwise_of_the_pivot_as_a_record_drags_it(plate_for):
    design = lanes(plate_for())[4]
    assert (design.pivot_to_spindle_mm, design.turn_deg) == (222.0, 0.0)
    assert design.pivot == pytest.approx((0.0, 222.0), abs=1e-9)
    for radius_mm in (60.325, 100.0, 146.05):
        x, y = design.stylus(radius_mm)
        # Clockwise seen from above: at (x, y) the groove runs along (y, -x); it must pull away from the pivot.
        assert y * (x - 0.0) - x * (y - 222.0) > 0


def test_a_geometry_whose_null_lies_outside_the_records_still_gets_its_path_through_it():
    length = math.sqrt(222.0**2 + 70.0 * 150.0)
    geometry = Geometry(222.0, length, math.degrees(math.asin(110.0 / length)))
    scene = draw_plate(PlateRequest("arc", geometry, 75.0, 140.0, "Held", "A3"))
    check_layout(scene)
    (path,) = [shape for shape in scene.shapes if isinstance(shape, Arc) and shape.radius_mm == length]
    span = math.degrees(
        math.acos((222.0**2 + length**2 - 150.0**2) / (2 * 222.0 * length))
        - math.acos((222.0**2 + length**2 - 70.0**2) / (2 * 222.0 * length))
    )
    assert path.end_deg - path.start_deg == pytest.approx(span, abs=1e-9)


@pytest.mark.parametrize("objective", ["peak", "rms"])
def test_a_neighbour_of_an_exact_optimum_is_its_own_optimum_within_a_micrometre(objective):
    limits = {"innermost_mm": 60.325, "outermost_mm": 146.05}
    geometry = optimum(objective, pivot_to_spindle_mm=222.0, **limits).geometry
    for lane in lanes(PlateRequest("arc", geometry, 60.325, 146.05, "Exact")):
        own = optimum(objective, pivot_to_spindle_mm=lane.pivot_to_spindle_mm, **limits).geometry
        assert lane.effective_length_mm == pytest.approx(own.effective_length_mm, abs=0.001)
