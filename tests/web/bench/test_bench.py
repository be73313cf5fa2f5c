"""The bench without a browser: what it shows, and entering readings, moves and faults."""

from __future__ import annotations

import html
import re
import time
from datetime import date

import pytest

from groovewright.bench.estimate.settings import SETTING_KEYS, SETTINGS
from groovewright.jobbook import entries
from groovewright.jobbook.ledger import append_all, writing
from groovewright.jobbook.models import AdjustmentMade, Fault, Reading
from groovewright.jobbook.queries import job_record
from groovewright.measurement.parsing import parse_quantity
from groovewright.measurement.quantity import Quantity
from groovewright.plates.request import PlateRequest
from groovewright.tonearm.geometry import Geometry
from groovewright.web.bench.kinds import KINDS, SUBJECTS
from groovewright.web.bench.outcome import outcome_of
from groovewright.web.bench.panel import wanted_reading

BENCH = "/jobs/1/bench/"
READINGS = "/jobs/1/bench/readings/"
HTMX = {"HX-Request": "true"}
TYPED = {
    "zenith_error": "1.1 +- 0.2",
    "azimuth_rotation": "-0.9 +- 0.2",
    "stylus_rake_angle": "92.1 +- 0.3",
    "vertical_tracking_angle": "22.2 +- 0.4",
    "compensation_force": "1.9 +- 0.1",
    "friction_coefficient": "0.3 +- 0.02",
}


def text_of(answer):
    return " ".join(html.unescape(re.sub(r"<[^>]+>", " ", answer.content.decode())).split())


def reading(kind, entry, stage="as left", **more):
    return {"kind": kind, "entry": entry, "stage": stage, **more}


@pytest.fixture
def force(bench):
    return reading("tracking_force", "1.89", place="inner", surface="platter", scale=str(bench.scale.pk))


@pytest.fixture
def all_read(client, bench):
    for kind, entry in TYPED.items():
        assert client.post(READINGS, reading(kind, entry)).status_code == 302
    return bench


def test_all_seven_are_there_and_what_is_not_read_is_said(client, bench):
    page = text_of(client.get(BENCH))
    for setting in SETTINGS.values():
        assert setting.title in page
    assert "not read" in page
    assert "Read this first" in page
    # Nobody can say how likely all seven conform while some were never read.
    assert "Chance that all seven" not in page


def test_every_subject_is_a_choice_of_the_entry_and_every_kind_has_its_own(client, bench):
    page = client.get(BENCH).content.decode()
    for subject in SUBJECTS.values():
        assert f'href="?enter={subject.key}"' in page
    for kind, of in KINDS.items():
        answer = client.get(BENCH, {"read": kind}, headers=HTMX)
        assert answer.context["of"] == of
        assert "<html" not in answer.content.decode()
        has_radius = kind in ("null_angle", "compensation_force", "side_force_rest")
        assert ("Groove radius" in text_of(answer)) == has_radius


@pytest.mark.parametrize("key", SETTING_KEYS)
def test_a_setting_opens_its_entry(client, bench, key):
    assert client.get(BENCH, {"enter": key}, headers=HTMX).context["of"].subject == key


def test_what_is_asked_for_opens_its_entry_filled(client, bench):
    record = job_record(bench.job)
    wanted = wanted_reading(record, outcome_of(record))
    assert f"?{wanted.query}" in html.unescape(client.get(BENCH).content.decode())
    form = client.get(f"{BENCH}?read=null_angle&radius=66+mm&stage=as+found").context["reading_form"]
    assert (form["radius"].value(), form["stage"].value()) == ("66 mm", "as found")


def test_a_job_without_targets_leads_to_them_and_takes_readings_all_the_same(client, bench):
    job = entries.open_job(bench.deck, opened=bench.job.opened)
    page = client.get(f"/jobs/{job.number}/bench/")
    assert f"/jobs/{job.number}/choose/" in page.content.decode()
    assert page.context["of"].kind == "pivot_to_spindle"
    answer = client.post(f"/jobs/{job.number}/bench/readings/", reading("pivot_to_spindle", "222 +- 0.3"))
    assert answer.status_code == 302


def test_readings_are_in_the_picture_and_a_move_is_proposed(client, all_read):
    page = text_of(client.get(BENCH))
    assert "The next move" in page
    assert "1.10° ± 0.20°" in page
    outcome = outcome_of(job_record(all_read.job))
    assert outcome.move.log_probability_after > outcome.move.log_probability_before
    # As found is drawn beside as left.
    assert "found −1.20 mm" in page


def test_a_stored_reading_leads_to_the_next_that_is_wanted(client, bench):
    answer = client.post(READINGS, reading("zenith_error", "0,4 +- 0,2"))
    row = Reading.objects.latest("pk")
    assert (row.text, row.quantity.value) == ("0,4 +- 0,2 deg", 0.4)
    assert answer["Location"].startswith(f"{BENCH}?stored={row.pk}&read=")
    page = client.get(answer["Location"])
    assert "Stored: zenith error, 0,4 +- 0,2 deg." in text_of(page)
    assert "data-asked" in page.content.decode()


def test_repeats_are_typed_in_one_entry_and_stored_as_readings_of_their_own(client, bench, force):
    assert client.post(READINGS, force | {"entry": "2,01; 2,02; 2,01"}).status_code == 302
    rows = Reading.objects.order_by("-pk")[:3]
    assert [row.text for row in rows] == ["2,01 g", "2,02 g", "2,01 g"]
    sources = [source for row in rows for source in row.quantity.components or {}]
    assert len(set(sources)) == len(sources)


def test_repeats_with_an_uncertainty_have_an_error_each(client, bench):
    client.post(READINGS, reading("azimuth_rotation", "0.4 +- 0.2; 0.6 +- 0.2"))
    first, second = (set(row.quantity.components) for row in Reading.objects.order_by("-pk")[:2])
    assert not first & second


@pytest.mark.parametrize(
    ("entry", "sentence"),
    [
        (reading("zenith_error", ""), "Nothing was typed; write it like 0.4 +- 0.2 deg"),
        (reading("zenith_error", "one"), "one"),
        (reading("zenith_error", "1 mm"), "mm"),
        (reading("zenith_error", "45"), "−20 deg to 20 deg"),
        (reading("zenith_error", "0.1; x"), "x"),
        (reading("zenith_error", "1;" * 13), "13 readings are in the entry; enter at most 12 at a time."),
        (reading("zenith_error", "9" * 450), "450 characters"),
        (reading("stylus_rake_angle", "2"), "60 deg to 120 deg"),
        (reading("compensation_force", "1.2 deg"), "a force such as 1.4 +- 0.2 mN is needed here"),
        (reading("friction_coefficient", "0.3 mN"), "must have no unit"),
        (reading("friction_coefficient", "30"), "above 0 and at most 2"),
        (reading("null_angle", "0.3"), "Say at which groove radius the angle was read, such as 66 mm."),
        (reading("null_angle", "0.3", radius="2 mm"), "20 mm to 200 mm"),
        (reading("zenith_error", "0.3", stage="last week"), "Select a valid choice"),
        (reading("zenith_error", "0.3", corrects="99"), "not one of this job"),
        (reading("tracking_force", "1.89"), "Say where on the platter the force was read."),
        (reading("tracking_force", "1.89", place="outer"), "Name the scale"),
        (reading("tracking_force", "1,850", place="outer"), "can be 1.850 or 1850"),
        (reading("tracking_force", "1.85 mm", place="outer"), "1.85 mm is a length; a force such as 1.85 g is needed"),
        (reading("tracking_force", "500", place="outer"), "outside what can be right here"),
        (reading("tracking_force", "1.8", place="outer", platform_height="tall"), "does not have a number"),
        (reading("overhang", "<img src=x onerror=alert(1)>"), "does not have a number where one is needed"),
    ],
)
def test_a_wrong_reading_is_kept_and_says_what_would_be_right(client, bench, entry, sentence):
    before = Reading.objects.count()
    answer = client.post(READINGS, entry)
    assert answer.status_code == 422
    assert sentence in text_of(answer)
    assert not entry["entry"] or f'value="{html.escape(entry["entry"])}"' in answer.content.decode()
    assert "<img src=x" not in answer.content.decode()
    assert Reading.objects.count() == before


def test_a_gauge_lends_its_uncertainty_to_a_bare_reading_and_the_list_says_so(client, bench):
    client.post(READINGS, reading("overhang", "17.2", gauge=str(bench.gauge.pk)))
    assert Reading.objects.get(text="17.2 mm").quantity.standard_uncertainty == pytest.approx(0.2)
    page = text_of(client.get(READINGS))
    assert "17.2 mm taken as 17.20 mm ± 0.20 mm" in page
    assert page.count("taken as") == 1


def row_of(page, key):
    row = page.split(f'id="setting-{key}"')[1].split("</li>")[0]
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", "", row.split('class="setting-value">')[1].split("</p>")[0])).strip()


@pytest.mark.parametrize(
    ("kind", "entry", "key"),
    [("zenith_error", "0.4 +- 0.2", "zenith"), ("overhang", "16 +- 0.2", "effective_length")],
)
def test_the_preview_is_what_the_bench_shows_once_it_is_stored_and_writes_nothing(client, bench, kind, entry, key):
    before = Reading.objects.count()
    previewed = text_of(client.post(f"{READINGS}preview/", reading(kind, entry)))
    assert "not stored yet" in previewed
    assert Reading.objects.count() == before
    client.post(READINGS, reading(kind, entry))
    shown = row_of(client.get(BENCH).content.decode(), key)
    assert f"{SETTINGS[key].title}: {shown}" in previewed


def test_the_preview_of_a_force_is_the_force_that_would_be_shown(client, bench, force):
    previewed = text_of(client.post(f"{READINGS}preview/", force))
    client.post(READINGS, force)
    assert f"Tracking force: {row_of(client.get(BENCH).content.decode(), 'tracking_force')}" in previewed


def test_the_preview_of_a_distance_joins_all_readings(client, bench):
    assert "By all readings: 222" in text_of(
        client.post(f"{READINGS}preview/", reading("pivot_to_spindle", "222.1 +- 0.3"))
    )


def test_the_preview_of_half_an_entry_says_what_would_be_right(client, bench):
    answer = client.post(f"{READINGS}preview/", reading("zenith_error", "0."))
    assert answer.status_code == 422
    assert "has a point or comma too many" in text_of(answer)


def test_a_correction_strikes_the_old_reading_and_names_both(client, bench, force):
    old = bench.readings[3]
    assert 'value="1.90 g"' in client.get(BENCH, {"corrects": old.pk}).content.decode()
    right = force | {"place": "outer", "entry": "1.85", "corrects": str(old.pk)}
    assert client.post(READINGS, right).status_code == 302
    page = client.get(READINGS).content.decode()
    assert '<del class="reading-text">1.90 g</del>' in page
    assert "corrected by no. 5" in page
    assert "in place of no. 4" in page
    # It is corrected once.
    assert client.get(BENCH, {"corrects": old.pk}).status_code == 404
    answer = client.post(READINGS, right)
    assert answer.status_code == 422
    assert "Meanwhile this reading was corrected to 1.85 g." in text_of(answer)


def test_a_correction_stays_with_its_kind_and_is_one_reading(client, bench, force):
    answer = client.post(READINGS, force | {"corrects": str(bench.readings[0].pk)})
    assert "a correction stays with its job and its kind" in text_of(answer)
    answer = client.post(READINGS, force | {"entry": "1.8; 1.9", "corrects": str(bench.readings[3].pk)})
    assert "A correction is one reading" in text_of(answer)


def test_the_previewed_correction_leaves_the_old_reading_out(client, bench):
    old = bench.readings[2]
    typed = reading("overhang", "17.9 +- 0.2", corrects=str(old.pk))
    previewed = text_of(client.post(f"{READINGS}preview/", typed))
    client.post(READINGS, typed)
    assert f"Effective length: {row_of(client.get(BENCH).content.decode(), 'effective_length')}" in previewed


def test_a_reading_is_withdrawn_with_a_reason(client, bench):
    withdraw = f"{READINGS}{bench.readings[3].pk}/withdraw/"
    assert "1.90 g" in text_of(client.get(withdraw))
    answer = client.post(withdraw, {"note": ""})
    assert answer.status_code == 422
    assert "Say why; the record keeps both." in text_of(answer)
    assert client.post(withdraw, {"note": "scale off level"}).status_code == 302
    assert "scale off level" in text_of(client.get(READINGS))
    assert client.get(withdraw).status_code == 404


def plate_for(job):
    return entries.issue_plate(
        job, PlateRequest("arc", Geometry(222.0, 239.3, 23.0), 60.325, 146.05, "closed form", paper="A3")
    )


def test_prints_of_plates_are_listed_and_neither_corrected_nor_withdrawn(client, bench):
    row = entries.record_reading(
        bench.job,
        kind="print_bar_x",
        stage="as found",
        text="99.8 mm +- 0.1 mm",
        quantity=parse_quantity("99.8 mm +- 0.1 mm", "length", source="bar"),
        plate=plate_for(bench.job),
    )
    page = client.get(READINGS).content.decode()
    assert "99.8 mm" in page
    assert f"readings/{row.pk}/withdraw/" not in page
    assert f"corrects={row.pk}" not in page
    assert client.get(f"{READINGS}{row.pk}/withdraw/").status_code == 404


def test_a_proposal_fills_nothing_until_it_is_asked_for(client, all_read):
    for query in ("", "?enter=move"):
        assert not re.search(r'name="(slide_mm|turn_deg|roll_deg)" value=', client.get(BENCH + query).content.decode())
    page = client.get(f"{BENCH}?enter=proposed")
    assert "As proposed." in text_of(page)
    assert any(page.context["move_form"].initial.values())


def test_a_move_made_as_asked_keeps_its_words_and_what_it_disturbs_is_calculated(client, all_read):
    asked = client.get(f"{BENCH}?enter=proposed").context["move_form"].initial
    sentence = outcome_of(job_record(all_read.job)).move.sentence
    assert client.post(f"{BENCH}moves/", asked).status_code == 302
    kept = AdjustmentMade.objects.get().text
    assert sentence.startswith(kept.rstrip("."))
    assert "read" not in kept
    assert "calculated" in text_of(client.get(BENCH))


def test_another_move_is_worded_by_its_amounts(client, all_read):
    assert client.post(f"{BENCH}moves/", {"slide_mm": "-0.4 mm +- 0.05 mm", "note": "by eye"}).status_code == 302
    move = AdjustmentMade.objects.get()
    assert (move.amounts, move.uncertainties["slide_mm"]) == ({"slide_mm": -0.4, "turn_deg": 0.0}, 0.05)
    page = text_of(client.get(BENCH))
    assert "cartridge slid forward −0.4 mm" in page
    assert "by eye" in page


def test_a_move_of_unknown_amount_leaves_what_it_touches_unread(client, all_read):
    row = outcome_of(job_record(all_read.job)).state.now.setting("azimuth")
    assert row.basis == "read"
    answer = client.post(f"{BENCH}moves/", {"unknown_roll_deg": "on", "note": "made before this job"})
    assert answer.status_code == 302
    move = AdjustmentMade.objects.get()
    assert (move.amounts["roll_deg"], move.uncertainties["roll_deg"]) == (None, None)
    assert "unknown amount" in move.text
    now = outcome_of(job_record(all_read.job)).state.now
    assert now.setting("azimuth").basis == "not read"
    assert "Azimuth" in text_of(client.get(BENCH))


def test_a_move_is_withdrawn_with_a_reason(client, all_read):
    client.post(f"{BENCH}moves/", {"roll_deg": "1"})
    address = f"{BENCH}moves/{AdjustmentMade.objects.get().pk}/withdraw/"
    assert client.get(address).status_code == 200
    assert client.post(address, {"note": ""}).status_code == 422
    assert client.post(address, {"note": "never made"}).status_code == 302
    assert "No moves recorded" in text_of(client.get(BENCH))
    assert client.post(address, {"note": "again"}).status_code == 404


@pytest.mark.parametrize(
    ("typed", "sentence"),
    [
        ({}, "Say what was moved: an amount beside at least one adjuster, or that it is not known."),
        ({"slide_mm": "a little"}, "a little"),
        ({"slide_mm": "300 mm"}, "−50 mm to 50 mm"),
        ({"compensation_mn": "0.4 mm"}, "a force such as 0.75 mN is needed here"),
        ({"slide_mm": "0.4", "unknown_slide_mm": "on"}, "keep one of the two"),
    ],
)
def test_a_wrong_move_is_kept_and_says_what_would_be_right(client, bench, typed, sentence):
    answer = client.post(f"{BENCH}moves/", typed)
    assert answer.status_code == 422
    assert sentence in text_of(answer)
    for name, entry in typed.items():
        assert name.startswith("unknown") or f'value="{entry}"' in answer.content.decode()
    assert not AdjustmentMade.objects.exists()


def test_a_fault_is_recorded_and_withdrawn(client, bench):
    answer = client.post(f"{BENCH}faults/", {"text": "", "found": "as found"})
    assert answer.status_code == 422
    assert "Say what is faulty." in text_of(answer)
    assert client.post(f"{BENCH}faults/", {"text": "Play in the bearing", "found": "as found"}).status_code == 302
    assert text_of(client.get(BENCH)).count("Play in the bearing") == 1
    address = f"{BENCH}faults/{Fault.objects.get().pk}/withdraw/"
    assert client.post(address, {"note": "it was the headshell"}).status_code == 302
    assert "Play in the bearing" not in text_of(client.get(BENCH))


def test_readings_that_disagree_are_named_on_the_bench(client, bench):
    for entry in ("0.1 +- 0.1", "3.1 +- 0.1"):
        # The second does not fit the first, and is stored as typed all the same.
        client.post(READINGS, reading("azimuth_rotation", entry, entry_confirmed=entry))
    page = text_of(client.get(BENCH))
    assert "Readings that disagree" in page
    assert "disagree by more than chance allows" in page
    assert outcome_of(job_record(bench.job)).state.now.setting("azimuth").outcome == "undecided"


def test_the_groove_is_drawn_as_found_and_as_left_with_its_readings(client, bench):
    client.post(READINGS, reading("null_angle", "0.3 +- 0.2", stage="as found", radius="66"))
    answer = client.get(f"{BENCH}groove/")
    names = [trace["name"] for trace in answer.context["figure"]["data"]]
    assert {"as found", "as left", "as found, 95 %", "read as found"} <= set(names)
    points = next(trace for trace in answer.context["figure"]["data"] if trace["name"] == "read as found")
    assert (points["x"], points["y"]) == ([66.0], [0.3])


def test_the_bench_loads_no_chart_library(client, bench):
    assert not re.search(r"<script[^>]*plotly", client.get(BENCH).content.decode())


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("readings/", READINGS),
        ("verdicts/", BENCH),
        ("readings/scale-check/", f"{BENCH}scale-check/"),
    ],
)
def test_old_addresses_lead_to_the_bench(client, bench, old, new):
    assert client.get(f"/jobs/1/{old}")["Location"] == new


def test_a_book_without_any_scale_points_to_the_workshop(client, db):
    owner = entries.add_owner()
    job = entries.open_job(entries.add_deck(owner, description="Idler drive"), opened=date(2031, 3, 2))
    for page in ("?enter=tracking_force", "scale-check/"):
        assert "/workshop/scales/new/" in client.get(f"/jobs/{job.number}/bench/{page}").content.decode()


PAGES = ("", "readings/", "trace/", "groove/")
FORMS = ("readings/preview/", "moves/", "faults/")


@pytest.mark.parametrize("page", PAGES + FORMS)
def test_an_unknown_job_is_not_found_and_a_wrong_method_not_allowed(client, bench, page):
    ask = client.post if page in FORMS else client.get
    assert ask(f"/jobs/99/bench/{page}").status_code == 404
    assert (client.get if page in FORMS else client.delete)(f"/jobs/1/bench/{page}").status_code == 405


@pytest.mark.parametrize("page", ["readings/99/withdraw/", "moves/99/withdraw/", "things/1/withdraw/", "?corrects=99"])
def test_an_unknown_row_is_not_found(client, bench, page):
    assert client.get(BENCH + page).status_code == 404


def test_an_unknown_kind_of_reading_is_not_found(client, bench):
    assert client.post(READINGS, reading("colour", "blue")).status_code == 404


@pytest.fixture
def five_hundred(bench):
    """The job with 500 readings, each with an error of its own."""
    rows = [
        Reading(
            job=bench.job,
            kind="overhang",
            stage="as left",
            text="17.30 mm +- 0.20 mm",
            quantity=Quantity.measured(17.3 + 0.001 * (k % 7), "mm", standard_uncertainty=0.2, source=f"overhang {k}"),
        )
        for k in range(500 - len(bench.readings))
    ]
    with writing():
        append_all(rows)
    return bench


def test_five_hundred_readings_are_paged_and_cost_few_queries(client, five_hundred, django_assert_max_num_queries):
    client.get(BENCH)
    with django_assert_max_num_queries(26):
        assert client.get(BENCH).status_code == 200
    page = client.get(READINGS, {"page": 3})
    assert "500 readings, newest first, page 3 of 20" in text_of(page)
    assert len(page.context["listed"].object_list) == 25


def test_a_job_of_five_hundred_readings_answers_soon(client, five_hundred):
    client.get(BENCH)
    took = []
    for _ in range(5):
        start = time.perf_counter()
        client.get(BENCH)
        took.append(time.perf_counter() - start)
    # 100 ms is the goal; twice that is allowed where the machine is busy with other work.
    assert min(took) < 0.2
