"""Addresses: one include per page folder. A job page lives under /jobs/<number>/<page>/ and is named after its step."""

from django.urls import URLPattern, URLResolver, include, path
from django.views.generic import RedirectView

urlpatterns: list[URLPattern | URLResolver] = [
    path("", include("groovewright.web.jobs.urls")),
    path("jobs/", include("groovewright.web.intake.urls")),
    path("jobs/<int:number>/choose/", include("groovewright.web.choose.urls")),
    path("jobs/<int:number>/plate/", include("groovewright.web.plates_page.urls")),
    path("jobs/<int:number>/bench/", include("groovewright.web.bench.urls")),
    path("jobs/<int:number>/captures/", include("groovewright.web.captures.urls")),
    # Pages of before, which live on in bookmarks: all of them are on the bench now.
    path("jobs/<int:number>/readings/", RedirectView.as_view(pattern_name="readings", permanent=True)),
    path("jobs/<int:number>/readings/scale-check/", RedirectView.as_view(pattern_name="scale-check", permanent=True)),
    path("jobs/<int:number>/verdicts/", RedirectView.as_view(pattern_name="bench", permanent=True)),
    path("jobs/<int:number>/report/", include("groovewright.web.report_page.urls")),
    path("jobs/<int:number>/attachments/", include("groovewright.web.attachments.urls")),
    path("decks/<int:deck>/visits/", include("groovewright.web.visits.urls")),
    path("gauges/", include("groovewright.web.gauges_page.urls")),
    path("workshop/", include("groovewright.web.workshop.urls")),
]
