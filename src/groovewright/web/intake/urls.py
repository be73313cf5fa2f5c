"""Addresses of taking in."""

from django.urls import path

from groovewright.web.intake import views

urlpatterns = [
    path("new/", views.new_job, name="new-job"),
    path("new/find/", views.find, name="find-owner-or-deck"),
    path("new/folds/", views.fold_words, name="fold-words"),
    path("new/rule/", views.rule_sentence, name="rule-sentence"),
    path("new/owner/<int:owner>/", views.new_job_of_owner, name="new-job-of-owner"),
    path("new/deck/<int:deck>/", views.new_job_of_deck, name="new-job-of-deck"),
    path("<int:number>/take-in/", views.take_in, name="take-in"),
]
