"""Pages for what cannot be shown: they stay in the workshop's own frame and say what to do."""

from django.template.loader import render_to_string
from django.test import Client


def test_an_unknown_address_leads_back_to_the_jobs(client, db):
    answer = client.get("/nothing/here/")
    assert answer.status_code == 404
    assert "There is nothing at this address" in answer.content.decode()
    assert "To the list of jobs" in answer.content.decode()


def test_a_form_from_another_site_is_not_taken(db):
    answer = Client(enforce_csrf_checks=True).post("/jobs/1/choose/", {})
    assert answer.status_code == 403
    assert "This was not carried out" in answer.content.decode()


def test_the_page_of_a_fault_needs_nothing_from_the_request():
    assert "All that was entered before is safe" in render_to_string("500.html")
