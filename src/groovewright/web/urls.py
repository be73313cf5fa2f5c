"""Addresses: one include per page folder. A job page lives under /jobs/<number>/<page>/ and is named after its step."""

from django.urls import URLPattern, URLResolver, include, path

urlpatterns: list[URLPattern | URLResolver] = [
    path("jobs/<int:number>/choose/", include("groovewright.web.choose.urls")),
    path("jobs/<int:number>/plate/", include("groovewright.web.plates_page.urls")),
]
