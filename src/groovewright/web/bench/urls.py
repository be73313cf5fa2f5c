"""Addresses of the bench page of a job."""

from django.urls import path

from groovewright.web.bench import views

urlpatterns = [
    path("", views.bench, name="bench"),
    path("readings/", views.read, name="bench-read"),
    path("readings/<int:reading>/correct/", views.correct, name="bench-correct"),
    path("trace/", views.trace, name="bench-trace"),
    path("moves/", views.move, name="bench-move"),
    path("moves/<int:move>/withdraw/", views.withdraw, name="bench-withdraw-move"),
]
