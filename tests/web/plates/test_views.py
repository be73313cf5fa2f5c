import re

import pytest
from django.urls import reverse

from groovewright.jobbook import content_store
from groovewright.jobbook.models import IssuedPlate, Reading
from groovewright.plates.plate import draw_plate
from groovewright.plates.svg import scene_to_svg
from groovewright.web.plates_page.forms import FIRST_VALUES, PlateForm

BARS = {"bar_x": "100.4 mm +- 0.1 mm", "bar_y": "99.7 mm +- 0.1 mm"}


def words_of(answer):
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", answer.content.decode()))


@pytest.fixture
def page(job):
    return reverse("plate", args=[job.number])


@pytest.fixture
def issued(client, page, typed):
    client.post(page, typed)
    return IssuedPlate.objects.get()


@pytest.fixture
def check(issued):
    return reverse("plate-print-check", args=[issued.job.number, issued.number])


@pytest.fixture
def check_preview(issued):
    return reverse("plate-print-check-preview", args=[issued.job.number, issued.number])


def test_the_page_shows_the_very_drawing(client, page, job):
    answer = client.get(page)
    assert answer.status_code == 200
    form = PlateForm(FIRST_VALUES)
    assert form.is_valid()
    drawing = scene_to_svg(draw_plate(form.request(job.target_choices.get())))
    assert drawing.partition("\n")[2].strip() in answer.content.decode()


def test_without_targets_the_page_leads_to_choosing_them(client, bare_job, typed):
    address = reverse("plate", args=[bare_job.number])
    assert reverse("choose", args=[bare_job.number]) in client.get(address).content.decode()
    answer = client.post(address, typed)
    assert answer.status_code == 422
    assert "Choose the targets first" in words_of(answer)


@pytest.mark.parametrize("kind", ["arc", "two-null", "cut"])
def test_a_plate_is_issued_under_a_number_in_three_formats(client, page, job, typed, kind):
    assert client.post(page, {**typed, "kind": kind}).status_code == 302
    plate = IssuedPlate.objects.get(job=job)
    assert plate.number == f"{job.number}-P1"
    starts = {"pdf": b"%PDF", "svg": b"<?xml", "dxf": b"  0\n"}
    for form, start in starts.items():
        answer = client.get(reverse("plate-download", args=[job.number, plate.number, form]))
        assert answer.status_code == 200
        assert answer.content.startswith(start)
        assert f'filename="plate-{plate.number}.{form}"' in answer["Content-Disposition"]


def test_the_page_leads_on_to_the_bench_with_a_plate_or_without(client, page, job, typed):
    bench = reverse("bench", args=[job.number])
    assert f'<a class="button" href="{bench}">' in client.get(page).content.decode()
    client.post(page, typed)
    html = client.get(page).content.decode()
    assert f'<a class="button main" href="{bench}">' in html
    assert '<button class="button">' in html


def test_the_next_plate_starts_as_the_last_one_was_asked_for(client, page, typed):
    client.post(page, {**typed, "kind": "cut", "paper": "A3", "fan_half_width": "1 mm"})
    html = client.get(page).content.decode()
    assert '<option value="A3" selected>' in html
    assert re.search(r'name="fan_half_width" value="1 mm"', html)
    assert re.search(r'value="cut"[^>]* checked', html)


def test_a_plate_too_large_for_the_paper_names_the_paper_that_would_do(client, page, typed):
    answer = client.post(page, {**typed, "paper": "A5"})
    assert answer.status_code == 422
    assert "Choose A4" in words_of(answer)
    assert not IssuedPlate.objects.exists()


@pytest.mark.parametrize(
    "wrong",
    [
        ("fan_half_width", "two", "2 mm"),
        ("fan_step", "0 mm", "0.05 mm to 20 mm"),
        ("spindle_clearance", "5 mm", "0 mm to 1 mm"),
        ("kind", "oval", "Select a valid choice"),
        ("paper", "A9", "Select a valid choice"),
    ],
)
def test_a_wrong_entry_stays_and_the_right_one_is_named_beside_it(client, page, typed, wrong):
    field, entry, right = wrong
    answer = client.post(page, {**typed, field: entry})
    assert answer.status_code == 422
    beside = re.search(rf'id="words-id_{field}".*?</div>', answer.content.decode(), re.S)[0]
    assert right in beside
    assert not IssuedPlate.objects.exists()


def test_a_preview_draws_and_writes_nothing(client, page, job, typed):
    answer = client.post(reverse("plate-preview", args=[job.number]), {**typed, "kind": "cut"})
    assert answer.status_code == 200
    assert "Arc plate for cutting" in answer.content.decode()
    assert "never leave it running alone" in words_of(answer)
    assert not IssuedPlate.objects.exists()


def test_a_preview_says_why_there_is_no_drawing(client, job, typed):
    preview = reverse("plate-preview", args=[job.number])
    answer = client.post(preview, {**typed, "fan_half_width": "4 mm"})
    assert answer.status_code == 422
    assert "Take steps of 0.67 mm or more" in words_of(answer)
    answer = client.post(preview, {**typed, "fan_step": "?"})
    assert answer.status_code == 422
    assert "the drawing waits for it" in words_of(answer)


def test_a_print_check_issues_the_corrected_plate_that_names_the_one_it_replaces(client, check, issued):
    assert client.post(check, {**BARS, "then": "correct"}).status_code == 302
    corrected = IssuedPlate.objects.exclude(pk=issued.pk).get()
    assert corrected.replaces == issued
    assert corrected.number != issued.number
    assert (corrected.scale_x, corrected.scale_y) == (pytest.approx(1.004), pytest.approx(0.997))
    bars = Reading.objects.filter(plate=issued)
    assert {bar.kind: bar.quantity.value for bar in bars} == {"print_bar_x": 100.4, "print_bar_y": 99.7}
    assert len({source for bar in bars for source in bar.quantity.components}) == 2


def test_a_true_print_is_only_recorded(client, check, issued, page):
    client.post(check, {"bar_x": "100.0 mm +- 0.1 mm", "bar_y": "100.1 mm +- 0.1 mm", "then": "keep"})
    assert IssuedPlate.objects.get() == issued
    assert "its print is true" in words_of(client.get(page))


def test_bars_measured_again_correct_those_entered_before(client, check, issued):
    client.post(check, {**BARS, "then": "keep"})
    client.post(check, {"bar_x": "100.3 mm", "bar_y": "99.8 mm", "then": "keep"})
    standing = Reading.objects.filter(plate=issued, corrected_by=None)
    assert {bar.kind: bar.quantity.value for bar in standing} == {"print_bar_x": 100.3, "print_bar_y": 99.8}
    assert Reading.objects.filter(plate=issued).count() == 4


def test_a_print_check_preview_gives_both_factors_with_their_uncertainty(client, check_preview):
    answer = client.post(check_preview, BARS)
    assert answer.status_code == 200
    # 0.1 mm in 100 mm, with 0.1 % of paper growth as a rectangular half-width: 0.00115.
    assert "1.0040 ± 0.0012" in words_of(answer)
    assert "0.9970 ± 0.0012" in words_of(answer)
    assert "not true" in words_of(answer)
    assert not Reading.objects.exists()


@pytest.mark.parametrize(
    ("bar_y", "right"),
    [("180 mm", "&quot;fit to page&quot; off"), ("99.7 kg", "a length such as"), ("", "required")],
)
def test_a_wrong_bar_is_refused_and_both_entries_stay(client, check, check_preview, bar_y, right):
    typed = {"bar_x": "100.4 mm", "bar_y": bar_y, "then": "correct"}
    assert client.post(check_preview, typed).status_code == 422
    answer = client.post(check, typed)
    assert answer.status_code == 422
    html = answer.content.decode()
    assert right in html
    assert 'value="100.4 mm"' in html
    assert not Reading.objects.exists()


def test_a_plate_for_other_targets_is_marked(client, page, job, issued, choose_again):
    assert "drawn for other targets" not in words_of(client.get(page))
    choose_again(job, 223.0)
    assert "drawn for other targets" in words_of(client.get(page))


def test_unknown_jobs_plates_and_formats_are_not_found(client, job, issued, typed):
    number = issued.job.number
    assert client.get(reverse("plate", args=[4711])).status_code == 404
    assert client.post(reverse("plate-preview", args=[4711]), typed).status_code == 404
    for address in ("plate-print-check", "plate-print-check-preview"):
        assert client.post(reverse(address, args=[number, "9-P9"]), BARS).status_code == 404
    assert client.get(reverse("plate-download", args=[number, "9-P9", "pdf"])).status_code == 404
    assert client.get(reverse("plate-download", args=[number, issued.number, "png"])).status_code == 404


def test_other_methods_are_refused(client, page, issued, check, check_preview):
    job = issued.job
    assert client.put(page).status_code == 405
    assert client.get(reverse("plate-preview", args=[job.number])).status_code == 405
    assert client.get(check).status_code == 405
    assert client.get(check_preview).status_code == 405
    assert client.post(reverse("plate-download", args=[job.number, issued.number, "pdf"])).status_code == 405


def test_a_file_that_was_lost_is_said_in_one_sentence(client, issued):
    content_store.path_of(issued.files["pdf"]).unlink()
    answer = client.get(reverse("plate-download", args=[issued.job.number, issued.number, "pdf"]))
    assert answer.status_code == 410
    assert "bring it back from a backup" in answer.content.decode()
