"""The real browser on the live site: what it may load, and what it may not."""

from __future__ import annotations

import pytest
from django.http import HttpResponse
from django.templatetags.static import static
from django.urls import path

pytestmark = [pytest.mark.browser, pytest.mark.urls(__name__)]

urlpatterns = [
    path("plain/", lambda request: HttpResponse("<!doctype html><title>Bench</title><p>ready")),
    path(
        "nosy/",
        lambda request: HttpResponse(
            "<!doctype html><title>Nosy</title>"
            '<img src="//elsewhere.invalid/x.png"><script>document.title = "ran"</script>'
        ),
    ),
]


def test_a_plain_page_opens(page):
    page.goto("/plain/")
    assert page.title() == "Bench"


def test_fonts_and_charts_come_from_this_site(page):
    for address in (static("fonts/SourceSansPro-Regular.ttf"), static("plotly/plotly.min.js")):
        assert page.request.get(address).status == 200
    assert page.request.get(static("plotly/datasets/iris.csv.gz")).status == 404


def test_the_policy_stops_scripts_in_the_page_and_pictures_from_elsewhere(chromium, live_server):
    page = chromium.new_page()
    refused: list[str] = []
    page.on("console", lambda message: refused.append(message.text))
    page.goto(f"{live_server.url}/nosy/")
    title = page.title()
    page.close()
    assert title == "Nosy"
    assert any("elsewhere.invalid" in text and "Content Security Policy" in text for text in refused)
    assert any("script" in text and "Content Security Policy" in text for text in refused)
