"""Two people change the same field: the second is told what the first stored, and nothing typed is lost."""

import html
import re

import pytest

from groovewright.jobbook.models import Gauge, Owner, Reading, Scale

pytestmark = pytest.mark.django_db


def fields_of(client, address):
    """Return the fields of a page as a browser would send them back."""
    page = client.get(address)
    form = page.context["form"]
    shown = re.search(r'name="as_shown" value="([^"]*)"', page.content.decode())
    sent = {name: form[name].value() or "" for name in form.fields}
    return {name: text for name, text in sent.items() if text is not False} | {"as_shown": html.unescape(shown[1])}


def told(answer):
    return html.unescape(answer.content.decode())


@pytest.mark.parametrize(
    ("address", "name", "texts"),
    [
        ("/workshop/scales/{scale}/", "description", ("Scale 3", "Scale 4")),
        ("/workshop/scales/{scale}/", "resolution", ("0,02 g", "0.05 g")),
        ("/workshop/gauges/{gauge}/", "certificate", ("No. 1", "No. 2")),
        ("/workshop/owners/{owner}/", "contact", ("Kelvin 5", "Kelvin 6")),
        ("/jobs/{job}/take-in/", "complaint", ("hums", "crackles")),
        ("/jobs/{job}/take-in/", "force_range", ("1,7:2,1", "1,8:2,2")),
    ],
)
def test_the_second_is_told_what_the_first_stored(client, bench, address, name, texts):
    address = address.format(scale=bench.scale.pk, gauge=bench.gauge.pk, owner=bench.owner.number, job=bench.job.number)
    first, second = fields_of(client, address), fields_of(client, address)
    assert client.post(address, first | {name: texts[0]}).status_code == 302
    stored = fields_of(client, address)[name]
    answer = client.post(address, second | {name: texts[1]})
    assert answer.status_code == 422
    assert f"Meanwhile this was changed to “{stored}”" in told(answer)
    assert answer.context["form"][name].value() == texts[1]
    # What is sent back the second time was shown beside what the first one stored.
    again = re.search(r'name="as_shown" value="([^"]*)"', answer.content.decode())[1]
    assert client.post(address, second | {name: texts[1], "as_shown": html.unescape(again)}).status_code == 302
    assert fields_of(client, address)[name] != stored


def test_what_only_one_of_them_changed_is_merged_without_a_word(client, bench):
    address = f"/workshop/scales/{bench.scale.pk}/"
    first, second = fields_of(client, address), fields_of(client, address)
    assert client.post(address, first | {"note": "new cell"}).status_code == 302
    assert client.post(address, second | {"description": "Scale 9"}).status_code == 302
    scale = Scale.objects.latest("pk")
    assert (scale.note, scale.description) == ("new cell", "Scale 9")


def test_both_typing_the_same_is_no_conflict(client, bench):
    address = f"/workshop/gauges/{bench.gauge.pk}/"
    first, second = fields_of(client, address), fields_of(client, address)
    for sent in (first, second):
        assert client.post(address, sent | {"certificate": "No. 7"}).status_code == 302
    assert Gauge.objects.latest("pk").certificate == "No. 7"
    assert Owner.objects.count() == 1


def test_a_reading_that_was_corrected_meanwhile_is_told_and_then_corrected(client, bench):
    address, row = f"/jobs/{bench.job.number}/bench/readings/", bench.readings[2]
    entry = {"kind": "overhang", "stage": "as left", "corrects": row.pk}
    assert client.post(address, entry | {"entry": "17,4"}).status_code == 302
    first = Reading.objects.latest("pk")
    answer = client.post(address, entry | {"entry": "17,5"})
    assert answer.status_code == 422
    assert "Meanwhile this reading was corrected to 17,4 mm" in told(answer)
    assert 'value="17,5"' in told(answer)
    again = answer.context["reading_form"]["corrects"].value()
    assert again == str(first.pk)
    assert client.post(address, entry | {"entry": "17,5", "corrects": again}).status_code == 302
    assert row.current().text == "17,5 mm"


def test_a_reading_that_was_taken_back_meanwhile_is_entered_anew(client, bench):
    address, row = f"/jobs/{bench.job.number}/bench/readings/", bench.readings[2]
    entry = {"kind": "overhang", "stage": "as left", "entry": "17,5", "corrects": row.pk}
    assert client.post(f"{address}{row.pk}/withdraw/", {"note": "wrong arm"}).status_code == 302
    answer = client.post(address, entry)
    assert "Meanwhile this reading was taken back" in told(answer)
    assert (
        client.post(address, entry | {"corrects": answer.context["reading_form"]["corrects"].value()}).status_code
        == 302
    )
