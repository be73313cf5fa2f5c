import io
import re
import zipfile

import pytest

from groovewright.demo.book import make_demo_workshop
from groovewright.jobbook import entries
from groovewright.jobbook.job_archive import export_jobs
from groovewright.jobbook.job_list import listed_states
from groovewright.jobbook.job_states import job_state, steps_of
from groovewright.jobbook.models import Job
from groovewright.jobbook.queries import job_record
from groovewright.web.report_page.issuing import issue


def test_the_list_shows_each_job_with_what_is_next(client, bench):
    text = client.get("/").content.decode()
    assert "Belt drive, walnut plinth" in text
    assert "Ilse Marwitz" in text
    assert re.search(r'class="next-words">Bench</span>.*As left: ', text)


def first_step(job):
    steps = steps_of(job_record(job))
    return next((step for step in steps if step.state != "done"), steps[-1])


def test_the_list_names_the_step_and_the_verdicts_that_the_pages_of_each_job_name(client, transactional_db):
    make_demo_workshop()
    text = client.get("/", {"states": "all"}).content.decode()
    lines = dict(re.findall(r'<span class="no">(\d+)</span>(.*?)</li>', text, re.S))
    assert len(lines) >= 6
    for job in Job.objects.all():
        line, step = lines[str(job.number)], first_step(job)
        assert f'class="next-words">{"Handed over" if step.state == "done" else step.title}' in line
        told = re.findall(r'class="unseen">([^<]*): ([^<]*)\. <', line)
        if job_record(job).choice is not None:
            assert [outcome for _, outcome in told] == [one.outcome for one in job_state(job_record(job)).now.settings]


def test_what_is_not_worked_out_yet_is_asked_for_again(client, bench, monkeypatch):
    monkeypatch.setattr("groovewright.web.jobs.next_step.TIME_FOR_STATES_S", -1.0)
    text = client.get("/").content.decode()
    assert "working out" in text
    assert "states=all" in text
    text = client.get("/", {"states": "all"}).content.decode()
    assert "working out" not in text
    assert "Effective length: " in text


def test_a_job_that_was_handed_over_is_over_until_something_is_entered(client, bench):
    def line():
        return listed_states([bench.job], time_s=None)[bench.job.pk].step

    assert line().key == first_step(bench.job).key != "report"
    issue(bench.job, workshop="Bench")
    assert (line().key, line().state) == ("report", "done")
    assert "Handed over" in client.get("/").content.decode()
    entries.record_fault(bench.job, text="Worn bearing", found="as left")
    assert line().key == first_step(bench.job).key
    assert line().state != "done"


def test_an_empty_book_says_how_to_begin(client, db):
    text = client.get("/").content.decode()
    assert "No job yet" in text
    assert "/jobs/new/" in text


@pytest.mark.parametrize("words", ["walnut", "ilse", "harsh", "1", "ILSE plinth"])
def test_search_finds_by_deck_owner_complaint_and_number(client, bench, words):
    assert "walnut plinth" in client.get("/", {"search": words}).content.decode()


def test_search_that_finds_nothing_says_so(client, bench):
    assert "Nothing found" in client.get("/", {"search": "granite"}).content.decode()


def test_a_page_that_is_no_number_is_refused_in_a_sentence(client, bench):
    answer = client.get("/", {"page": "second"})
    assert answer.status_code == 422
    assert "Enter a whole number" in answer.content.decode()


def test_a_page_beyond_the_last_is_the_last(client, bench):
    assert "walnut plinth" in client.get("/", {"page": "999"}).content.decode()


def test_while_typing_only_the_lines_come_back(client, bench):
    text = client.get("/", {"search": "walnut"}, headers={"HX-Request": "true"}).content.decode()
    assert "walnut plinth" in text
    assert "<html" not in text


def test_the_list_costs_few_queries_however_many_jobs(client, bench, django_assert_max_num_queries, monkeypatch):
    for k in range(30):
        deck = entries.add_deck(bench.owner, description=f"Deck {k}")
        entries.open_job(deck, opened=bench.job.opened)
    # Where every state is worked out, all rows are read at once; in a short time, those of five jobs at a time.
    for address, most in (("/", 60), ("/?states=1", 24)):
        monkeypatch.setattr("groovewright.jobbook.job_list._remembered", {})
        with django_assert_max_num_queries(most):
            text = client.get(address).content.decode()
        assert "page 1 of 2" in text


def test_a_job_opens_at_the_step_that_comes_first(client, bench):
    assert client.get(f"/jobs/{bench.job.number}/")["Location"] == f"/jobs/{bench.job.number}/bench/"


def test_the_owners_name_is_text_and_never_markup(client, db, fill_book):
    fill_book(owner_name="<script>alert(1)</script>")
    text = client.get("/").content.decode()
    assert "<script>alert" not in text
    assert "&lt;script&gt;alert(1)&lt;/script&gt;" in text


def test_an_archive_goes_out_without_the_name_unless_asked(client, bench):
    def record(answer):
        with zipfile.ZipFile(io.BytesIO(answer.content)) as package:
            return b"".join(package.read(name) for name in package.namelist()).decode(errors="replace")

    plain = client.get(f"/jobs/{bench.job.number}/archive/")
    assert plain["Content-Disposition"] == f'attachment; filename="job-{bench.job.number}.zip"'
    assert "Ilse Marwitz" not in record(plain)
    assert "Ilse Marwitz" in record(client.get(f"/jobs/{bench.job.number}/archive/", {"owner": "1"}))


def test_an_archive_of_a_job_that_is_here_is_recognised(client, bench):
    archive = io.BytesIO(export_jobs([bench.job]))
    answer = client.post("/jobs/bring-in/", {"archive": archive})
    assert answer.status_code == 200
    assert "was here already" in answer.content.decode()


@pytest.mark.parametrize("content", [b"", b"PK\x03\x04 cut off", b"<html>not an archive</html>", b"\0" * 5000])
def test_a_broken_archive_is_refused_in_one_sentence(client, db, content):
    answer = client.post("/jobs/bring-in/", {"archive": io.BytesIO(content)})
    assert answer.status_code == 422
    assert answer.content.decode().count('class="wrong"') == 1


def test_no_archive_at_all_is_refused(client, db):
    answer = client.post("/jobs/bring-in/")
    assert answer.status_code == 422
    assert "Choose an archive first" in answer.content.decode()


@pytest.mark.parametrize("address", ["/jobs/99/", "/jobs/99/archive/"])
def test_an_unknown_job_says_what_to_do(client, bench, address):
    answer = client.get(address)
    assert answer.status_code == 404
    assert "To the list of jobs" in answer.content.decode()


@pytest.mark.parametrize("address", ["/", "/jobs/1/", "/jobs/1/archive/"])
def test_reading_pages_take_no_post(client, bench, address):
    assert client.post(address).status_code == 405


def test_bringing_in_takes_no_put(client, db):
    assert client.put("/jobs/bring-in/").status_code == 405
