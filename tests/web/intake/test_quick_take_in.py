"""A take-in in a minute: few fields on one screen, the rest folded by subject, a distance stored as a reading."""

import re

import pytest
from playwright.sync_api import expect

from groovewright.jobbook import entries
from groovewright.jobbook.job_record import job_record
from groovewright.jobbook.models import Job, Reading
from groovewright.measurement.parsing import parse_quantity
from groovewright.web.choose.starting_values import known_distance
from groovewright.web.intake.defaults import DEFAULTS
from groovewright.web.intake.folds import SUBJECTS, folds
from groovewright.web.intake.forms import NewOwnerJobForm

LEAST = {"deck_description": "Belt drive, walnut plinth", "arm_kind": "offset"}
MEASURED = LEAST | {"pivot_to_spindle": "222,4 +- 0.3"}


def taken_in(client, typed):
    assert client.post("/jobs/new/", typed).status_code == 302
    return Job.objects.latest("pk")


def change(client, job, **typed):
    """Send the take-in page of a job as it is, with some fields typed anew."""
    address = f"/jobs/{job.number}/take-in/"
    form = client.get(address).context["form"]
    sent = {name: form[name].value() for name in form.fields}
    sent = {name: value for name, value in sent.items() if value not in (None, False)} | typed
    assert client.post(address, sent).status_code == 302


def distances(job):
    return job.readings.filter(kind=Reading.Kind.PIVOT_TO_SPINDLE).order_by("pk")


def test_deck_and_kind_of_arm_are_enough_for_every_page_of_the_job(client, db):
    job = taken_in(client, LEAST)
    intake = job.intakes.get()
    assert (intake.cartridge, intake.arm.kind) == (None, "offset")
    assert (intake.innermost_mm, intake.outermost_mm, intake.decision_rule) == (60.325, 146.05, "guarded acceptance")
    assert (intake.length_tolerance_lower_mm, intake.length_tolerance_upper_mm) == (-0.5, 0.5)
    for page in ("take-in", "choose", "plate", "bench", "report"):
        assert client.get(f"/jobs/{job.number}/{page}/").status_code == 200
    # An arm that nobody named is asked for again, not called by a name.
    assert client.get(f"/jobs/{job.number}/take-in/").context["form"]["arm_description"].value() == ""
    change(client, job)
    assert job.intakes.latest("pk").arm == intake.arm


def test_a_cartridge_without_a_name_keeps_its_force_range(client, db):
    job = taken_in(client, LEAST | {"force_range": "1.6:2.2"})
    cartridge = job.intakes.get().cartridge
    assert cartridge.tracking_force_lower.value == pytest.approx(1.6 * 9.80665)
    change(client, job, force_range="")
    assert job.intakes.latest("pk").cartridge is None


def test_a_distance_is_a_reading_at_once_and_the_choose_page_starts_with_it(client, db):
    job = taken_in(client, MEASURED)
    reading = distances(job).get()
    assert (reading.text, reading.stage, reading.quantity.value) == ("222,4 +- 0.3 mm", "as found", 222.4)
    assert reading.quantity.standard_uncertainty == pytest.approx(0.3)
    form = client.get(f"/jobs/{job.number}/choose/").context["form"]
    assert form["pivot_to_spindle"].value() == "222,4 +- 0.3 mm"
    assert known_distance(job_record(job)).standard_uncertainty == pytest.approx(0.3)


def test_only_a_changed_text_changes_the_reading_and_then_corrects_it(client, db):
    job = taken_in(client, MEASURED)
    change(client, job, complaint="hums")
    change(client, job)
    assert distances(job).count() == 1
    change(client, job, pivot_to_spindle="222,9 +- 0.2 mm")
    first, second = distances(job)
    assert (second.corrects, second.quantity.value) == (first, 222.9)
    change(client, job)
    assert distances(job).count() == 2
    change(client, job, pivot_to_spindle="")
    assert distances(job).last().withdrawn
    assert client.get(f"/jobs/{job.number}/take-in/").context["form"]["pivot_to_spindle"].value() == ""
    change(client, job, pivot_to_spindle="223 +- 0.2")
    assert distances(job).last().corrects is None


def test_readings_made_elsewhere_are_told_beside_the_empty_field(client, bench):
    text = "222.4 mm +- 0.2 mm"
    entries.record_reading(
        bench.job,
        kind="pivot_to_spindle",
        stage="as found",
        text=text,
        quantity=parse_quantity(text, "length", source="a further reading"),
    )
    page = client.get(f"/jobs/{bench.job.number}/take-in/")
    assert page.context["form"]["pivot_to_spindle"].value() == ""
    assert "By the readings so far: 222" in page.content.decode()
    before = distances(bench.job).count()
    change(client, bench.job, complaint="hums")
    assert distances(bench.job).count() == before


def test_a_distance_that_was_corrected_elsewhere_is_what_take_in_shows(client, db):
    job = taken_in(client, MEASURED)
    entry = {
        "kind": "pivot_to_spindle",
        "stage": "as found",
        "entry": "222,8 +- 0.2",
        "corrects": distances(job).get().pk,
    }
    assert client.post(f"/jobs/{job.number}/bench/readings/", entry).status_code == 302
    assert client.get(f"/jobs/{job.number}/take-in/").context["form"]["pivot_to_spindle"].value() == "222,8 +- 0.2 mm"
    change(client, job, complaint="hums")
    assert distances(job).count() == 2


@pytest.mark.parametrize(
    ("typed", "sentence"),
    [
        ({"pivot_to_spindle": "222 g"}, "a length such as 222 +- 0.3 mm is needed here"),
        ({"pivot_to_spindle": "22.2 mm"}, "outside what can be right here: 100 mm to 500 mm"),
        ({"pivot_to_spindle": "232", "drawn_pivot_to_spindle": "223"}, "should be near 223 mm (the maker's drawing)"),
        ({"pivot_to_spindle": "222", "arm_kind": "tangential"}, "A tangential arm has no pivot"),
    ],
)
def test_a_distance_that_cannot_be_right_is_said_beside_its_field(client, db, typed, sentence):
    answer = client.post("/jobs/new/", LEAST | typed)
    assert answer.status_code == 422
    assert sentence in " ".join(answer.context["form"].errors["pivot_to_spindle"])
    assert not Job.objects.exists()


@pytest.mark.parametrize(
    ("key", "typed", "words"),
    [
        ("headshell_limits", {}, "no limits known"),
        ("headshell_limits", {"length_limits": "235:242 mm", "angle_fixed": "on"}, "length 235 to 242 mm, angle fixed"),
        (
            "arm_build",
            {"effective_mass": "12 g +- 0.5 g", "build_bearing": "unipivot"},
            "effective mass 12 g, unipivot",
        ),
        ("records", {}, "as usual: 33 1/3 rpm"),
        ("records", {"record_thickness": "1.9 mm"}, "33 1/3 rpm, thickness 1.9 mm"),
        ("limits", {}, "as usual: length ±0.5 mm, guarded acceptance, risk 5 %"),
        ("contact", {"owner_contact": "Kelvin 4", "deck_note": "no lid"}, "contact, note"),
    ],
)
def test_the_summary_of_a_fold_says_what_is_in_it(client, key, typed, words):
    form = NewOwnerJobForm(LEAST | DEFAULTS | typed)
    fold = next(fold for fold in folds(form) if fold.subject.key == key)
    assert (fold.words, fold.is_open) == (words, bool(typed))
    answer = client.post("/jobs/new/folds/", LEAST | DEFAULTS | typed).content.decode()
    assert re.search(rf'id="fold-words-{key}" hx-swap-oob="true">{re.escape(words)}<', answer)


def test_each_field_is_on_the_first_screen_or_in_one_fold(client, db):
    page = client.get("/jobs/new/").content.decode()
    folded = [name for subject in SUBJECTS for name, _ in subject.fields]
    assert len(folded) == len(set(folded))
    first_screen = page[page.index('class="card first"') : page.index('class="card folds"')]
    for name in NewOwnerJobForm.base_fields:
        assert (f'name="{name}"' in first_screen) is (name not in folded)


TYPED = {
    "owner_name": "Ilse Marwitz",
    "deck_description": "Belt drive, walnut",
    "arm_description": "Nine-inch arm",
    "arm_kind": None,
    "pivot_to_spindle": "222 +- 0.3",
    "cartridge_description": "Moving magnet",
    "force_range": "1.6:2.2",
    "groove": None,
    "complaint": "Harsh at the end of a side",
}


def focused(page):
    return page.evaluate("document.activeElement.name || document.activeElement.className")


@pytest.mark.browser
@pytest.mark.django_db(transaction=True)
def test_a_take_in_by_keyboard_alone_on_one_screen(open_page):
    page = open_page(viewport={"width": 1440, "height": 900})
    page.goto("/jobs/new/")
    button = page.get_by_role("button", name="Take in")
    for element in (*page.locator(".first").all(), *page.locator("details.fold").all(), button):
        box = element.bounding_box()
        assert box["y"] + box["height"] <= 900
    # The first field has the focus; Enter moves on, field by field, to the button.
    for name, text in TYPED.items():
        assert focused(page) == name
        page.keyboard.type(text or "")
        page.keyboard.press("Enter")
    assert focused(page) == "mistracking_reported"
    page.keyboard.press("Enter")
    expect(button).to_be_focused()
    page.keyboard.press("Enter")
    page.wait_for_url("**/choose/")
    # 9 fields, 103 characters and 11 times Enter: 46 s at 150 characters a minute.
    assert sum(len(text or "") for text in TYPED.values()) + len(TYPED) + 2 <= 120
    expect(page.locator("[name=pivot_to_spindle]")).to_have_value("222 +- 0.3 mm")
    assert Job.objects.count() == 1


@pytest.mark.browser
@pytest.mark.django_db(transaction=True)
def test_a_refused_take_in_is_corrected_where_it_is_wrong_and_loses_nothing(page):
    page.goto("/jobs/new/")
    page.locator("[name=complaint]").fill("one line")
    page.keyboard.press("Shift+Enter")
    page.keyboard.type("and another")
    page.locator("#fold-arm_build > summary").click()
    page.locator("[name=effective_mass]").fill("twelve")
    page.keyboard.press("Enter")
    expect(page.locator("#fold-words-arm_build")).to_have_text("effective mass twelve")
    page.keyboard.press("Control+Enter")
    page.get_by_text("Not saved yet").wait_for()
    expect(page.locator("[name=deck_description]")).to_be_focused()
    page.keyboard.type("Belt drive")
    expect(page.locator("#fold-arm_build")).to_have_attribute("open", "")
    expect(page.locator("#field-id_effective_mass .wrong")).to_contain_text("12 g")
    expect(page.locator("[name=complaint]")).to_have_value("one line\nand another")
    page.locator("[name=effective_mass]").fill("12 g")
    page.keyboard.press("Control+Enter")
    page.wait_for_url("**/choose/")
    assert Job.objects.get().complaint.split("\n")[1] == "and another"


@pytest.mark.browser
@pytest.mark.django_db(transaction=True)
@pytest.mark.parametrize("width", [390, 320])
def test_no_sideways_scrolling_on_a_small_screen_with_all_folds_open(open_page, width):
    page = open_page(viewport={"width": width, "height": 844})
    page.goto("/jobs/new/")
    for summary in page.locator("details.fold > summary").all():
        summary.click()
    assert page.evaluate("document.documentElement.scrollWidth") == width
