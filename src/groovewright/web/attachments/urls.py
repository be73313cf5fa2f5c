"""Addresses of photos and files."""

from django.urls import path

from groovewright.web.attachments import views

urlpatterns = [
    path("", views.attachments, name="attachments"),
    path("<int:attachment>/", views.download, name="attachment"),
]
