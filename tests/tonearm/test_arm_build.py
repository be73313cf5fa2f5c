import math
from dataclasses import fields

import pytest

from groovewright.tonearm.arm_build import ArmBuild, usual_build
from groovewright.tonearm.geometry import Geometry

NINE_INCH = Geometry(222, 239.296, 22.9855)


def test_what_is_known_stands_and_the_rest_is_usual():
    build = usual_build(NINE_INCH, tracking_force_mn=20, bearing="unipivot", record_thickness_mm=1.5)
    assert (build.geometry, build.tracking_force_mn, build.bearing) == (NINE_INCH, 20, "unipivot")
    assert build.compensation_mn == pytest.approx(2)
    assert build.known_at_thickness_mm == 1.5
    assert build.roll_by == "lateral weight"
    assert build.centre_height_mm < usual_build(NINE_INCH).centre_height_mm


def test_the_centre_of_mass_lies_where_the_tracking_force_puts_it():
    build = usual_build(NINE_INCH)
    assert build.moving_mass_g == 167
    weight_mn = 167 * 9.80665
    assert build.centre_forward_mm * weight_mn == pytest.approx(18 * 239.296)
    # Distance from the line through pivot and stylus, by the triangle's area.
    area = abs(build.centre_forward_mm * -18 - build.centre_height_mm * 239.296)
    assert build.hang_mm == pytest.approx(area / math.hypot(239.296, 18))


@pytest.mark.parametrize(
    ("known", "said"),
    [
        ({"pivot_hight_mm": 18}, "pivot_hight_mm is nothing that an arm's build holds"),
        ({"pivot_height_mm": 240.0}, "not below the effective length of 239.296 mm"),
        ({"pivot_height_mm": math.nan}, "not at nan mm"),
        ({"cartridge_mass_g": -1.0}, "cartridge_mass_g lies between 0 and 10000 g, not at -1 g"),
        ({"arm_mass_g": 0.0}, "arm_mass_g lies between"),
        ({"tracking_force_mn": 0.0, "compensation_mn": 0.0}, "tracking_force_mn lies between"),
        ({"vertical_tracking_angle_deg": 90.0}, "vertical_tracking_angle_deg lies between -60 and 60 deg"),
        ({"axis": "arm"}, "axis must be 'arm line' or 'cantilever axis', not 'arm'"),
        ({"roll_by": "lateral weight"}, "a gimbal doesn't roll by a lateral weight"),
        ({"bearing": "unipivot", "centre_height_mm": 0.0}, "falls on its side"),
    ],
)
def test_an_arm_that_nobody_can_build_is_refused(known, said):
    with pytest.raises(ValueError, match=said):
        usual_build(NINE_INCH, **known)


def test_every_field_is_documented():
    for field in fields(ArmBuild):
        assert field.name in ArmBuild.__doc__
