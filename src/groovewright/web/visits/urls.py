"""Addresses of a deck's visits."""

from django.urls import path

from groovewright.web.visits import views

urlpatterns = [path("", views.visits, name="visits")]
