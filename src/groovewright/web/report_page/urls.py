"""Addresses of the report page."""

from django.urls import path

from groovewright.web.report_page import views

urlpatterns = [
    path("", views.report, name="report"),
    path("preview/", views.preview, name="report-preview"),
    path("<str:report>/", views.download, name="report-download"),
]
