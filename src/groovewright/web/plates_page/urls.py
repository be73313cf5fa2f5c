"""Addresses of the plate page."""

from django.urls import path

from groovewright.web.plates_page import views

urlpatterns = [
    path("", views.plate, name="plate"),
    path("preview/", views.preview, name="plate-preview"),
    path("issued/<str:plate_number>/print-check/", views.print_check, name="plate-print-check"),
    path("issued/<str:plate_number>/print-check/preview/", views.print_check_preview, name="plate-print-check-preview"),
    path("issued/<str:plate_number>/<str:form>/", views.download, name="plate-download"),
]
