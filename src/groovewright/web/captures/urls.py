"""Addresses of the captures of a job."""

from django.urls import path

from groovewright.web.captures import upload_views, views

urlpatterns = [
    path("", views.captures, name="captures"),
    path("uploads/", upload_views.begin, name="capture-upload-begin"),
    path("uploads/<str:upload>/", upload_views.add, name="capture-upload"),
    path("<int:capture>/", views.capture_page, name="capture"),
    path("<int:capture>/sheets/<int:sheet>/", views.earlier, name="capture-earlier"),
    path("<int:capture>/sheets/<int:sheet>/progress/", views.progress, name="capture-progress"),
    path("<int:capture>/stop/", views.stop, name="capture-stop"),
    path("<int:capture>/run/", views.run, name="capture-run"),
    path("<int:capture>/bands/", views.move_bands, name="capture-bands"),
    path("<int:capture>/enter/", views.enter, name="capture-enter"),
]
