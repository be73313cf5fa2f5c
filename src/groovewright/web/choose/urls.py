"""Addresses of the choose page."""

from django.urls import path

from groovewright.web.choose import views

urlpatterns = [
    path("", views.choose, name="choose"),
    path("preview/", views.preview, name="choose-preview"),
]
