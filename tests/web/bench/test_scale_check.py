"""Checks of the scale with known weights."""

import pytest

from groovewright.jobbook.models import ScaleCheck


@pytest.fixture
def address(bench):
    return f"/jobs/{bench.job.number}/bench/scale-check/"


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
    assert client.post(address, check)["Location"] == "/jobs/1/bench/?enter=tracking_force"
    row = ScaleCheck.objects.get(when="after")
    assert len(row.readings) == 7
    assert row.readings[2]["indication_mn"] == pytest.approx(2 * 9.80665)
    assert row.readings[2]["weights"][0]["name"] == "2 g, class M1"
    # 5.0003 g +- 0.1 mg is its own certificate.
    assert row.readings[6]["weights"][0]["mass"]["components"][0]["contribution"] == pytest.approx(1e-4)


def test_the_check_shows_its_line_before_it_is_stored(client, bench, address, check):
    answer = client.post(address + "preview/", check)
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
    answer = client.post(address, check | change)
    page = answer.content.decode()
    assert answer.status_code == 422
    assert sentence in page
    assert ScaleCheck.objects.count() == 1


def test_a_check_is_entered_anew_from_what_was_typed(client, bench, address):
    row = ScaleCheck.objects.get()
    page = client.get(f"{address}{row.pk}/").content.decode()
    assert 'value="2.01 g; 2.00 g; 2.01 g"' in page
    again = CHECK | {"scale": str(bench.scale.pk), "when": "before"}
    assert client.post(f"{address}{row.pk}/", again).status_code == 302
    assert ScaleCheck.objects.latest("pk").corrects == row


def test_unknown_jobs_and_rows_and_wrong_methods_are_refused(client, bench, address):
    assert client.post("/jobs/99/bench/scale-check/", {}).status_code == 404
    assert client.post("/jobs/99/bench/scale-check/preview/", {}).status_code == 404
    assert client.get(f"{address}99/").status_code == 404
    assert client.put(address).status_code == 405
    assert client.get(f"{address}preview/").status_code == 405


def test_who_corrects_a_check_that_another_corrected_meanwhile_is_told_and_corrects_that_one(
    client, bench, address, check
):
    first = ScaleCheck.objects.get()
    page = f"{address}{first.pk}/"
    client.post(page, check | {"note": "by the other"})
    second = ScaleCheck.objects.get(corrects=first)
    answer = client.post(page, check | {"note": "mine", "shown_2": "2.02; 2.02; 2.02"})
    text = answer.content.decode()
    assert answer.status_code == 422
    assert "Meanwhile this check was corrected" in text
    assert "2.02; 2.02; 2.02" in text
    assert f'action="{address}{second.pk}/"' in text
    assert client.post(f"{address}{second.pk}/", check | {"note": "mine"}).status_code == 302
    assert ScaleCheck.objects.get(corrects=second).note == "mine"
    # An old link leads to the newest.
    assert 'value="mine"' in client.get(page).content.decode()
