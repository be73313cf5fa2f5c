import pytest
from django.test import Client

from groovewright.web.jobs import views


def test_an_unknown_address_says_what_to_do(client, db):
    answer = client.get("/jobs/one/")
    assert answer.status_code == 404
    assert "There is nothing at this address" in answer.content.decode()


def test_a_request_from_elsewhere_is_not_carried_out(bench):
    answer = Client(enforce_csrf_checks=True).post("/jobs/1/bench/readings/", {"entry": "1.85 g"})
    assert answer.status_code == 403
    assert "Nothing was entered" in answer.content.decode()
    assert bench.job.readings.count() == len(bench.readings)


def test_a_foreign_host_is_not_listened_to(client, db):
    answer = client.get("/", headers={"Host": "127.0.0.1.elsewhere.example"})
    assert answer.status_code == 400
    assert "elsewhere" not in answer.content.decode()


def test_far_too_many_fields_are_refused(client, bench):
    answer = client.post("/jobs/1/bench/readings/", {f"field{k}": "x" for k in range(600)})
    assert answer.status_code == 400
    assert "Nothing was entered" in answer.content.decode()


def test_an_entry_of_megabytes_is_refused(client, bench):
    answer = client.post("/jobs/1/bench/readings/", {"entry": "9" * 3 * 1024**2})
    assert answer.status_code == 400


@pytest.mark.django_db
def test_a_fault_of_the_program_shows_no_traceback(monkeypatch):
    def fail(*args, **options):
        raise ZeroDivisionError("secret detail")

    monkeypatch.setattr(views, "job_page", fail)
    answer = Client(raise_request_exception=False).get("/")
    page = answer.content.decode()
    assert answer.status_code == 500
    assert "what you typed is still in the form" in page
    assert "secret detail" not in page
    assert "Traceback" not in page
