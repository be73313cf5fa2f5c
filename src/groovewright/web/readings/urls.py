"""Addresses of the readings page."""

from django.urls import path

from groovewright.web.readings import check_views, views

urlpatterns = [
    path("", views.readings, name="readings"),
    path("preview/", views.preview, name="reading-preview"),
    path("<int:reading>/correct/", views.correct, name="correct-reading"),
    path("<int:reading>/withdraw/", views.withdraw, name="withdraw-reading"),
    path("scale-check/", check_views.check, name="scale-check"),
    path("scale-check/preview/", check_views.preview_check, name="scale-check-preview"),
    path("scale-check/<int:check>/", check_views.correct_check, name="correct-scale-check"),
]
