"""Every reading, move, fold, gauge and setting has a drawing, and its arrows point where the arm model moves things."""

import re
from dataclasses import replace

import numpy as np
import pytest
from django.template import Context, Template

from groovewright.bench.estimate.settings import SETTING_KEYS
from groovewright.gauges.ready_chains import READY_CHAINS
from groovewright.jobbook.models.job import Reading
from groovewright.tonearm.arm_model import arm_state, couplings
from groovewright.tonearm.arm_state import ADJUSTERS, STATE, Adjustments
from groovewright.tonearm.headshell import place
from groovewright.tonearm.tracking import tracking_error
from groovewright.web.drawings.views import BUILD, DISTANCE_MM, LENGTH_MM, STYLUS

TYPED = [
    "pivot_to_spindle",
    "effective_length",
    "overhang",
    "effective_length_error",
    "offset_angle",
    "zenith_error",
    "null_angle",
    "arc_trace",
    "tracking_force",
    "compensation_force",
    "side_force_rest",
    "start_force_outward",
    "start_force_inward",
    "friction_coefficient",
    "azimuth_rotation",
    "stylus_rake_angle",
    "vertical_tracking_angle",
    "vertical_tracking_angle_error",
    "print_bar_x",
    "print_bar_y",
]
FOLDS = ["arm_drawing", "headshell_limits", "arm_build", "adjuster_reach", "cartridge", "records", "limits"]

# What goes right and up in each view, seen from where its words say: x forward from the pivot, y outward, z up.
BETA = np.radians(BUILD.geometry.offset_angle_deg)
FORWARD, OUTWARD, UP = np.eye(3)
CANTILEVER = np.array([np.cos(BETA), -np.sin(BETA), 0.0])
ACROSS = np.array([np.sin(BETA), np.cos(BETA), 0.0])
VIEWS = {
    "headshell above": (OUTWARD, -FORWARD),
    "deck above": (OUTWARD, -FORWARD),
    "headshell front": (ACROSS, UP),
    "headshell side": (-CANTILEVER, UP),
    "tip side": (-CANTILEVER, UP),
    "arm side": (-FORWARD, UP),
}
SMALL = 1e-4


def tag(words):
    return Template("{% load drawings %}{% " + words + " %}").render(Context({}))


def arrow_of(html, name):
    """Return view, sign, start in the arm's frame, and direction right and up of the one arrow of that name."""
    panels = re.findall(r'data-view="([^"]+)">(.*?)</svg>', html, re.DOTALL)
    found = [
        (view, *match)
        for view, inside in panels
        for match in re.findall(
            rf'data-arrow="{name}" data-sign="(.)" data-at="([^"]+)" data-right="([^"]+)" data-up="([^"]+)"', inside
        )
    ]
    assert len(found) == 1, f"{name} has {len(found)} arrows"
    view, sign, at, right, up = found[0]
    return view, sign, np.array([float(x) for x in at.split()]), np.array([float(right), float(up)])


def seen(view, vector):
    right, up = VIEWS[view]
    flat = np.array([vector @ right, vector @ up])
    return flat / np.linalg.norm(flat)


def carried(point, adjustments):
    """Return how a point of the cartridge moves in the arm's frame, by the model."""
    placed = place(BUILD, adjustments)
    return placed.stylus_mm + placed.turned @ (point - STYLUS) - point


@pytest.mark.parametrize("kind", TYPED)
def test_every_typed_reading_has_a_drawing(kind):
    assert kind in Reading.Kind.values
    html = tag(f'drawing_of_reading "{kind}"')
    assert f'data-drawing="reading {kind}"' in html
    assert 'role="img"' in html


def test_every_key_that_is_unknown_is_refused():
    for words in ('drawing_of_reading "warmth"', 'drawing_of_move "warmth"', 'drawing_of_fold "x"'):
        with pytest.raises(KeyError):
            tag(words)


@pytest.mark.parametrize("subject", FOLDS)
def test_every_fold_has_a_drawing(subject):
    assert f'data-drawing="fold {subject}"' in tag(f'drawing_of_fold "{subject}"')


@pytest.mark.parametrize("key", SETTING_KEYS)
def test_every_setting_has_three_views_and_an_arrow(key):
    html = tag(f'drawing_of_setting "{key}"')
    assert html.count("<svg") == 3
    assert "data-arrow" in html


@pytest.mark.parametrize("key", READY_CHAINS)
def test_every_ready_gauge_numbers_all_its_joints(key):
    html = tag(f'drawing_of_gauge "{key}"')
    joints = [joint.name.replace("'", "&#x27;") for joint in READY_CHAINS[key].joints]
    assert re.findall(r"<li>(.*?)</li>", html) == joints
    assert re.findall(r'class="drawn-joint"[^>]*>(\d+)<', html) == [str(k + 1) for k in range(len(joints))]


@pytest.mark.parametrize("sign", [1, -1])
@pytest.mark.parametrize("adjuster", ["slide_mm", "turn_deg", "roll_deg"])
def test_arrows_of_the_cartridge_point_where_the_model_carries_it(adjuster, sign):
    view, drawn_sign, at, drawn = arrow_of(tag(f'drawing_of_move "{adjuster}" {sign}'), adjuster)
    moved = carried(at, Adjustments(**{adjuster: sign * SMALL}))
    assert drawn_sign == ("+" if sign > 0 else "\N{MINUS SIGN}")
    np.testing.assert_allclose(drawn, seen(view, moved), atol=2e-3)


@pytest.mark.parametrize("sign", [1, -1])
def test_the_counterweight_s_arrow_points_where_its_moment_goes(sign):
    view, _, _, drawn = arrow_of(tag(f'drawing_of_move "counterweight_mm" {sign}'), "counterweight_mm")
    moment = place(BUILD, Adjustments(counterweight_mm=sign)).moment_g_mm - place(BUILD, Adjustments()).moment_g_mm
    np.testing.assert_allclose(drawn, seen(view, moment), atol=1e-3)
    assert coupling("tracking_force_mn", "counterweight_mm") > 0


@pytest.mark.parametrize("sign", [1, -1])
def test_the_arrow_of_the_arm_height_pitches_the_cartridge_as_the_model_does(sign):
    view, _, _, drawn = arrow_of(tag(f'drawing_of_move "arm_height_mm" {sign}'), "arm_height_mm")
    right, up = VIEWS[view]
    pivot = drawn[0] * right + drawn[1] * up
    # The stylus stays on the record, so the line from it to the pivot turns; like the rake angle it is measured from
    # backward up.
    before, after = -STYLUS, -STYLUS + pivot
    turned = np.arctan2(after[2], -after[0]) - np.arctan2(before[2], -before[0])
    raised = arm_state(BUILD, Adjustments(arm_height_mm=float(sign)))
    assert np.sign(turned) == np.sign(raised.stylus_rake_angle_deg - BUILD.stylus_rake_angle_deg) == sign


@pytest.mark.parametrize("sign", [1, -1])
def test_the_arrow_of_the_base_changes_the_distance_as_the_model_does(sign):
    html = tag(f'drawing_of_move "base_position_mm" {sign}')
    _, _, _, drawn = arrow_of(html, "base_position_mm")
    # From the drawing itself: the middle of the platter, and the pivot at the arm frame's origin.
    spindle, pivot = (
        np.array([float(x) for x in re.search(rf'<g transform="matrix\(([^)]+)\)">{begin}', html)[1].split()[4:]])
        for begin in ('<circle class="drawn-platter"', '<circle class="drawn-body"')
    )
    away = (pivot - spindle) * (1, -1)
    np.testing.assert_allclose(drawn, sign * away / np.linalg.norm(away), atol=2e-3)
    assert coupling("pivot_to_spindle_mm", "base_position_mm") == 1


@pytest.mark.parametrize(("sign", "direction"), [(1, OUTWARD), (-1, -OUTWARD)])
def test_more_compensation_points_outward(sign, direction):
    view, _, _, drawn = arrow_of(tag(f'drawing_of_move "compensation_mn" {sign}'), "compensation_mn")
    np.testing.assert_allclose(drawn, seen(view, direction), atol=1e-6)


@pytest.mark.parametrize(
    ("kind", "adjuster", "quantity"),
    [
        ("zenith_error", "turn_deg", "offset_angle_deg"),
        ("offset_angle", "turn_deg", "offset_angle_deg"),
        ("azimuth_rotation", "roll_deg", "azimuth_deg"),
    ],
)
def test_what_an_adjuster_makes_grow_points_the_way_of_that_adjuster(kind, adjuster, quantity):
    view, sign, at, drawn = arrow_of(tag(f'drawing_of_reading "{kind}"'), kind)
    assert sign == "+"
    assert coupling(quantity, adjuster) > 0
    moved = carried(at, Adjustments(**{adjuster: SMALL}))
    assert drawn @ seen(view, moved) > 0.8


@pytest.mark.parametrize("kind", ["effective_length_error", "arc_trace"])
def test_a_stylus_too_far_out_lies_where_more_length_takes_it(kind):
    view, _, _, drawn = arrow_of(tag(f'drawing_of_reading "{kind}"'), kind)
    further = STYLUS * (1, 1, 0)
    np.testing.assert_allclose(drawn, seen(view, further), atol=1e-6)


@pytest.mark.parametrize("kind", ["stylus_rake_angle", "vertical_tracking_angle", "vertical_tracking_angle_error"])
def test_angles_from_the_side_grow_as_the_arm_is_raised(kind):
    view, _, at, drawn = arrow_of(tag(f'drawing_of_reading "{kind}"'), kind)
    quantity = "stylus_rake_angle_deg" if kind == "stylus_rake_angle" else "vertical_tracking_angle_deg"
    assert coupling(quantity, "arm_height_mm") > 0
    # Raising the arm lifts what is behind the stylus; the arc starts at the groove behind it and goes up.
    assert (at - STYLUS) @ CANTILEVER < 0
    assert drawn @ seen(view, UP) > 0.97


def test_a_tracking_error_points_from_the_cantilever_to_the_tangent():
    view, _, at, drawn = arrow_of(tag('drawing_of_reading "null_angle"'), "null_angle")
    angles = dict(effective_length_mm=LENGTH_MM, pivot_to_spindle_mm=DISTANCE_MM)
    now, more = (
        float(tracking_error(100.0, offset_angle_deg=BUILD.geometry.offset_angle_deg + turn, **angles))
        for turn in (0.0, 1.0)
    )
    # More offset makes it less, so a positive one lies inward of the cantilever: where a turn inward would bring it.
    assert more < now
    np.testing.assert_allclose(drawn, seen(view, carried(at, Adjustments(turn_deg=SMALL))), atol=2e-3)


@pytest.mark.parametrize(
    ("kind", "direction"),
    [
        ("compensation_force", OUTWARD),
        ("side_force_rest", -OUTWARD),
        ("start_force_outward", OUTWARD),
        ("start_force_inward", -OUTWARD),
        ("tracking_force", -UP),
        ("friction_coefficient", CANTILEVER),
    ],
)
def test_forces_point_as_the_glossary_says(kind, direction):
    view, _, _, drawn = arrow_of(tag(f'drawing_of_reading "{kind}"'), kind)
    np.testing.assert_allclose(drawn, seen(view, direction), atol=1e-3)


def test_overhang_is_positive_past_the_spindle():
    longer = replace(BUILD.geometry, effective_length_mm=LENGTH_MM + 1)
    assert longer.overhang_mm > BUILD.geometry.overhang_mm > 0
    html = tag('drawing_of_reading "overhang"')
    placed = re.findall(r'<g transform="matrix\(([^)]+)\)">', html)
    spindle_y, stylus_y = float(placed[0].split()[5]), float(placed[-1].split()[5])
    scale = 100 / 82
    assert stylus_y - spindle_y == pytest.approx(BUILD.geometry.overhang_mm * scale, abs=0.01)


def test_slide_and_turn_share_a_view():
    amounts = {"slide_mm": 1.5, "turn_deg": -0.4, "roll_deg": 0.0}
    html, same = (
        Template("{% load drawings %}{% drawing_of_moves amounts %}").render(Context({"amounts": of}))
        for of in (amounts, Adjustments(**amounts))
    )
    assert html == same
    assert html.count("<svg") == 1
    assert arrow_of(html, "slide_mm")[1] == "+"
    assert arrow_of(html, "turn_deg")[1] == "\N{MINUS SIGN}"


def test_every_adjuster_has_a_drawing_both_ways():
    for adjuster in ADJUSTERS:
        for sign in ("+", "-"):
            assert f'data-drawing="move {adjuster} {sign.replace("-", chr(8722))}"' in tag(
                f'drawing_of_move "{adjuster}" "{sign}"'
            )


def coupling(quantity, adjuster):
    return couplings(BUILD)[STATE.index(quantity), ADJUSTERS.index(adjuster)]
