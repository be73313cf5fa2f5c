"""Aims and limits of the settings, the arm's build, its adjusters' ways and the stylus's hours, as taken in."""

import re

import pytest

from groovewright.jobbook import entries
from groovewright.jobbook.bench_inputs import job_bench
from groovewright.jobbook.deck_visits import visits_of
from groovewright.jobbook.job_record import job_record
from groovewright.jobbook.models import Arm, Cartridge, Intake, Job
from groovewright.web.intake.arm_fields import BUILD_FIELDS, REACH_FIELDS
from groovewright.web.intake.beside_others import as_shown
from groovewright.web.intake.initial_values import initial_values, initial_values_of_next_visit
from groovewright.web.intake.setting_fields import KEYS

GRAM_FORCE_MN = 9.80665
STORED = {
    "zenith": ({"zenith_aim": "0.2 deg", "zenith_limits": "-0.3:0.5 deg"}, (0.2, -0.3, 0.5)),
    "azimuth": ({"azimuth_aim": "1 deg"}, (1.0, None, None)),
    "stylus_rake_angle": ({"stylus_rake_angle_limits": "90.5:92"}, (None, 90.5, 92.0)),
    "vertical_tracking_angle": ({"vertical_tracking_angle_aim": "20 deg"}, (20.0, None, None)),
    "tracking_force": (
        {"tracking_force_aim": "1.85 g", "tracking_force_limits": "1.8:1.9 g"},
        (1.85 * GRAM_FORCE_MN, 1.8 * GRAM_FORCE_MN, 1.9 * GRAM_FORCE_MN),
    ),
    "side_force": ({"side_force_limits": "-0.5:0.5 mN"}, (None, -0.5, 0.5)),
}
BUILD = {
    "build_axis": ("cantilever axis", "cantilever axis"),
    "build_bearing": ("unipivot", "unipivot"),
    "build_pivot_height_mm": ("21 mm", 21.0),
    "build_centre_height_mm": ("-9 mm", -9.0),
    "build_counterweight_mass_g": ("120 g", 120.0),
    "build_counterweight_behind_mm": ("4 cm", 40.0),
    "build_arm_mass_g": ("55 g", 55.0),
    "build_turn_about": ("screw", "screw"),
    "build_screw_forward_mm": ("-8", -8.0),
    "build_screw_outward_mm": ("6.35 mm", 6.35),
    "build_roll_by": ("lateral weight", "lateral weight"),
    "build_roll_axis_height_mm": ("14 mm", 14.0),
    "build_cartridge_centre_forward_mm": ("-5 mm", -5.0),
    "build_cartridge_centre_up_mm": ("8 mm", 8.0),
}
REACH = {
    "reach_slide_mm": ("-2:3 mm", [-2.0, 3.0]),
    "reach_turn_deg": ("fixed", [0.0, 0.0]),
    "reach_base_position_mm": ("-1:1", [-1.0, 1.0]),
    "reach_arm_height_mm": ("0:8 mm", [0.0, 8.0]),
    "reach_counterweight_mm": ("-5:5 mm", [-5.0, 5.0]),
    "reach_compensation_mn": ("-3:3 mN", [-3.0, 3.0]),
    "reach_roll_deg": ("-1.5:1.5 deg", [-1.5, 1.5]),
}


def as_it_stands(bench, **typed):
    """Return what the browser sends of the take-in page of the job, with some fields typed anew."""
    known = initial_values(bench.deck, bench.job.intakes.order_by("-version").first())
    known["complaint"] = bench.job.complaint
    sent = {name: str(value) for name, value in (known | typed).items() if value not in (False, None)}
    return sent | {"as_shown": as_shown(known)}


def take_in(client, bench, **typed):
    answer = client.post(f"/jobs/{bench.job.number}/take-in/", as_it_stands(bench, **typed))
    assert answer.status_code == 302, re.findall(r'class="wrong".*?</p>', answer.content.decode())
    return bench.job.intakes.order_by("-version").first()


def fold(page, key):
    return re.search(rf'id="fold-{key}"( open)?>', page)[1] is not None


def build_typed():
    return {name: text for name, (text, _) in BUILD.items()}


def reach_typed():
    return {name: text for name, (text, _) in REACH.items()}


@pytest.mark.parametrize("key", KEYS)
def test_aim_and_limits_of_each_setting_are_stored_and_shown_again(client, bench, key):
    typed, (aim, lower, upper) = STORED[key]
    intake = take_in(client, bench, **typed)
    assert set(intake.tolerances) == {key}
    stored = intake.tolerances[key]
    for name, expected in (("aim", aim), ("lower", lower), ("upper", upper)):
        assert stored[name] == (expected if expected is None else pytest.approx(expected, abs=1e-9))
    again = take_in(client, bench)
    assert again.tolerances == intake.tolerances
    take_in(client, bench, **dict.fromkeys(typed, ""))
    assert bench.job.intakes.order_by("-version").first().tolerances is None


def test_all_that_was_chosen_reaches_the_bench(client, bench):
    take_in(client, bench, **{name: text for typed, _ in STORED.values() for name, text in typed.items()})
    targets = job_bench(job_record(bench.job)).inputs.targets
    assert targets.aims["zenith"] == 0.2
    assert targets.aims["stylus_rake_angle"] == 91.25
    assert targets.aims["tracking_force"] == pytest.approx(1.85 * GRAM_FORCE_MN)
    vertical = targets.tolerances["vertical_tracking_angle"]
    assert (targets.aims["vertical_tracking_angle"], vertical.lower, vertical.upper) == (20, 18, 22)


@pytest.mark.parametrize("name", BUILD_FIELDS)
def test_each_part_of_the_build_is_stored_and_shown_again(client, bench, name):
    text, value = BUILD[name]
    typed = {name: text} | ({"build_bearing": "unipivot"} if name == "build_roll_by" else {})
    build = take_in(client, bench, **typed).arm.build
    assert build[name.removeprefix("build_")] == value
    assert take_in(client, bench).arm.build == build
    assert Arm.objects.count() == 2
    assert take_in(client, bench, **dict.fromkeys(typed, "")).arm.build is None


@pytest.mark.parametrize("name", REACH_FIELDS)
def test_the_way_of_each_adjuster_is_stored_and_shown_again(client, bench, name):
    text, ends = REACH[name]
    limits = take_in(client, bench, **{name: text}).arm.adjuster_limits
    assert limits == {name.removeprefix("reach_"): ends}
    assert take_in(client, bench).arm.adjuster_limits == limits
    assert take_in(client, bench, **{name: ""}).arm.adjuster_limits is None


def test_build_and_ways_reach_the_bench(client, bench):
    take_in(client, bench, **build_typed(), **reach_typed())
    on_bench = job_bench(job_record(bench.job))
    build, limits = on_bench.inputs.build, on_bench.limits
    assert (build.axis, build.bearing, build.counterweight_mass_g) == ("cantilever axis", "unipivot", 120)
    assert (limits.ranges["arm_height_mm"], limits.is_fixed("turn_deg")) == ((0, 8), True)


@pytest.mark.parametrize(
    ("typed", "sentence"),
    [
        ({"zenith_aim": "straight"}, "write it like 0 deg"),
        ({"zenith_limits": "0.5 deg"}, "write its two ends with one colon between, such as -0.5:0.5 deg"),
        ({"azimuth_aim": "0.5 deg +- 0.1 deg"}, "No uncertainty is kept here; write the value alone, like 0 deg."),
        ({"azimuth_limits": "1:-1 deg"}, "smaller end first"),
        ({"stylus_rake_angle_aim": "2 deg"}, "outside what can be right here: 60 deg to 120 deg"),
        ({"stylus_rake_angle_aim": "94", "stylus_rake_angle_limits": "91:93"}, "94 deg is outside the limits 91:93"),
        ({"stylus_rake_angle_limits": "191:193 deg"}, "outside what can be right here"),
        ({"vertical_tracking_angle_aim": "22 mm"}, "22 deg"),
        ({"vertical_tracking_angle_limits": "15:19 deg"}, "The usual aim of 22 deg is outside the limits 15:19 deg"),
        ({"tracking_force_aim": "1.85 mm"}, "a force such as 1.9 g is needed here"),
        ({"tracking_force_aim": "2,5"}, "range is 1.6:2.2 g, and the force never goes outside it"),
        ({"tracking_force_aim": "2.5 g"}, "range is 1.6:2.2 g, and the force never goes outside it"),
        ({"tracking_force_limits": "1,8:2,5"}, "range is 1.6:2.2 g, and the force never goes outside it"),
        ({"tracking_force_limits": "1.5:2.0 g"}, "range is 1.6:2.2 g, and the force never goes outside it"),
        ({"side_force_aim": "0.05 g"}, "The usual limits lie about 0; write limits about this aim"),
        ({"side_force_limits": "-9:9 g"}, "outside what can be right here"),
        ({"zenith_limits": "0.1: deg"}, "does not have"),
        ({"build_axis": "skew"}, "Select a valid choice"),
        ({"build_bearing": "magnet"}, "Select a valid choice"),
        ({"build_turn_about": "glue"}, "Select a valid choice"),
        ({"build_roll_by": "lateral weight"}, "say unipivot under Bearing"),
        ({"build_bearing": "unipivot", "build_centre_height_mm": "5 mm"}, "falls on its side"),
        ({"build_pivot_height_mm": "12 rpm"}, "a length such as 18 mm is needed here"),
        ({"build_counterweight_mass_g": "12 rpm"}, "a mass such as 100 g is needed here"),
        ({"build_counterweight_behind_mm": "900 mm"}, "outside what can be right here: 0 mm to 300 mm"),
        ({"build_arm_mass_g": "0 g"}, "outside what can be right here: 1 g to 1000 g"),
        ({"build_screw_forward_mm": "ahead"}, "write it like -9.5 mm"),
        ({"build_screw_outward_mm": "60 mm"}, "outside what can be right here"),
        ({"build_roll_axis_height_mm": "high"}, "write it like 15 mm"),
        ({"build_cartridge_centre_forward_mm": "-90 mm"}, "outside what can be right here"),
        ({"build_cartridge_centre_up_mm": "90 mm"}, "outside what can be right here"),
        ({"reach_slide_mm": "1:3 mm"}, "leaves out 0, where it stands now"),
        ({"reach_turn_deg": "5 deg"}, "is not a range"),
        ({"reach_base_position_mm": "-1 mm:"}, "leaves one end out; write both, like -1:1 mm."),
        ({"reach_arm_height_mm": "-10:10 deg"}, "deg"),
        ({"reach_counterweight_mm": "-500:5 mm"}, "outside what can be right here: -100 mm to 100 mm"),
        ({"reach_compensation_mn": "-60:60"}, "outside what can be right here: -50 mN to 50 mN"),
        ({"reach_roll_deg": "loose"}, "write its two ends with one colon between"),
        ({"stylus_hours": "20001"}, "No stylus has played less than 0 or more than 20,000 hours"),
    ],
)
def test_a_wrong_entry_is_said_beside_its_field_in_an_open_fold(client, bench, typed, sentence):
    answer = client.post(f"/jobs/{bench.job.number}/take-in/", as_it_stands(bench, **typed, complaint="hums"))
    page = answer.content.decode().replace("&quot;", '"').replace("&#x27;", "'").replace("\N{MINUS SIGN}", "-")
    assert answer.status_code == 422
    said = re.findall(r'<p class="wrong"[^>]*>.*?<span>(.*?)</span></p>', page, re.DOTALL)
    assert len(said) == 1
    assert sentence in said[0]
    for name, text in typed.items():
        assert f'value="{text}"' in page or name in ("build_axis", "build_bearing", "build_turn_about", "build_roll_by")
    assert ">hums</textarea>" in page.replace("\n", "")
    assert bench.job.intakes.count() == 1
    folds = {"reach": "adjuster_reach", "build": "arm_build", "stylus_hours": "cartridge"}
    name = next(iter(typed))
    assert fold(page, next((key for start, key in folds.items() if name.startswith(start)), "limits"))


def test_folds_are_closed_until_something_stands_in_them(client, bench):
    keys = ("arm_build", "adjuster_reach", "limits")
    take_in(client, bench, effective_mass="")
    page = client.get(f"/jobs/{bench.job.number}/take-in/").content.decode()
    assert [fold(page, key) for key in keys] == [False, False, False]
    take_in(client, bench, build_bearing="gimbal", reach_slide_mm="fixed", zenith_limits=":0.4 deg")
    page = client.get(f"/jobs/{bench.job.number}/take-in/").content.decode()
    assert [fold(page, key) for key in keys] == [True, True, True]
    for shown in ('<option value="gimbal" selected>', 'value="fixed"', 'value=":0.4 deg"'):
        assert shown in page


def test_every_part_stands_once_on_the_page(client, db):
    page = client.get("/jobs/new/").content.decode()
    names = [*BUILD_FIELDS, *REACH_FIELDS, *(f"{key}_{part}" for key in KEYS for part in ("aim", "limits"))]
    assert [page.count(f'name="{name}"') for name in names] == [1] * (14 + 7 + 12)


def test_usual_values_stand_in_empty_fields_and_are_called_a_rule_of_thumb(client, bench):
    page = client.get("/jobs/new/").content.decode().replace("\N{NO-BREAK SPACE}", " ")
    for usual in ("92 deg", "91:93 deg", "20:24 deg", "-0.5:0.5 deg", "18 mm", "-6:6 mm"):
        assert f'placeholder="{usual}"' in page
        assert f"Usual: {usual}" in page.replace("\N{MINUS SIGN}", "-")
    assert page.count("rule of thumb") == 3


def test_an_untouched_form_changes_nothing_that_is_stored(client, bench):
    limits = {
        "zenith": {"aim": None, "lower": None, "upper": 1 / 3},
        "tracking_force": {"aim": 18.1234567890123, "lower": None, "upper": None},
        "side_force": {"aim": 0.1, "lower": -1 / 7, "upper": 0.3},
    }
    intake = bench.job.intakes.get()
    arm = entries.add_arm(
        bench.deck,
        description="Nine-inch arm",
        corrects=intake.arm,
        note="bearing is tight",
        build={"pivot_height_mm": 55 / 3, "bearing": "gimbal"},
        adjuster_limits={"slide_mm": [-10 / 3, 2.0], "turn_deg": [0.0, 0.0]},
    )
    before = entries.record_intake(
        bench.job, arm=arm, cartridge=intake.cartridge, innermost_mm=60.325, outermost_mm=146.05, tolerances=limits
    )
    after = take_in(client, bench)
    assert after.version == before.version + 1
    assert (after.tolerances, after.stylus_hours) == (limits, None)
    assert (after.arm_id, after.cartridge_id) == (arm.pk, intake.cartridge_id)
    after = take_in(client, bench, zenith_aim="0.1 deg", build_arm_mass_g="50 g")
    assert after.tolerances == limits | {"zenith": {"aim": 0.1, "lower": None, "upper": 1 / 3}}
    assert after.arm.build == {"pivot_height_mm": 55 / 3, "bearing": "gimbal", "arm_mass_g": 50.0}
    assert after.arm.adjuster_limits == arm.adjuster_limits
    assert after.arm.note == "bearing is tight"


def test_hours_are_those_of_the_visit_and_of_the_cartridge(client, bench):
    intake = take_in(client, bench, stylus_hours="150")
    assert (intake.stylus_hours, intake.cartridge.stylus_hours) == (150, 150)
    assert take_in(client, bench).stylus_hours == 150
    assert Cartridge.objects.count() == 2


def second_visit(client, bench, **typed):
    last = bench.job.intakes.order_by("-version").first()
    fields, _ = initial_values_of_next_visit(bench.deck, last)
    sent = {name: str(value) for name, value in (fields | typed).items() if value not in (False, None, "")}
    assert client.post(f"/jobs/new/deck/{bench.deck.number}/", sent).status_code == 302
    return Job.objects.order_by("-number").first().intakes.get()


def hours_by_job(deck):
    return [one.visit.stylus_hours for one in sorted(visits_of(deck), key=lambda one: one.job.number)]


def test_a_deck_that_comes_back_is_asked_for_its_hours_and_ways_anew(client, bench):
    take_in(client, bench, stylus_hours="150", reach_slide_mm="-2:3 mm", reach_turn_deg="fixed", zenith_aim="0.1")
    page = client.get(f"/jobs/new/deck/{bench.deck.number}/").content.decode()
    assert "At the visit before: 150 h." in page
    assert "At the visit before: -2:3 mm." in page.replace("\N{MINUS SIGN}", "-")
    assert 'name="reach_slide_mm" value' not in page
    assert fold(page, "adjuster_reach")
    intake = second_visit(client, bench, stylus_hours="400")
    assert intake.arm.adjuster_limits == {"turn_deg": [0.0, 0.0]}
    assert intake.tolerances["zenith"]["aim"] == 0.1
    first = bench.job.intakes.order_by("-version").first()
    assert (first.cartridge.current().stylus_hours, intake.cartridge.stylus_hours) == (150, 400)
    assert first.arm.current().adjuster_limits["slide_mm"] == [-2.0, 3.0]
    assert hours_by_job(bench.deck) == [150, 400]


def test_hours_that_nobody_told_are_not_those_of_the_visit_before(client, bench):
    intake = second_visit(client, bench)
    assert intake.stylus_hours is None
    assert hours_by_job(bench.deck) == [120, None]


def test_what_one_tab_chose_stands_beside_what_the_other_did(client, bench):
    one = as_it_stands(bench, zenith_aim="0.1 deg", build_bearing="gimbal", stylus_hours="200")
    other = as_it_stands(bench, azimuth_limits="-1:1 deg", build_pivot_height_mm="20 mm", reach_roll_deg="fixed")
    for sent in (one, other):
        assert client.post(f"/jobs/{bench.job.number}/take-in/", sent).status_code == 302
    intake = Intake.objects.order_by("-pk").first()
    assert intake.tolerances == {
        "zenith": {"aim": 0.1, "lower": None, "upper": None},
        "azimuth": {"aim": None, "lower": -1.0, "upper": 1.0},
    }
    assert intake.arm.build == {"bearing": "gimbal", "pivot_height_mm": 20.0}
    assert intake.arm.adjuster_limits == {"roll_deg": [0.0, 0.0]}
    assert (intake.stylus_hours, intake.cartridge.stylus_hours) == (200, 200)


@pytest.mark.browser
@pytest.mark.django_db(transaction=True)
def test_two_tabs_store_their_folds(page, fill_book):
    job = fill_book().job
    other = page.context.new_page()
    for tab in (page, other):
        tab.goto(f"/jobs/{job.number}/take-in/")
    page.get_by_label("Pivot height", exact=True).fill("20 mm")
    other.locator("#fold-limits > summary").click()
    other.get_by_role("group", name="Azimuth", exact=True).get_by_label("Aim").fill("0.3 deg")
    for tab in (page, other):
        tab.get_by_role("button", name="Save what changed").click()
        tab.wait_for_url("**/choose/")
    intake = job.intakes.order_by("-version").first()
    assert intake.arm.build == {"pivot_height_mm": 20.0}
    assert intake.tolerances["azimuth"]["aim"] == 0.3
