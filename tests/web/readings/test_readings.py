import json
from datetime import date

import pytest

from groovewright.jobbook import entries
from groovewright.jobbook.models import Reading, ScaleCheck
from groovewright.jobbook.queries import job_record
from groovewright.measurement.parsing import parse_quantity
from groovewright.plates.request import PlateRequest
from groovewright.tonearm.geometry import Geometry
from groovewright.web.readings.needed import needed_readings, next_reading

FORCE = {
    "kind": "tracking_force",
    "stage": "as left",
    "place": "inner",
    "entry": "1.89 g",
    "surface": "platter",
    "platform_height": "",
    "note": "",
}
OVERHANG = {"kind": "overhang", "stage": "as left", "entry": "17.2 mm +- 0.2 mm", "note": ""}
HTMX = {"HX-Request": "true"}


@pytest.fixture
def address(bench):
    return f"/jobs/{bench.job.number}/readings/"


@pytest.fixture
def force(bench):
    return FORCE | {"scale": str(bench.scale.pk)}


def test_the_page_shows_results_readings_and_what_is_needed(client, bench, address):
    page = client.get(address).content.decode()
    for words in ("Still needed", "17.3 mm +- 0.2 mm", "1.90 g", "Scale 2, before the readings", "Before you touch it"):
        assert words in page


def test_a_stored_reading_goes_to_the_record_and_on_to_the_next(client, bench, address, force):
    before = next_reading(job_record(bench.job), needed_readings(job_record(bench.job)))
    assert (before["stage"], before["place"]) == ("as found", "inner")
    answer = client.post(address, force | {"stage": "as found"}, headers=HTMX)
    assert answer.status_code == 200
    page = answer.content.decode()
    assert "Stored: tracking force, 1.89 g" in page
    assert 'id="progress"' in page
    reading = Reading.objects.get(text="1.89 g")
    assert reading.quantity.value == pytest.approx(1.89 * 9.80665)
    assert (reading.place, reading.scale) == ("inner", bench.scale)
    after = next_reading(job_record(bench.job), needed_readings(job_record(bench.job)))
    assert (after["stage"], after["place"]) == ("as left", "inner")


def test_without_the_script_a_stored_reading_leads_back_to_the_page(client, address, force):
    assert client.post(address, force)["Location"] == address


@pytest.mark.parametrize(
    ("change", "sentence"),
    [
        ({"entry": ""}, "Nothing was typed; write it like 1.85 g."),
        ({"entry": "1,850"}, "can be 1.850 or 1850"),
        ({"entry": "1.85 mm"}, "1.85 mm is a length; a force such as 1.85 g is needed here"),
        ({"entry": "18,1,2 mN"}, "a point or comma too many"),
        ({"entry": "<img src=x onerror=alert(1)>"}, "does not have a number where one is needed"),
        ({"entry": "9" * 400}, "at most 80 characters"),
        ({"entry": "500 g"}, "outside what can be right here"),
        ({"place": ""}, "Say where on the platter the force was read."),
        ({"place": "edge"}, "Select a valid choice"),
        ({"scale": ""}, "Name the scale"),
        ({"scale": "99"}, "Select a valid choice"),
        ({"stage": "last week"}, "Select a valid choice"),
        ({"platform_height": "tall"}, "does not have a number"),
        ({"corrects": "99"}, "not one of this job"),
    ],
)
def test_a_wrong_entry_is_kept_and_mended(client, bench, address, *, force, change, sentence):
    answer = client.post(address, force | change, headers=HTMX)
    page = answer.content.decode()
    assert answer.status_code == 422
    assert sentence in page
    assert "<img src=x" not in page
    typed = next(iter(change.values()))
    if typed and "<" not in typed and change.keys() & {"entry", "platform_height"}:
        assert f'value="{typed}"' in page
    assert Reading.objects.count() == len(bench.readings)


def test_a_length_needs_neither_place_nor_scale(client, address):
    assert client.post(address, OVERHANG, headers=HTMX).status_code == 200


def test_a_gauge_lends_its_uncertainty_to_a_bare_reading(client, bench, address):
    client.post(address, OVERHANG | {"entry": "17.2 mm", "gauge": str(bench.gauge.pk)})
    assert Reading.objects.get(text="17.2 mm").quantity.standard_uncertainty == pytest.approx(0.2)


def test_the_preview_gives_the_verdict_and_writes_nothing(client, bench, address):
    answer = client.post(address + "preview/", OVERHANG | {"entry": "16 mm +- 0.2 mm", "stage": "as found"})
    page = answer.content.decode()
    assert answer.status_code == 200
    assert "out of tolerance" in page
    assert "not stored yet" in page
    assert "95 % interval" in page
    assert Reading.objects.count() == len(bench.readings)


def test_the_preview_of_a_force_is_the_force_that_would_stand(client, bench, address, force):
    def shown(answer):
        return answer.content.decode().split('class="quantity-line">')[1].split("</div>")[0]

    previewed = shown(client.post(address + "preview/", force))
    assert shown(client.post(address, force, headers=HTMX)) == previewed


def test_the_preview_of_half_an_entry_says_what_would_be_right(client, bench, address, force):
    answer = client.post(address + "preview/", force | {"entry": "1."})
    assert answer.status_code == 422
    assert "Not a reading yet" in answer.content.decode()


def test_a_correction_strikes_the_old_reading_and_links_both(client, bench, address, force):
    old = bench.readings[3]
    page = client.get(f"{address}{old.pk}/correct/").content.decode()
    assert 'value="1.90 g"' in page
    client.post(address, force | {"place": "outer", "entry": "1.85 g", "corrects": str(old.pk)})
    page = client.get(address).content.decode()
    assert '<del class="reading-text">1.90 g</del>' in page
    assert 'corrected by <a href="#reading-5">no. 5</a>' in page
    assert 'in place of <a href="#reading-4">no. 4</a>' in page


def test_a_reading_is_corrected_once(client, bench, address, force):
    entry = force | {"place": "outer", "entry": "1.85 g", "corrects": str(bench.readings[3].pk)}
    assert client.post(address, entry).status_code == 302
    answer = client.post(address, entry)
    assert answer.status_code == 422
    assert "Meanwhile this reading was corrected to" in answer.content.decode()


def test_a_correction_stays_with_its_kind(client, bench, address, force):
    answer = client.post(address, force | {"corrects": str(bench.readings[0].pk)})
    assert answer.status_code == 422
    assert "a correction stays with its job and its kind" in answer.content.decode()


def test_a_reading_is_withdrawn_with_a_reason(client, bench, address):
    withdraw = f"{address}{bench.readings[3].pk}/withdraw/"
    assert "17.3" not in client.get(withdraw).content.decode()
    answer = client.post(withdraw, {"note": ""})
    assert answer.status_code == 422
    assert "Say why; the record keeps both." in answer.content.decode()
    assert client.post(withdraw, {"note": "scale off level"}).status_code == 302
    assert "scale off level" in client.get(address).content.decode()
    assert client.get(withdraw).status_code == 404


def test_a_book_without_any_scale_points_to_the_workshop(client, db):
    owner = entries.add_owner()
    job = entries.open_job(entries.add_deck(owner, description="Idler drive"), opened=date(2031, 3, 2))
    for page in ("", "scale-check/"):
        assert "/workshop/scales/new/" in client.get(f"/jobs/{job.number}/readings/{page}").content.decode()


CHECK = {
    "when": "after",
    "accuracy_class": "M1",
    "load_1": "empty",
    "shown_1": "0.00; 0.00 g",
    "load_2": "2 g",
    "shown_2": "2.00; 2.01; 2.00",
    "load_3": "5,0003 g +- 0.1 mg",
    "shown_3": "5.01 5.01",
    "note": "",
}


@pytest.fixture
def check(bench):
    return CHECK | {"scale": str(bench.scale.pk)}


def test_a_check_of_the_scale_is_entered(client, bench, address, check):
    assert client.post(address + "scale-check/", check)["Location"] == address
    row = ScaleCheck.objects.get(when="after")
    assert len(row.readings) == 7
    assert row.readings[2]["indication_mn"] == pytest.approx(2 * 9.80665)
    assert row.readings[2]["weights"][0]["name"] == "2 g, class M1"
    # 5.0003 g +- 0.1 mg is its own certificate.
    assert row.readings[6]["weights"][0]["mass"]["components"][0]["contribution"] == pytest.approx(1e-4)


def test_the_check_shows_its_line_before_it_is_stored(client, bench, address, check):
    answer = client.post(address + "scale-check/preview/", check)
    assert "for each g" in answer.content.decode()
    assert ScaleCheck.objects.count() == 1


@pytest.mark.parametrize(
    ("change", "sentence"),
    [
        ({"shown_2": ""}, "Type what the scale showed with 2 g on it."),
        ({"shown_2": "two"}, "does not have a number"),
        ({"load_2": "2.5 g"}, "is not in our part of OIML R 111"),
        ({"load_2": "2 g + 2 g"}, "is named twice in one load"),
        ({"load_2": "2 mm"}, "a mass such as 2 g is needed here"),
        ({"accuracy_class": "Z"}, "Select a valid choice"),
        ({"load_2": "", "shown_2": "", "load_3": "", "shown_3": ""}, "cannot tell its offset from its gain"),
        ({"shown_2": "20.0 g", "shown_3": "50 g"}, "check which weight belongs to which reading"),
        ({"shown_1": "", "load_1": "", "load_2": "", "shown_2": "", "load_3": "", "shown_3": ""}, "at least two loads"),
        ({"shown_2": "2.00;" * 100}, "characters"),
        ({"scale": "99"}, "Select a valid choice"),
    ],
)
def test_a_wrong_check_is_kept_and_mended(client, bench, address, *, check, change, sentence):
    answer = client.post(address + "scale-check/", check | change)
    page = answer.content.decode()
    assert answer.status_code == 422
    assert sentence in page
    assert ScaleCheck.objects.count() == 1


def test_a_check_is_entered_anew_from_what_was_typed(client, bench, address):
    row = ScaleCheck.objects.get()
    page = client.get(f"{address}scale-check/{row.pk}/").content.decode()
    assert 'value="2.01 g; 2.00 g; 2.01 g"' in page
    again = CHECK | {"scale": str(bench.scale.pk), "when": "before"}
    assert client.post(f"{address}scale-check/{row.pk}/", again).status_code == 302
    assert ScaleCheck.objects.latest("pk").corrects == row
    assert client.get(f"{address}scale-check/{row.pk}/").status_code == 404


PAGES = ("", "preview/", "scale-check/", "scale-check/preview/")


@pytest.mark.parametrize("page", PAGES)
def test_an_unknown_job_is_not_found(client, bench, page):
    assert client.post(f"/jobs/99/readings/{page}", {}).status_code == 404


@pytest.mark.parametrize("page", ["99/correct/", "99/withdraw/", "scale-check/99/"])
def test_an_unknown_row_is_not_found(client, address, page):
    assert client.get(address + page).status_code == 404


@pytest.mark.parametrize(
    ("page", "method"),
    [
        ("", "put"),
        ("preview/", "get"),
        ("1/correct/", "post"),
        ("1/withdraw/", "delete"),
        ("scale-check/", "put"),
        ("scale-check/preview/", "get"),
    ],
)
def test_wrong_methods_are_refused(client, address, page, method):
    assert getattr(client, method)(address + page).status_code == 405


def test_what_is_needed_is_what_was_not_read(bench):
    titles = [needed.title for needed in needed_readings(job_record(bench.job))]
    assert titles[0] == "Pivot-to-spindle distance"
    assert len(titles) == 9
    undone = [needed.title for needed in needed_readings(job_record(bench.job)) if not needed.done]
    assert undone == [
        "Tracking force, inner platter, as found",
        "Tracking force, inner platter, as left",
        "Scale checked with known weights, after the readings",
    ]


def test_two_hundred_readings_cost_few_queries(client, bench, address, django_assert_max_num_queries):
    from groovewright.jobbook.ledger import append_all, writing

    first = bench.readings[3]
    rows = [
        Reading(job=bench.job, kind=first.kind, stage="as left", place="outer", text="1.90 g", quantity=first.quantity)
        for _ in range(200)
    ]
    with writing():
        append_all(rows)
    with django_assert_max_num_queries(24):
        assert client.get(address).status_code == 200


def test_examples_for_the_script_name_every_kind(client, address):
    page = client.get(address).content.decode()
    examples = json.loads(page.split("data-examples='")[1].split("'")[0].replace("&quot;", '"'))
    assert set(examples) == {"pivot_to_spindle", "effective_length", "overhang", "tracking_force"}


def test_the_list_is_grouped_by_stage_and_says_what_a_gauge_lent(client, bench):
    typed = {"kind": "overhang", "stage": "as left", "entry": "17.4 mm", "gauge": bench.gauge.pk}
    assert client.post("/jobs/1/readings/", typed).status_code == 302
    page = client.get("/jobs/1/readings/").content.decode()
    table = page[page.index('id="all-readings"') :]
    assert table.index(">As left</th>") < table.index("17.4 mm") < table.index(">As found</th>") < table.index("1.95 g")
    assert "taken as 17.40 mm ± 0.20 mm" in table
    assert "taken as 17.3" not in table


def test_readings_of_the_bench_are_corrected_there_and_withdrawn_here(client, bench, address):
    quantity = parse_quantity("0.4 deg +- 0.2 deg", "angle", source="zenith 1")
    row = entries.record_reading(
        bench.job, kind="zenith_error", stage="as left", text="0.4 deg +- 0.2 deg", quantity=quantity
    )
    page = client.get(address).content.decode()
    assert f"/jobs/{bench.job.number}/bench/readings/{row.pk}/correct/" in page
    assert f"{address}{row.pk}/withdraw/" in page
    assert client.post(f"{address}{row.pk}/withdraw/", {"note": "read upside down"}).status_code == 302
    assert f"/bench/readings/{row.pk}/correct/" not in client.get(address).content.decode()


def test_the_places_of_an_arc_trace_stand_together_and_may_be_withdrawn(client, bench, address):
    geometry = Geometry(222.0, 239.3, 23.0)
    request = PlateRequest("arc", geometry, 60.325, 146.05, "closed form", paper="A3")
    plate = entries.issue_plate(bench.job, request)
    for radius_mm, text in ((65.0, "0.12 mm +- 0.1 mm"), (120.0, "0.31 mm +- 0.1 mm")):
        row = entries.record_reading(
            bench.job,
            kind="arc_trace",
            stage="as found",
            text=text,
            quantity=parse_quantity(text, "length", source=f"place at {radius_mm:g} mm"),
            plate=plate,
            radius_mm=radius_mm,
        )
    page = client.get(address).content.decode()
    table = page[page.index('id="all-readings"') :]
    assert table.index(">Arc traces, as found</th>") < table.index("0.31 mm") < table.index("at 65 mm")
    assert "Prints of plates" not in table
    assert f"/bench/readings/{row.pk}/correct/" not in table
    assert client.post(f"{address}{row.pk}/withdraw/", {"note": "slipped"}).status_code == 302
    assert f"{address}{row.pk}/withdraw/" not in client.get(address).content.decode()
    assert "0.31 mm" not in [reading.text for reading in job_record(bench.job).readings]


def test_prints_of_plates_keep_their_own_heading_and_are_not_withdrawn(client, bench, address):
    request = PlateRequest("arc", Geometry(222.0, 239.3, 23.0), 60.325, 146.05, "closed form", paper="A3")
    text = "99.8 mm +- 0.1 mm"
    row = entries.record_reading(
        bench.job,
        kind="print_bar_x",
        stage="as found",
        text=text,
        quantity=parse_quantity(text, "length", source="bar"),
        plate=entries.issue_plate(bench.job, request),
    )
    page = client.get(address).content.decode()
    assert page.index("Prints of plates") < page.index("99.8 mm")
    assert f"{address}{row.pk}/withdraw/" not in page
