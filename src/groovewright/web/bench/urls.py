"""Addresses of the bench of a job."""

from django.urls import path

from groovewright.web.bench import scale_check_views, views

urlpatterns = [
    path("", views.bench, name="bench"),
    path("readings/", views.readings, name="readings"),
    path("readings/preview/", views.preview, name="reading-preview"),
    path("moves/", views.move, name="bench-move"),
    path("faults/", views.fault, name="record-fault"),
    path("<str:what>s/<int:key>/withdraw/", views.withdraw, name="withdraw"),
    path("trace/", views.trace, name="bench-trace"),
    path("groove/", views.groove, name="bench-groove"),
    path("scale-check/", scale_check_views.check, name="scale-check"),
    path("scale-check/preview/", scale_check_views.preview_check, name="scale-check-preview"),
    path("scale-check/<int:check>/", scale_check_views.correct_check, name="correct-scale-check"),
]
