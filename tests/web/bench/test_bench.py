"""The bench page: seven settings, the next step, readings by hand, moves, an arc trace."""

from __future__ import annotations

import html
import re

import pytest

from groovewright.bench.estimate.settings import SETTINGS
from groovewright.jobbook import entries
from groovewright.jobbook.models import AdjustmentMade, Reading
from groovewright.jobbook.queries import job_record
from groovewright.plates.request import PlateRequest
from groovewright.tonearm.geometry import Geometry
from groovewright.web.bench.outcome import outcome_of

READINGS = {
    "zenith_error": "1.1 deg +- 0.2 deg",
    "azimuth_rotation": "-0.9 deg +- 0.2 deg",
    "stylus_rake_angle": "92.1 deg +- 0.3 deg",
    "vertical_tracking_angle": "22.2 deg +- 0.4 deg",
    "compensation_force": "1.9 mN +- 0.1 mN",
    "friction_coefficient": "0.3 +- 0.02",
}


def text_of(answer):
    return " ".join(html.unescape(re.sub(r"<[^>]+>", " ", answer.content.decode())).split())


def reading(kind, entry, stage="as left", **more):
    return {"kind": kind, "entry": entry, "stage": stage, "radius": "", "gauge": "", "note": "", "corrects": "", **more}


@pytest.fixture
def all_read(client, bench):
    for kind, entry in READINGS.items():
        assert client.post("/jobs/1/bench/readings/", reading(kind, entry)).status_code == 302
    return bench


def test_all_seven_are_there_and_what_is_not_read_is_said(client, bench):
    page = text_of(client.get("/jobs/1/bench/"))
    for setting in SETTINGS.values():
        assert setting.title in page
    assert "not read" in page
    assert "Read this first" in page
    # Nobody can say how likely all seven conform while some were never read.
    assert "Chance that all seven" not in page


def test_a_job_without_targets_says_what_is_lacking(client, bench):
    entries.open_job(bench.deck, opened=bench.job.opened, complaint="")
    page = text_of(client.get("/jobs/2/bench/"))
    assert "Job 2 has no targets yet, from which the seven settings count; choose them first." in page


def test_readings_by_hand_stand_in_the_picture_and_a_move_is_proposed(client, all_read):
    page = text_of(client.get("/jobs/1/bench/"))
    assert "The next move" in page
    assert "1.10° ± 0.20°" in page
    assert "of all moves this one brings all seven nearest" in page or "Chance that all seven are in tolerance" in page
    outcome = outcome_of(job_record(all_read.job))
    assert outcome.move.log_probability_after > outcome.move.log_probability_before


def test_a_move_made_as_asked_keeps_its_words_and_makes_stale_what_it_disturbs(client, all_read):
    page = client.get("/jobs/1/bench/")
    form = page.context["move_form"]
    asked = {field.name: form.initial.get(field.name, "") for field in form.amounts}
    sentence = outcome_of(job_record(all_read.job)).move.sentence
    assert client.post("/jobs/1/bench/moves/", asked).status_code == 302
    kept = AdjustmentMade.objects.get().text
    assert sentence.startswith(kept.rstrip("."))
    assert "read" not in kept
    assert "read again" in text_of(client.get("/jobs/1/bench/"))


def test_another_move_is_worded_by_its_amounts(client, all_read):
    assert client.post("/jobs/1/bench/moves/", {"slide_mm": "-0.4 mm +- 0.05 mm", "note": "by eye"}).status_code == 302
    move = AdjustmentMade.objects.get()
    assert (move.amounts, move.uncertainties["slide_mm"]) == ({"slide_mm": -0.4, "turn_deg": 0.0}, 0.05)
    page = text_of(client.get("/jobs/1/bench/"))
    assert "cartridge slid forward −0.4 mm" in page
    assert "by eye" in page


def test_a_move_is_withdrawn_with_a_reason(client, all_read):
    client.post("/jobs/1/bench/moves/", {"roll_deg": "1 deg"})
    address = f"/jobs/1/bench/moves/{AdjustmentMade.objects.get().pk}/withdraw/"
    assert client.get(address).status_code == 200
    assert client.post(address, {"note": ""}).status_code == 422
    assert client.post(address, {"note": "never made"}).status_code == 302
    assert "Nothing was moved yet" in text_of(client.get("/jobs/1/bench/"))
    assert client.post(address, {"note": "again"}).status_code == 404


@pytest.mark.parametrize(
    ("entry", "sentence"),
    [
        (reading("zenith_error", ""), "Nothing was typed; write it like"),
        (reading("zenith_error", "one"), "one"),
        (reading("zenith_error", "1 mm"), "mm"),
        (reading("zenith_error", "45 deg"), "−20 deg to 20 deg"),
        (reading("stylus_rake_angle", "2 deg"), "60 deg to 120 deg"),
        (reading("compensation_force", "1.2 deg"), "a force such as 1.4 +- 0.2 mN is needed here"),
        (reading("friction_coefficient", "0.3 mN"), "must have no unit"),
        (reading("friction_coefficient", "30"), "above 0 and at most 2"),
        (reading("null_angle", "0.3 deg"), "Say at which groove radius the angle was read, such as 66 mm."),
        (
            reading("azimuth_rotation", "0.3 deg", radius="66 mm"),
            "the same at every groove radius; leave this empty",
        ),
        (reading("null_angle", "0.3 deg", radius="2 mm"), "20 mm to 200 mm"),
    ],
)
def test_a_wrong_reading_is_kept_and_says_what_would_be_right(client, bench, entry, sentence):
    before = Reading.objects.count()
    answer = client.post("/jobs/1/bench/readings/", entry)
    assert answer.status_code == 422
    assert sentence in text_of(answer)
    assert not entry["entry"] or f'value="{entry["entry"]}"' in answer.content.decode()
    assert Reading.objects.count() == before


@pytest.mark.parametrize(
    ("typed", "sentence"),
    [
        ({}, "Say what was moved: write an amount beside at least one adjuster."),
        ({"slide_mm": "a little"}, "a little"),
        ({"slide_mm": "300 mm"}, "−30 mm to 30 mm"),
        ({"compensation_mn": "0.4 mm"}, "a force such as 0.4 mN is needed here"),
    ],
)
def test_a_wrong_move_is_kept_and_says_what_would_be_right(client, bench, typed, sentence):
    answer = client.post("/jobs/1/bench/moves/", typed)
    assert answer.status_code == 422
    assert sentence in text_of(answer)
    for entry in typed.values():
        assert f'value="{entry}"' in answer.content.decode()
    assert not AdjustmentMade.objects.exists()


def test_a_reading_is_corrected_and_both_stay(client, all_read):
    row = Reading.objects.get(kind="zenith_error")
    page = client.get(f"/jobs/1/bench/readings/{row.pk}/correct/")
    assert 'value="1.1 deg +- 0.2 deg"' in page.content.decode()
    again = reading("zenith_error", "0.1 deg +- 0.2 deg", corrects=row.pk)
    assert client.post("/jobs/1/bench/readings/", again).status_code == 302
    assert [r.corrects_id for r in Reading.objects.filter(kind="zenith_error").order_by("pk")] == [None, row.pk]
    assert client.get(f"/jobs/1/bench/readings/{row.pk}/correct/").status_code == 404


def plate_for(job):
    geometry = Geometry(222.0, 239.2961, 22.9855)
    return entries.issue_plate(job, PlateRequest("arc", geometry, 60.325, 146.05, "closed form", paper="A3"))


def test_an_arc_trace_is_entered_whole_and_joins_the_estimate(client, bench):
    plate = plate_for(bench.job)
    lines = "\n".join(f"{radius} mm  0.8 mm" for radius in range(62, 146, 12))
    typed = {"plate": plate.pk, "stage": "as left", "places": lines, "uncertainty": "0.1 mm", "note": ""}
    assert client.post("/jobs/1/bench/trace/", typed).status_code == 302
    traced = Reading.objects.filter(kind="arc_trace")
    assert (traced.count(), {row.laying for row in traced}) == (7, {1})
    assert client.post("/jobs/1/bench/trace/", typed).status_code == 302
    assert {row.laying for row in Reading.objects.filter(kind="arc_trace")} == {1, 2}
    joined = [residual.label for residual in outcome_of(job_record(bench.job)).state.residuals]
    assert sum("arc trace" in label for label in joined) == 4


@pytest.mark.parametrize(
    ("lines", "sentence"),
    [
        ("", "Write one line a place, such as: 65 0.12 mm"),
        ("65 mm 0.1 mm\n80 mm 0.1 mm", "An arc is traced at four places at least, and 2 stand here."),
        ("65 mm 0.1 mm\n80", "Line 2, “80”, needs two numbers: groove radius and distance, such as 65 0.12 mm"),
        ("65 mm 0.1 mm\n80 mm x mm", "Line 2:"),
        ("65 0,1\nnear", 'Line 2: "near" does not have a number where one is needed; write it like 65 0.12 mm'),
        ("6 mm 0.1 mm", "Line 1: a groove radius lies between 20 and 200 mm, not at 6 mm."),
        ("65 mm 80 mm", "Line 1: 80 mm beside the arc is more than"),
    ],
)
def test_a_wrong_trace_is_kept_and_says_in_which_line(client, bench, lines, sentence):
    plate = plate_for(bench.job)
    typed = {"plate": plate.pk, "stage": "as left", "places": lines, "uncertainty": "0.1 mm", "note": ""}
    answer = client.post("/jobs/1/bench/trace/", typed)
    assert answer.status_code == 422
    assert sentence in text_of(answer)
    assert html.escape(lines) in answer.content.decode()
    assert not Reading.objects.filter(kind="arc_trace").exists()


@pytest.mark.parametrize("page", ["", "trace/", "readings/", "moves/"])
def test_an_unknown_job_is_not_found_and_a_wrong_method_not_allowed(client, bench, page):
    form = page in ("readings/", "moves/")
    answer = client.post(f"/jobs/99/bench/{page}", {}) if form else client.get(f"/jobs/99/bench/{page}")
    assert answer.status_code == 404
    assert (client.get if form else client.delete)(f"/jobs/1/bench/{page}").status_code == 405


@pytest.mark.browser
@pytest.mark.django_db(transaction=True)
def test_at_the_bench_the_example_follows_the_kind_and_a_reading_goes_in_by_keyboard(page, fill_book):
    number = fill_book().job.number
    page.goto(f"/jobs/{number}/bench/")
    kind = page.get_by_label("What is read")
    kind.select_option("azimuth_rotation")
    entry = page.get_by_label("Reading, with its unit")
    assert entry.get_attribute("placeholder") == "-0.6 +- 0.2 deg"
    assert page.get_by_label("Groove radius").is_hidden()
    kind.select_option("null_angle")
    assert page.get_by_label("Groove radius").is_visible()
    kind.select_option("azimuth_rotation")
    entry.fill("0.2 deg +- 0.15 deg")
    entry.press("Enter")
    page.locator("#setting-azimuth .setting-value", has_text="0.20°").wait_for()
    page.locator("#setting-azimuth summary").click()
    assert "Most of its uncertainty" in page.locator("#setting-azimuth dl").inner_text()


def test_a_stored_trace_says_first_what_the_arm_does_and_what_it_cannot_tell(client, bench):
    plate = plate_for(bench.job)
    lines = "\n".join(f"{radius} mm  0.4 mm" for radius in range(62, 146, 10))
    typed = {"plate": plate.pk, "stage": "as left", "places": lines, "uncertainty": "0.1 mm", "note": ""}
    answer = client.post("/jobs/1/bench/trace/", typed, follow=True)
    page = text_of(answer)
    assert re.search(r"Tracking error stays below \d\.\d\d° and distortion below \d\.\d\d % from", page)
    result = answer.context["traced"].result
    assert result.cannot_tell in page
    # All places stand 0.4 mm outside the arc of the target, so the arm is about that much too long.
    assert result.effective_length_error.value == pytest.approx(0.4, abs=0.15)
    assert len(answer.context["traced"].figure["data"]) == 6
