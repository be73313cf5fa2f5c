"""What a plate refuses, and how it names itself."""

import math

import pytest

from groovewright.plates.plate import PlateRequest, draw_plate
from groovewright.tonearm.geometry import Geometry


@pytest.mark.parametrize(
    ("changes", "message"),
    [
        ({"kind": "ring"}, "There is no plate of kind 'ring'; choose arc, two-null, cut"),
        ({"paper": "B5"}, "There is no paper called 'B5' here; choose A5, A4, A3, Letter"),
        ({"scale_x": 0.0}, "scale_x must lie between 0.9 and 1.1, not 0"),
        ({"scale_y": 1.2}, "scale_y must lie between 0.9 and 1.1, not 1.2"),
        ({"scale_y": math.nan}, "scale_y must lie between 0.9 and 1.1, not nan"),
        ({"fan_step_mm": 0.0}, "fan_step_mm must be 0.01 mm or more, .* not 0 mm"),
        ({"fan_step_mm": 1e-320}, "fan_step_mm must be 0.01 mm or more, .* not 9.99989e-321 mm"),
        ({"fan_half_width_mm": 1e300}, "fan_half_width_mm must lie between 0 and 50 mm, not 1e.300 mm"),
        ({"fan_half_width_mm": -1.0}, "fan_half_width_mm must lie between 0 and 50 mm, not -1 mm"),
        ({"fan_half_width_mm": math.inf}, "fan_half_width_mm must lie between 0 and 50 mm, not inf mm"),
        ({"spindle_clearance_mm": -0.1}, "spindle_clearance_mm must lie between 0 and 1 mm, not -0.1 mm"),
        ({"fan_step_mm": 0.1}, "has 20 arcs on each side; 6 fit. Take steps of 0.34 mm or more"),
        ({"innermost_mm": 150.0}, "must lie inside the outermost"),
        ({"number": "x" * 21}, "A plate number holds up to 20 letters"),
        ({"number": "7\n8"}, "A plate number holds up to 20 letters"),
        ({"criterion_label": "two\nlines"}, "one printable line"),
        ({"pivot_to_spindle_mm": 120.0}, "would stand on the plate; an arc plate needs 150 mm. Choose the two-null"),
        ({"null_radii_mm": (20.0, 110.0)}, "The null at 20.00 mm is under 25 mm, on the spindle mark"),
        ({"null_radii_mm": (88.0, 92.0)}, "The nulls at 88.00 and 92.00 mm are too near each other for two grids"),
    ],
)
def test_a_request_that_cannot_be_drawn_says_why_and_what_would_do(plate_for, changes, message):
    with pytest.raises(ValueError, match=message):
        plate_for(**changes)


def test_a_step_as_fine_as_the_refusal_says_is_accepted(plate_for):
    assert plate_for(fan_step_mm=0.34).neighbours_a_side == 5


def test_a_two_null_plate_needs_two_nulls_and_an_arc_plate_one():
    straight = Geometry(240.0, 225.0, 0.0)
    with pytest.raises(ValueError, match=r"needs two null radii; this geometry has 1\. Choose the arc plate"):
        PlateRequest("two-null", straight, 60.325, 146.05, "Straight arm")
    assert draw_plate(PlateRequest("arc", straight, 60.325, 146.05, "Straight arm")).width_mm == 297.0
    with pytest.raises(ValueError, match="has no null radius, so there is nothing to align to"):
        PlateRequest("arc", Geometry(222.0, 239.3, 5.0), 60.325, 146.05, "Off")


def test_a_groove_out_of_the_arms_reach_is_refused(plate_for):
    with pytest.raises(ValueError, match="out of reach"):
        plate_for(null_radii_mm=(140.0, 190.0), innermost_mm=25.0)


@pytest.mark.parametrize(
    ("kind", "paper", "message"),
    [
        ("arc", "A5", r"The plate is 26\d x 16\d mm; A5 leaves 200 x 138 mm. Choose A4: plates are never scaled"),
        ("cut", "A5", "A5 leaves 200 x 138 mm. Choose A4: plates are never scaled to fit."),
    ],
)
def test_a_plate_that_does_not_fit_names_the_paper_that_would(plate_for, kind, paper, message):
    with pytest.raises(ValueError, match=message):
        draw_plate(plate_for(kind, paper=paper))


def test_a_plate_that_no_longer_fits_once_corrected_is_refused(plate_for):
    assert draw_plate(plate_for(paper="Letter")).width_mm == 279.4
    with pytest.raises(ValueError, match=r"Letter leaves 269 x 206 mm\. Choose A4"):
        draw_plate(plate_for(paper="Letter", scale_x=0.97))


def test_a_plate_too_large_for_every_paper_says_so(plate_for):
    grooves = {"innermost_mm": 20.0, "outermost_mm": 200.0, "null_radii_mm": (30.0, 190.0)}
    fan = {"fan_half_width_mm": 20.0, "fan_step_mm": 4.0}
    wide = plate_for(pivot_to_spindle_mm=155.0, paper="A3", **grooves, **fan)
    with pytest.raises(ValueError, match="No paper here holds it, and plates are never scaled to fit"):
        draw_plate(wide)


def test_a_corrected_plate_gets_a_new_number_and_an_equal_plate_the_same(plate_for):
    plain, again = plate_for(), plate_for()
    corrected = plate_for(scale_x=1.004, scale_y=0.997)
    assert plain.plate_number == again.plate_number
    assert corrected.plate_number != plain.plate_number
    assert plate_for(scale_x=1.004).plate_number != plate_for(scale_y=1.004).plate_number
    assert plate_for(number="GW 12/b").plate_number == "GW 12/b"
