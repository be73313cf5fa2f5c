"""Addresses of the verdicts page."""

from django.urls import path

from groovewright.web.verdicts import views

urlpatterns = [
    path("", views.verdicts, name="verdicts"),
    path("fault/", views.fault, name="record-fault"),
    path("fault/<int:fault>/withdraw/", views.withdraw, name="withdraw-fault"),
]
