"""Every format, read by a parser that is not ours, against circles and lines computed here from the triangle."""

import math
from itertools import pairwise

import numpy as np
import pytest

from groovewright.plates.plate import draw_plate

MICROMETRE = 1e-3
SCALES = [(1.0, 1.0), (1.004, 0.997), (0.992, 0.992)]


def printed(curves, scale_x, scale_y):
    """What a printer with these scales makes of the page."""
    return [curve.points * [scale_x, scale_y] for curve in curves]


def spindle_of(curves, hole_mm):
    """Centre of the one curve that is a whole circle of the hole's size."""
    centres = []
    for points in curves:
        middle = (points.max(axis=0) + points.min(axis=0)) / 2
        radius = np.hypot(*(points - middle).T)
        if len(points) > 20 and np.allclose(radius, hole_mm / 2, rtol=0, atol=MICROMETRE):
            centres.append(middle)
    assert len(centres) == 1
    return centres[0]


def stylus(radius_mm, pivot_to_spindle_mm, effective_length_mm):
    """Stylus with the pivot straight up, from the two circles it lies on."""
    y = (radius_mm**2 + pivot_to_spindle_mm**2 - effective_length_mm**2) / (2 * pivot_to_spindle_mm)
    return np.array([math.sqrt(radius_mm**2 - y**2), y])


def turned(point, degrees):
    turn = math.radians(degrees)
    return np.array([[math.cos(turn), -math.sin(turn)], [math.sin(turn), math.cos(turn)]]) @ point


@pytest.mark.parametrize("kind", ["arc", "cut"])
@pytest.mark.parametrize(("scale_x", "scale_y"), SCALES)
def test_a_plate_printed_by_the_measured_printer_has_true_arcs_through_its_nulls(
    read, plate_for, kind, scale_x, scale_y
):
    request = plate_for(kind, scale_x=scale_x, scale_y=scale_y, fan_half_width_mm=1.0)
    curves = printed(read(draw_plate(request)), scale_x, scale_y)
    spindle = spindle_of(curves, request.hole_diameter_mm)
    length = math.sqrt(222.0**2 + 65.998 * 120.891)
    pivot = np.array([0.0, 222.0])
    ends = stylus(60.325, 222.0, length), stylus(146.05, 222.0, length)
    paths = [points - spindle for points in curves if len(points) > 20]
    design = [p for p in paths if np.allclose(p[[0, -1]], ends, rtol=0, atol=MICROMETRE)]
    assert len(design) == 1
    np.testing.assert_allclose(np.hypot(*(design[0] - pivot).T), length, rtol=0, atol=MICROMETRE)
    for null_mm in (65.998, 120.891):
        null = stylus(null_mm, 222.0, length)
        assert abs(np.hypot(*(null - pivot)) - length) < MICROMETRE
        nearest = np.hypot(*(design[0] - null).T).min()
        assert nearest < 2.0, "the path runs past the null, not only its circle"


@pytest.mark.parametrize(("scale_x", "scale_y"), SCALES)
def test_each_neighbour_is_the_path_of_its_own_arm_aimed_along_its_own_line(read, plate_for, scale_x, scale_y):
    request = plate_for(scale_x=scale_x, scale_y=scale_y)
    curves = printed(read(draw_plate(request)), scale_x, scale_y)
    spindle = spindle_of(curves, request.hole_diameter_mm)
    # Aiming lines: straight, in line with the spindle, and long.
    aims = []
    for points in curves:
        start, end = points[0] - spindle, points[-1] - spindle
        in_line = abs(start[0] * end[1] - start[1] * end[0]) / np.hypot(*end) < MICROMETRE
        if len(points) in (2, 41) and in_line and np.hypot(*(end - start)) > 25 and end[1] > 60:
            aims.append(math.degrees(math.atan2(end[1], end[0])) - 90)
    aims.sort(reverse=True)
    distances = [220.0, 220.5, 221.0, 221.5, 222.0, 222.5, 223.0, 223.5, 224.0]
    assert len(aims) == len(distances)
    for turn, distance in zip(aims, distances, strict=True):
        length = math.sqrt(distance**2 + 65.998 * 120.891)
        ends = [turned(stylus(radius, distance, length), turn) for radius in (60.325, 146.05)]
        pivot = turned(np.array([0.0, distance]), turn)
        found = [p - spindle for p in curves if np.allclose(p[[0, -1]] - spindle, ends, rtol=0, atol=2 * MICROMETRE)]
        assert len(found) == 1
        np.testing.assert_allclose(np.hypot(*(found[0] - pivot).T), length, rtol=0, atol=MICROMETRE)


@pytest.mark.parametrize("kind", ["arc", "two-null", "cut"])
@pytest.mark.parametrize(("scale_x", "scale_y"), SCALES)
def test_both_check_bars_measure_100_mm(read, plate_for, kind, scale_x, scale_y):
    curves = printed(read(draw_plate(plate_for(kind, scale_x=scale_x, scale_y=scale_y))), scale_x, scale_y)
    spans = [points[-1] - points[0] for points in curves]
    across = [s for s in spans if abs(abs(s[0]) - 100) < MICROMETRE and abs(s[1]) < MICROMETRE]
    up = [s for s in spans if abs(abs(s[1]) - 100) < MICROMETRE and abs(s[0]) < MICROMETRE]
    assert (len(across), len(up)) == (1, 1)


@pytest.mark.parametrize("kind", ["arc", "two-null", "cut"])
@pytest.mark.parametrize(("scale_x", "scale_y"), SCALES)
def test_the_lane_of_each_null_lies_along_the_groove(read, plate_for, kind, scale_x, scale_y):
    request = plate_for(kind, scale_x=scale_x, scale_y=scale_y)
    curves = printed(read(draw_plate(request)), scale_x, scale_y)
    spindle = spindle_of(curves, request.hole_diameter_mm)
    length = math.sqrt(222.0**2 + 65.998 * 120.891)
    for null_mm in (65.998, 120.891):
        null = np.array([null_mm, 0.0]) if kind == "two-null" else stylus(null_mm, 222.0, length)
        outward = null / np.hypot(*null)
        offsets = []
        for points in curves:
            ends = points[[0, -1]] - spindle - null
            radial, along = ends @ outward, ends @ [-outward[1], outward[0]]
            tangential = abs(radial[1] - radial[0]) < MICROMETRE and abs(along.sum()) < MICROMETRE
            if tangential and abs(radial[0]) < 1 and abs(along[0]) > 5:
                offsets.append(radial[0])
        np.testing.assert_allclose(sorted(offsets), [-0.5, 0.5], rtol=0, atol=MICROMETRE)


@pytest.mark.parametrize("kind", ["arc", "two-null", "cut"])
@pytest.mark.parametrize(("scale_x", "scale_y"), SCALES)
def test_nothing_but_the_path_is_printed_within_a_quarter_millimetre_of_a_null(read, plate_for, kind, scale_x, scale_y):
    request = plate_for(kind, scale_x=scale_x, scale_y=scale_y)
    curves = printed(read(draw_plate(request)), scale_x, scale_y)
    spindle = spindle_of(curves, request.hole_diameter_mm)
    length = math.sqrt(222.0**2 + 65.998 * 120.891)
    for null_mm in (65.998, 120.891):
        null = spindle + (np.array([null_mm, 0.0]) if kind == "two-null" else stylus(null_mm, 222.0, length))
        near = 0
        for points in curves:
            near += any(distance_to_segment(null, start, end) < 0.25 for start, end in pairwise(points))
        assert near == (0 if kind == "two-null" else 1)


def distance_to_segment(point, start, end):
    along = end - start
    squared = along @ along
    t = 0.0 if squared == 0 else min(1.0, max(0.0, (point - start) @ along / squared))
    return np.hypot(*(point - start - t * along))
