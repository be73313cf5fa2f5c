"""A scale or a gauge that is added on the way leads back to where it was asked for, chosen; and to no other site."""

import re

import pytest
from playwright.sync_api import expect

from groovewright.jobbook.models import Gauge, Scale

SCALE = {"description": "Scale 7", "resolution": "0.01 g"}
GAUGE = {"description": "Caliper", "standard_uncertainty": "0.1 mm"}

CHECK = "/jobs/1/bench/scale-check/?when=after"
ELSEWHERE = (
    "https://example.org/",
    "//example.org/workshop/",
    "/\\example.org/workshop/",
    "javascript:alert(1)",
    "workshop/",
    "/no/such/page/",
    "",
)


def test_a_new_scale_leads_back_to_the_check_and_is_chosen_there(client, bench):
    page = client.get("/workshop/scales/new/", {"next": CHECK}).content.decode()
    assert 'name="next" value="/jobs/1/bench/scale-check/?when=after"' in page
    # A refusal keeps the way back.
    refused = client.post("/workshop/scales/new/", SCALE | {"resolution": "", "next": CHECK})
    assert (refused.status_code, refused.context["way_back"]) == (422, CHECK)
    answer = client.post("/workshop/scales/new/", SCALE | {"next": CHECK})
    added = Scale.objects.latest("pk")
    assert answer["Location"] == f"{CHECK}&scale={added.pk}"
    form = client.get(answer["Location"]).context["form"]
    assert (form["scale"].value(), form["when"].value()) == (str(added.pk), "after")


def test_a_new_gauge_leads_back_too(client, bench):
    answer = client.post("/workshop/gauges/new/", GAUGE | {"next": "/jobs/1/bench/"})
    assert answer["Location"] == f"/jobs/1/bench/?gauge={Gauge.objects.latest('pk').pk}"


@pytest.mark.parametrize("address", ELSEWHERE)
def test_no_address_leads_off_this_site(client, bench, address):
    assert client.get("/workshop/scales/new/", {"next": address}).context["way_back"] == ""
    assert client.post("/workshop/scales/new/", SCALE | {"next": address})["Location"] == "/workshop/"


@pytest.mark.parametrize("chosen", ["abc", "-1", "999999", ""])
def test_an_address_that_chooses_what_is_not_there_chooses_nothing(client, bench, chosen):
    page = client.get(f"{CHECK}&scale={chosen}")
    assert page.status_code == 200
    scales = re.search(r'<select name="scale".*?</select>', page.content.decode(), re.DOTALL)[0]
    assert "Scale 2" in scales
    assert " selected" not in scales


@pytest.mark.browser
@pytest.mark.django_db(transaction=True)
def test_a_scale_is_added_from_the_check_and_the_check_goes_on_with_it(page, fill_book):
    job = fill_book().job
    page.goto(f"/jobs/{job.number}/bench/scale-check/?when=after")
    page.get_by_role("link", name="Add another scale").click()
    page.locator("[name=description]").fill("Scale 7")
    page.locator("[name=resolution]").fill("0.01")
    page.get_by_role("button", name="Save").click()
    page.wait_for_url("**/scale-check/?when=after&scale=*")
    expect(page.get_by_label("Scale", exact=True).locator("option:checked")).to_have_text("Scale 7")
    expect(page.get_by_label("After the readings")).to_be_checked()
