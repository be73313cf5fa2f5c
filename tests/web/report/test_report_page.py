import io

import pytest
from groovewright.bench.assessment import assess
from pdfminer.high_level import extract_text

from groovewright.jobbook import content_store
from groovewright.jobbook.models import IssuedReport

ISSUE = {"workshop": "Bench & Sons", "done": "Cleaned the stylus.\n\nLevelled the plinth.", "paper": "a4"}


def test_the_page_says_what_will_stand_in_it_and_what_is_missing(client, bench):
    page = client.get("/jobs/1/report/").content.decode()
    for words in ("Effective length error", "out of tolerance", "What it will say is missing", "not measured"):
        assert words in page


def test_an_issued_report_is_kept_by_its_hash_and_sent_as_it_was_issued(client, bench):
    assert client.post("/jobs/1/report/", ISSUE).status_code == 302
    row = IssuedReport.objects.get()
    assert row.number == "1-R1"
    answer = client.get("/jobs/1/report/1-R1/")
    assert answer.content == content_store.read(row.file_sha256)
    assert answer["Content-Disposition"] == 'attachment; filename="report-1-R1.pdf"'
    text = extract_text(io.BytesIO(answer.content))
    for words in ("Bench & Sons", "Levelled the plinth.", "Ilse Marwitz", "1-R1"):
        assert words in text
    assert row.assessment["verdicts"][0]["outcome"] == "out of tolerance"
    page = client.get("/jobs/1/report/").content.decode()
    assert "Report 1-R1" in page
    assert 'value="Bench &amp; Sons"' in page


@pytest.mark.parametrize(
    "send", [lambda client: client.get("/jobs/1/report/"), lambda client: client.post("/jobs/1/report/", ISSUE)]
)
def test_page_and_issue_assess_the_job_once(client, bench, send, monkeypatch):
    calls = []

    def counted(inputs):
        calls.append(inputs)
        return assess(inputs)

    for place in ("bench.assessment", "web.report_page.views"):
        monkeypatch.setattr(f"groovewright.{place}.assess", counted)
    send(client)
    assert len(calls) == 1


def test_a_preview_is_a_pdf_and_enters_nothing(client, bench):
    answer = client.get("/jobs/1/report/preview/")
    assert answer.content.startswith(b"%PDF-")
    assert not IssuedReport.objects.exists()


@pytest.mark.parametrize(
    ("change", "sentence"),
    [
        ({"workshop": "  "}, "type the name of the workshop"),
        ({"paper": "foolscap"}, "Select a valid choice"),
        ({"done": "x" * 5000}, "at most 4000 characters"),
    ],
)
def test_a_wrong_entry_is_kept_and_nothing_is_issued(client, bench, change, sentence):
    answer = client.post("/jobs/1/report/", ISSUE | change)
    page = answer.content.decode()
    assert answer.status_code == 422
    assert sentence in page
    assert "done" in change or "Levelled the plinth." in page
    assert not IssuedReport.objects.exists()


def test_a_damaged_report_is_said_so_and_not_sent(client, bench):
    client.post("/jobs/1/report/", ISSUE)
    content_store.path_of(IssuedReport.objects.get().file_sha256).write_bytes(b"%PDF-1.7 something else")
    answer = client.get("/jobs/1/report/1-R1/")
    assert answer.status_code == 410
    assert "bring it back from a backup" in answer.content.decode()


@pytest.mark.parametrize("address", ["/jobs/99/report/", "/jobs/99/report/preview/", "/jobs/1/report/1-R9/"])
def test_what_is_unknown_is_not_found(client, bench, address):
    assert client.get(address).status_code == 404


@pytest.mark.parametrize(("address", "method"), [("", "put"), ("preview/", "post"), ("1-R1/", "post")])
def test_wrong_methods_are_refused(client, bench, address, method):
    assert getattr(client, method)(f"/jobs/1/report/{address}").status_code == 405
