"""Addresses of the list of jobs and of archives."""

from django.urls import path

from groovewright.web.jobs import views

urlpatterns = [
    path("", views.job_list, name="job-list"),
    path("jobs/bring-in/", views.bring_in, name="job-import"),
    path("jobs/<int:number>/", views.job, name="job"),
    path("jobs/<int:number>/archive/", views.archive, name="job-export"),
]
