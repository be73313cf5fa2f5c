"""Addresses of the workshop."""

from django.urls import path

from groovewright.web.workshop import views

urlpatterns = [
    path("", views.workshop, name="workshop"),
    path("letterhead/", views.letterhead, name="letterhead"),
    path("letterhead/logo/", views.logo, name="logo"),
    path("scales/new/", views.new_scale, name="new-scale"),
    path("scales/<int:key>/", views.scale, name="scale"),
    path("gauges/new/", views.new_gauge, name="new-gauge"),
    path("gauges/<int:key>/", views.gauge, name="gauge"),
    path("owners/<int:number>/", views.owner, name="owner"),
    path("owners/<int:number>/delete-details/", views.erase, name="erase-owner"),
]
