import io

import pytest

from groovewright.jobbook.models import Gauge, Letterhead, OwnerDetails, Reading, Scale

SCALE = {
    "description": "Scale 3",
    "resolution": "0.01 g",
    "repeatability": "0.005 g",
    "platform_height": "1.9",
    "note": "",
}
GAUGE = {"description": "Caliper", "certificate": "4411", "standard_uncertainty": "0.1 mm", "note": ""}


def test_the_workshop_shows_scales_gauges_and_owners(client, bench):
    page = client.get("/workshop/").content.decode()
    for words in ("Scale 2", "last step 0.01 g", "Steel rule", "no certificate on record", "Ilse Marwitz"):
        assert words in page
    assert (
        "Ilse Marwitz" in client.get("/workshop/", {"sought": "ilse"}, headers={"HX-Request": "true"}).content.decode()
    )
    assert "No owner has" in client.get("/workshop/", {"sought": "zzz"}).content.decode()
    assert client.get("/workshop/", {"page": "many"}).status_code == 200


def test_a_scale_is_added_and_described_anew(client, bench):
    assert client.post("/workshop/scales/new/", SCALE)["Location"] == "/workshop/"
    row = Scale.objects.latest("pk")
    assert row.resolution.value == pytest.approx(0.0980665)
    assert row.platform_height.value == 1.9
    page = client.get(f"/workshop/scales/{row.pk}/").content.decode()
    assert 'value="0.01 g"' in page
    assert client.post(f"/workshop/scales/{row.pk}/", SCALE | {"note": "new battery"}).status_code == 302
    assert Scale.objects.latest("pk").corrects == row
    # A page that was opened before changes the scale as it is now.
    now = Scale.objects.latest("pk")
    assert client.post(f"/workshop/scales/{row.pk}/", SCALE).status_code == 302
    assert Scale.objects.latest("pk").corrects == now


def test_the_page_of_a_scale_shows_its_checks(client, bench):
    assert "for each g" in client.get(f"/workshop/scales/{bench.scale.pk}/").content.decode()


def test_the_uncertainty_of_a_gauge_goes_with_its_readings(client, bench):
    assert 'value="0.2 mm"' in client.get(f"/workshop/gauges/{bench.gauge.pk}/").content.decode()
    client.post("/workshop/gauges/new/", GAUGE)
    gauge = Gauge.objects.latest("pk")
    assert 'value="0.1 mm"' in client.get(f"/workshop/gauges/{gauge.pk}/").content.decode()
    entry = {"kind": "overhang", "stage": "as left", "entry": "17.25 mm", "gauge": str(gauge.pk)}
    assert client.post("/jobs/1/bench/readings/", entry).status_code == 302
    assert Reading.objects.latest("pk").quantity.standard_uncertainty == pytest.approx(0.1)
    assert client.post(f"/workshop/gauges/{gauge.pk}/", GAUGE | {"standard_uncertainty": ""}).status_code == 302
    assert Gauge.objects.latest("pk").corrects == gauge


@pytest.mark.parametrize(
    ("address", "entry", "change", "sentence"),
    [
        ("scales/new/", SCALE, {"resolution": "0,010 mm"}, "a force such as 0.01 g is needed here"),
        ("scales/new/", SCALE, {"resolution": "-0.01 g"}, "outside what can be right here"),
        ("scales/new/", SCALE, {"description": ""}, "Say which scale it is."),
        ("scales/{scale}/", SCALE, {"resolution": "1 kg"}, "a force such as 0.01 g is needed here"),
        ("gauges/new/", GAUGE, {"standard_uncertainty": "small"}, "does not have a number"),
        ("gauges/{gauge}/", GAUGE, {"description": "x" * 400}, "at most 300 characters"),
        ("owners/{owner}/", {"name": "Ilse", "contact": "K"}, {"name": "y" * 300}, "at most 200 characters"),
    ],
)
def test_a_wrong_entry_is_kept_and_mended(client, bench, address, *, entry, change, sentence):
    where = address.format(scale=bench.scale.pk, gauge=bench.gauge.pk, owner=bench.job.deck.owner.number)
    answer = client.post(f"/workshop/{where}", entry | change)
    page = answer.content.decode()
    assert answer.status_code == 422
    assert sentence in page
    for typed in (entry | change).values():
        assert typed in page


def test_details_are_replaced_and_then_deleted_for_good(client, bench):
    assert client.post("/workshop/owners/1/", {"name": "Ilse Marwitz-Kern", "contact": ""}).status_code == 302
    assert "Marwitz-Kern" in client.get("/workshop/owners/1/").content.decode()
    asked = client.get("/workshop/owners/1/delete-details/").content.decode()
    assert "What stays" in asked
    answer = client.post("/workshop/owners/1/delete-details/", {})
    assert answer.status_code == 422
    assert "Tick the box to delete the details; nothing was deleted." in answer.content.decode()
    assert client.post("/workshop/owners/1/delete-details/", {"sure": "on"}).status_code == 302
    assert not OwnerDetails.objects.exists()
    page = client.get("/workshop/owners/1/").content.decode()
    assert "Marwitz" not in page
    assert "Details erased on" in page
    assert Reading.objects.count() == len(bench.readings)
    assert "Owner 1" in client.get("/").content.decode()


@pytest.mark.parametrize("address", ["scales/99999/", "gauges/99999/", "owners/99999/", "owners/99999/delete-details/"])
def test_what_is_unknown_is_not_found(client, bench, address):
    assert client.get(f"/workshop/{address}").status_code == 404


@pytest.mark.parametrize(
    ("address", "method"),
    [
        ("", "post"),
        ("scales/new/", "put"),
        ("scales/1/", "put"),
        ("gauges/new/", "put"),
        ("gauges/1/", "delete"),
        ("owners/1/", "put"),
        ("owners/1/delete-details/", "put"),
    ],
)
def test_wrong_methods_are_refused(client, bench, address, method):
    assert getattr(client, method)(f"/workshop/{address}").status_code == 405


LETTERHEAD = {"name": "Otter & Reed", "address": "2 Weir Walk\nAlderby"}
LOGO = b'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 9 9"><path d="M0 0h9v9z"/></svg>'


def upload(content, name="logo.svg"):
    file = io.BytesIO(content)
    file.name = name
    return file


def test_the_letterhead_is_entered_shown_and_entered_anew(client, db):
    assert "Name, address and logo at the head of every report" in client.get("/workshop/").content.decode()
    assert client.get("/workshop/letterhead/logo/").status_code == 404
    assert client.post("/workshop/letterhead/", LETTERHEAD | {"logo": upload(LOGO)})["Location"] == "/workshop/"
    page = client.get("/workshop/").content.decode()
    for words in ("Otter &amp; Reed", "2 Weir Walk<br>Alderby", 'src="/workshop/letterhead/logo/"'):
        assert words in page
    logo = client.get("/workshop/letterhead/logo/")
    assert (logo.content, logo["Content-Type"]) == (LOGO, "image/svg+xml")
    assert "sandbox" in logo["Content-Security-Policy"]
    client.post("/workshop/letterhead/", LETTERHEAD | {"name": "Reed & Otter"})
    assert [row.name for row in Letterhead.objects.order_by("pk")] == ["Otter & Reed", "Reed & Otter"]
    assert client.get("/workshop/letterhead/logo/").content == LOGO
    client.post("/workshop/letterhead/", LETTERHEAD | {"without_logo": "on"})
    assert client.get("/workshop/letterhead/logo/").status_code == 404


@pytest.mark.parametrize(
    ("change", "sentence"),
    [
        ({"name": " "}, "Say which name it is."),
        ({"logo": upload(b"%PDF-1.7", "logo.pdf")}, "logo.pdf cannot be read as a picture"),
        ({"logo": upload(b"")}, "The file is empty"),
        ({"logo": upload(bytes(6 * 1024**2), "huge.png")}, "huge.png has 6 MB; a logo has 5 MB at most."),
    ],
)
def test_a_letterhead_that_cannot_be_printed_is_refused(client, db, change, sentence):
    answer = client.post("/workshop/letterhead/", LETTERHEAD | change)
    assert answer.status_code == 422
    assert sentence in answer.content.decode()
    assert not Letterhead.objects.exists()


@pytest.mark.parametrize("address", ["/workshop/letterhead/logo/"])
def test_a_logo_is_only_fetched(client, db, address):
    assert client.post(address).status_code == 405
    assert client.put("/workshop/letterhead/").status_code == 405
