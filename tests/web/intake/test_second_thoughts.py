"""What does not fit is asked back beside its field, and stored on a second press of the same button."""

import html
import re

import pytest

from groovewright.jobbook.models import Reading, ScaleCheck, TargetChoice

HIDDEN = re.compile(r'<input type="hidden" name="(\w+)_confirmed" value="([^"]*)">')
PRESS_AGAIN = "press the same button again to keep it as typed"


def press(client, address, typed, name, *, says):
    """Send an entry that is asked back, and return what a second press of the button sends."""
    answer = client.post(address, typed)
    page = html.unescape(answer.content.decode())
    assert answer.status_code == 422
    assert says in page
    assert PRESS_AGAIN in page
    ((field, confirmed),) = HIDDEN.findall(page)
    assert (field, confirmed) == (name, typed[name])
    return typed | {f"{field}_confirmed": confirmed}


def reading(kind, entry, **more):
    return {"kind": kind, "stage": "as left", "entry": entry, **more}


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("kind", "entry", "says"),
    [
        ("effective_length", "329.4", "Two digits swapped: 239.4 mm?"),
        ("effective_length", "17.3 in", "does not fit: the effective length should be near 239.3 mm (the target)."),
        ("overhang", "1.73", "A decimal sign misplaced: 17.3 mm?"),
        ("pivot_to_spindle", "232.4 mm", "Two digits swapped: 223.4 mm?"),
        ("tracking_force", "18,5", "A decimal sign misplaced: 1.85 g?"),
    ],
)
def test_a_reading_is_stored_on_the_second_press(client, bench, kind, entry, says):
    address, before = f"/jobs/{bench.job.number}/bench/readings/", Reading.objects.count()
    typed = reading(kind, entry, place="outer", scale=bench.scale.pk)
    again = press(client, address, typed, "entry", says=says)
    assert Reading.objects.count() == before
    # Another text is asked again.
    changed = again | {"entry": {"18,5": "19,5"}.get(entry, "331.9 mm" if "length" in kind else "-29")}
    assert client.post(address, changed).status_code == 422
    assert client.post(address, again).status_code == 302
    assert Reading.objects.count() == before + 1


@pytest.mark.django_db
def test_what_was_read_before_counts_until_something_is_moved(client, bench):
    address = f"/jobs/{bench.job.number}/bench/readings/"
    assert client.post(address, reading("azimuth_rotation", "3.0 +- 0.2")).status_code == 302
    again = press(client, address, reading("azimuth_rotation", "-3.0 +- 0.2"), "entry", says="The sign turned: 3°?")
    assert client.post(address, again).status_code == 302


@pytest.mark.django_db
def test_the_reading_that_is_corrected_says_nothing_of_its_correction(client, bench):
    address = f"/jobs/{bench.job.number}/bench/readings/"
    assert client.post(address, reading("azimuth_rotation", "3.0 +- 0.2")).status_code == 302
    wrong = Reading.objects.latest("pk")
    entry = reading("azimuth_rotation", "-3.0 +- 0.2", corrects=wrong.pk)
    assert client.post(address, entry).status_code == 302


@pytest.mark.django_db
def test_a_distance_is_asked_back_on_the_choose_page(client, bench):
    address = f"/jobs/{bench.job.number}/choose/"
    typed = {"pivot_to_spindle": "232.4", "groove": "12 inch|RIAA 1963", "arm_kind": "offset", "speed": "33 1/3"}
    typed |= {
        "peak_velocity": "10",
        "criterion": "minimax",
        "effective_length": "",
        "offset_angle": "",
        "own_range": "",
    }
    before = TargetChoice.objects.count()
    again = press(client, address, typed, "pivot_to_spindle", says="Two digits swapped: 223.4 mm?")
    assert TargetChoice.objects.count() == before
    assert client.post(address, again).status_code == 302
    assert TargetChoice.objects.latest("pk").pivot_to_spindle.value == 232.4


@pytest.mark.django_db
def test_an_indication_is_asked_back_under_its_load(client, bench):
    address = f"/jobs/{bench.job.number}/bench/scale-check/"
    typed = {"scale": bench.scale.pk, "when": "after", "accuracy_class": "M1", "load_1": "empty", "shown_1": "0"}
    typed |= {"load_2": "2 g", "shown_2": "2.01; 2.00", "load_3": "5 g", "shown_3": "5.30 3.50"}
    press(client, address, typed, "shown_3", says="3.50 g does not fit: the indication should be near 5 g")
    assert ScaleCheck.objects.count() == 1


@pytest.mark.django_db
def test_a_deck_is_asked_back_what_does_not_go_together(client, db):
    typed = {
        **{"deck_description": "Deck", "arm_description": "Arm", "cartridge_description": "Cartridge"},
        **{"arm_kind": "offset", "groove": "12 inch|RIAA 1963", "speed": "33 1/3", "length_tolerance": "±0.5"},
        **{"decision_rule": "guarded acceptance", "risk": "5"},
    }
    again = press(client, "/jobs/new/", typed | {"force_range": "0,16:0,22"}, "force_range", says="1.6 g?")
    assert client.post("/jobs/new/", again).status_code == 302
    drawn = {"drawn_pivot_to_spindle": "222", "drawn_effective_length": "239.3", "drawn_overhang": "13.7"}
    press(client, "/jobs/new/", typed | drawn, "drawn_overhang", says="should be near 17.3 mm")


@pytest.mark.browser
@pytest.mark.django_db(transaction=True)
def test_the_same_button_pressed_twice_stores_what_was_asked_back(page, fill_book):
    number = fill_book().job.number
    before = Reading.objects.count()
    page.goto(f"/jobs/{number}/bench/?enter=azimuth")
    entry = page.locator("[name=entry]")
    entry.fill("9,0 ± 0,2")
    entry.press("Enter")
    page.get_by_text("the azimuth").filter(has_text="does not fit").wait_for()
    assert entry.input_value() == "9,0 ± 0,2"
    entry.fill("8,0 ± 0,2")
    entry.press("Enter")
    page.get_by_text("8,0 ± 0,2 deg does not fit").wait_for()
    assert Reading.objects.count() == before
    with page.expect_navigation():
        entry.press("Enter")
    assert Reading.objects.latest("pk").text == "8,0 ± 0,2 deg"


@pytest.mark.browser
@pytest.mark.django_db(transaction=True)
def test_on_the_choose_page_the_button_stays_and_the_second_press_keeps_the_distance(page, fill_book):
    number = fill_book().job.number
    page.goto(f"/jobs/{number}/choose/")
    page.locator("[name=pivot_to_spindle]").fill("232,4")
    page.get_by_text("232,4 mm does not fit").wait_for()
    page.get_by_role("button", name="Choose these targets").click()
    page.locator("[name=pivot_to_spindle_confirmed]").wait_for(state="attached")
    page.get_by_role("button", name="Choose these targets").click()
    page.wait_for_url("**/plate/")
    assert TargetChoice.objects.latest("pk").pivot_to_spindle.value == 232.4
