"""Addresses of the gauges' page."""

from django.urls import path

from groovewright.web.gauges_page import views

urlpatterns = [
    path("compare/", views.compare, name="gauge-comparison"),
    path("compare/preview/", views.preview, name="gauge-comparison-preview"),
    path("compare/<slug:key>.toml", views.sheet, name="gauge-sheet"),
]
