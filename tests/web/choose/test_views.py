import json
import re

import pytest
from django.urls import reverse

from groovewright.bench.targets.targets import TargetRequest, choose_targets
from groovewright.jobbook import entries
from groovewright.jobbook.models import TargetChoice
from groovewright.measurement.parsing import parse_quantity
from groovewright.measurement.quantity import Quantity
from groovewright.tonearm.criteria import CRITERIA
from groovewright.web.choose.curves_figure import DASHES

ADDRESSES = ("choose", "choose-preview")


def words_beside(answer, name):
    found = re.search(rf'<div class="words" id="words-id_{name}".*?</div>', answer.content.decode(), re.S)
    return re.sub(r"<[^>]+>", " ", found[0])


@pytest.fixture
def page(job):
    return reverse("choose", args=[job.number])


@pytest.fixture
def preview(job):
    return reverse("choose-preview", args=[job.number])


def test_the_page_starts_from_what_the_job_knows(client, page):
    answer = client.get(page)
    assert answer.status_code == 200
    html = answer.content.decode()
    assert 'value="222 mm +- 0.3 mm"' in html
    assert "239.30" in html
    assert all(criterion.label in html for criterion in CRITERIA.values())


def test_the_page_of_a_job_without_readings_waits_for_the_distance(client, db):
    owner = entries.add_owner(name="Jon Aldersey")
    job = entries.open_job(entries.add_deck(owner, description="Idler drive"), opened="2026-03-02")
    answer = client.get(reverse("choose", args=[job.number]))
    assert answer.status_code == 200
    assert "nothing was entered" not in words_beside(answer, "pivot_to_spindle")


def test_choosing_enters_the_targets_that_the_bench_gives(client, page, job, typed):
    answer = client.post(page, typed)
    assert answer.status_code == 302
    choice = TargetChoice.objects.get(job=job)
    distance = Quantity.measured(222.0, "mm", standard_uncertainty=0.3, source="steel rule")
    expected = choose_targets(TargetRequest(distance, "minimax", 60.325, 146.05))
    assert choice.effective_length.value == pytest.approx(expected.effective_length.value, abs=1e-9)
    # The distance was left as the reading gave it, so it keeps the reading's source of uncertainty.
    assert [source.label for source in choice.pivot_to_spindle.components] == ["steel rule"]


def test_what_the_headshell_allows_is_kept(client, page, job, typed):
    client.post(page, {**typed, "effective_length": "236:237 mm", "offset_angle": "22.5"})
    choice = TargetChoice.objects.get(job=job)
    assert choice.effective_length_limits_mm == [236, 237]
    assert choice.hold_offset_angle.value == 22.5
    assert choice.effective_length.value == pytest.approx(237, abs=1e-6)


def test_own_radii_are_kept(client, page, job, typed):
    client.post(page, {**typed, "groove": "own", "own_range": "58:140"})
    choice = TargetChoice.objects.get(job=job)
    assert (choice.innermost_mm, choice.outermost_mm) == (58, 140)


@pytest.mark.parametrize(
    "wrong",
    [
        ("pivot_to_spindle", "222 kg", "222 +- 0.3 mm"),
        ("pivot_to_spindle", "two hundred", "222 +- 0.3 mm"),
        ("pivot_to_spindle", "-222 mm", "100 mm to 500 mm"),
        ("pivot_to_spindle", "", "Nothing was typed"),
        ("effective_length", "243:238", "smaller"),
        ("offset_angle", "80", "0 deg to 60 deg"),
        ("peak_velocity", "10 Hz", "cm/s"),
        ("speed", "0 rpm", "10 rpm to 100 rpm"),
    ],
)
def test_a_wrong_entry_stays_and_the_right_one_is_named_beside_it(client, page, typed, wrong):
    field, entry, right = wrong
    answer = client.post(page, {**typed, field: entry})
    assert answer.status_code == 422
    assert right in words_beside(answer, field)
    assert f'value="{entry}"' in answer.content.decode() or not entry
    assert not TargetChoice.objects.exists()


def test_own_radii_that_were_announced_must_be_given(client, page, typed):
    answer = client.post(page, {**typed, "groove": "own"})
    assert answer.status_code == 422
    assert "60.325:146.05" in words_beside(answer, "own_range")


def test_a_distance_inside_the_groove_is_refused_in_one_sentence(client, page, typed):
    answer = client.post(page, {**typed, "pivot_to_spindle": "120 mm", "pivot_to_spindle_confirmed": "120 mm"})
    assert answer.status_code == 422
    assert "lies inside the outermost" in answer.content.decode()


def test_targets_of_a_tangential_arm_need_no_distance_and_lead_on_without_a_plate(client, page, preview, job, typed):
    tangential = {**typed, "arm_kind": "tangential", "pivot_to_spindle": "", "effective_length": "238:243"}
    shown = client.post(preview, tangential).content.decode()
    assert "must travel through the centre of the spindle" in shown
    assert "Choose these targets" in shown
    assert "Criteria compared" not in shown
    answer = client.post(page, tangential)
    assert (answer.status_code, answer["Location"]) == (302, reverse("bench", args=[job.number]))
    choice = TargetChoice.objects.get(job=job)
    assert (choice.arm_kind, choice.pivot_to_spindle, choice.effective_length) == ("tangential", None, None)
    assert (choice.innermost_mm, choice.peak_distortion.value) == (60.325, 0.0)
    again = client.get(page).content.decode()
    assert "These are the targets chosen for this job" in again
    plate = client.get(reverse("plate", args=[job.number])).content.decode()
    assert "no kind of plate serves it" in plate
    asked = {
        "kind": "two-null",
        "paper": "A4",
        "fan_half_width": "2 mm",
        "fan_step": "0.5 mm",
        "spindle_clearance": "0",
    }
    assert client.post(reverse("plate", args=[job.number]), asked).status_code == 422
    assert not job.plates.exists()
    bench = client.get(reverse("bench", args=[job.number])).content.decode()
    assert "A tangential arm needs no plate." in bench


def test_a_straight_underhung_arm_is_chosen_and_gets_an_arc_plate_but_no_two_null_plate(client, page, job, typed):
    assert client.post(page, {**typed, "arm_kind": "straight underhung"}).status_code == 302
    choice = TargetChoice.objects.get(job=job)
    assert (choice.offset_angle.value, len(choice.null_radii)) == (0.0, 1)
    plate = reverse("plate", args=[job.number])
    asked = {"paper": "A3", "fan_half_width": "2 mm", "fan_step": "0.5 mm", "spindle_clearance": "0.05 mm"}
    refused = client.post(plate, {**asked, "kind": "two-null"})
    assert refused.status_code == 422
    assert (
        "A two-null plate needs two null radii; this geometry has 1. Choose the arc plate." in refused.content.decode()
    )
    assert client.post(plate, {**asked, "kind": "arc"}).status_code == 302


def test_a_pivoted_arm_without_its_distance_is_refused_beside_the_field(client, page, typed):
    answer = client.post(page, {**typed, "pivot_to_spindle": ""})
    assert answer.status_code == 422
    assert "Nothing was typed; write it like 222 +- 0.3 mm." in words_beside(answer, "pivot_to_spindle")


def test_a_preview_answers_with_plan_table_and_curves_and_writes_nothing(client, preview, typed):
    answer = client.post(preview, {**typed, "criterion": "exact-rms"})
    assert answer.status_code == 200
    html = answer.content.decode()
    figure = json.loads(re.search(r'<script id="curves-numbers"[^>]*>(.*?)</script>', html, re.S)[1])
    lines = [trace["line"] for trace in figure["data"] if trace["yaxis"] == "y"]
    assert [line["dash"] for line in lines] == list(DASHES)
    assert [line["width"] for line in lines].index(4) == list(CRITERIA).index("exact-rms")
    assert figure["layout"]["hovermode"] == "x unified"
    assert not TargetChoice.objects.exists()


def test_a_wrong_entry_in_a_preview_swaps_only_the_words(client, preview, typed):
    answer = client.post(preview, {**typed, "speed": "fast"})
    assert answer.status_code == 422
    assert answer["HX-Reswap"] == "none"
    html = answer.content.decode()
    assert "33 1/3 rpm" in words_beside(answer, "speed")
    assert "<input" not in html
    assert '<svg class="plan"' not in html


def test_criteria_that_cannot_be_met_say_why_in_their_row(client, preview, typed):
    answer = client.post(preview, {**typed, "arm_kind": "straight underhung", "offset_angle": "20:25"})
    assert answer.status_code == 200
    assert "a straight underhung arm has an offset angle of 0" in answer.content.decode()


@pytest.mark.parametrize("address", ADDRESSES)
def test_an_unknown_job_is_not_found(client, db, typed, address):
    assert client.post(reverse(address, args=[4711]), typed).status_code == 404


def test_other_methods_are_refused(client, page, preview):
    assert client.put(page).status_code == 405
    assert client.get(preview).status_code == 405


def test_the_page_is_filled_with_the_targets_that_stand(client, page, typed):
    client.post(page, {**typed, "criterion": "inner-null", "groove": "own", "own_range": "58:140", "speed": "45 rpm"})
    html = client.get(page).content.decode()
    assert 'value="58:140"' in html
    assert 'value="45 rpm"' in html
    assert "These are the targets chosen for this job." in html


def main_buttons(html):
    return re.findall(r'<(?:a|button) class="button main[^"]*"(?: href="([^"]*)")?', html)


@pytest.mark.parametrize("onward", ["plate", "bench"])
def test_the_one_main_button_chooses_and_then_leads_on(client, page, job, typed, onward):
    typed = {**typed, "arm_kind": {"plate": "offset", "bench": "tangential"}[onward]}
    assert main_buttons(client.get(page).content.decode()) in ([""], [])
    assert client.post(page, typed).status_code == 302
    assert main_buttons(client.get(page).content.decode()) == [reverse(onward, args=[job.number])]
    # Other targets are chosen before anything leads on.
    other = client.post(f"{page}preview/", {**typed, "groove": "own", "own_range": "58:140"}).content.decode()
    assert main_buttons(other) == [""]


def test_a_joined_distance_is_shown_rounded_and_kept_whole_when_left_alone(client, page, job, typed):
    text = "222.4 mm +- 0.21 mm"
    entries.record_reading(
        job,
        kind="pivot_to_spindle",
        stage="as found",
        text=text,
        quantity=parse_quantity(text, "length", source="rule 2"),
    )
    shown = re.search(r'name="pivot_to_spindle" value="([^"]*)"', client.get(page).content.decode())[1]
    # Weights 1/0.3^2 and 1/0.21^2: the mean is 222.2685 mm and its uncertainty 0.17204 mm.
    assert shown == "222.27 mm +- 0.17 mm"
    assert client.post(page, typed | {"pivot_to_spindle": shown}).status_code == 302
    kept = job.target_choices.get().pivot_to_spindle
    assert kept.value == pytest.approx(222.2685, abs=5e-5)
    assert sorted(source.label for source in kept.components) == ["rule 2", "steel rule"]
    again = re.search(r'name="pivot_to_spindle" value="([^"]*)"', client.get(page).content.decode())[1]
    assert again == shown
