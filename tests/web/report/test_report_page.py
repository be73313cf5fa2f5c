import datetime
import io
import re
from html import unescape

import pytest
from django.utils import timezone
from pdfminer.high_level import extract_text

from groovewright.jobbook import content_store, entries
from groovewright.jobbook.job_record import job_record
from groovewright.jobbook.job_states import job_state
from groovewright.jobbook.models import IssuedReport, Letterhead

ISSUE = {
    "workshop": "Bench & Sons",
    "done": "Cleaned the stylus.\n\nLevelled the plinth.",
    "parts_fitted": "Belt, 590 mm",
    "time_spent": "2 h 30 min",
    "come_back_hours": "500",
    "come_back_on": "2032-05-04",
    "part": "both",
    "paper": "a4",
}


def picture(colour="#88a0a8"):
    from PIL import Image

    out = io.BytesIO()
    Image.new("RGB", (120, 90), colour).save(out, "JPEG")
    return out.getvalue()


def words_of(content):
    return " ".join(extract_text(io.BytesIO(content)).split())


def test_the_page_says_what_it_will_say_and_what_is_missing(client, bench):
    page = client.get("/jobs/1/report/").content.decode()
    for words in ("Effective length", "What it will say is missing", "Not decided, and why", "Rule of thumb"):
        assert words in page
    state = job_state(job_record(bench.job))
    told = re.findall(r'data-stage="(As \w+)"><strong>([^<]*)', page)
    assert len(told) == 14
    for stage, deck in (("As found", state.as_found), ("As left", state.as_left)):
        values = [unescape(value) for when, value in told if when == stage]
        assert [value == "not read" for value in values] == [one.quantity is None for one in deck.settings]


def test_an_issued_report_is_kept_by_its_hash_and_sent_as_it_was_issued(client, bench):
    assert client.post("/jobs/1/report/", ISSUE).status_code == 302
    row = IssuedReport.objects.get()
    assert row.number == "1-R1"
    answer = client.get("/jobs/1/report/1-R1/")
    assert answer.content == content_store.read(row.file_sha256)
    assert answer["Content-Disposition"] == 'attachment; filename="report-1-R1.pdf"'
    text = words_of(answer.content)
    for words in ("Bench & Sons", "Levelled the plinth.", "Ilse Marwitz", "1-R1", "Belt, 590 mm", "2 h 30 min"):
        assert words in text
    assert "Come back after 500 more hours of playing (the stylus will then have played 620 hours) or by" in text
    assert row.assessment["settings"] == job_state(job_record(bench.job)).settings_json()
    assert row.assessment["words"]["parts_fitted"] == ["Belt, 590 mm"]


def test_the_name_that_was_typed_becomes_the_letterhead(client, bench):
    assert 'name="workshop"' in client.get("/jobs/1/report/").content.decode()
    client.post("/jobs/1/report/", ISSUE)
    assert Letterhead.objects.get().name == "Bench & Sons"
    page = client.get("/jobs/1/report/").content.decode()
    assert 'name="workshop"' not in page
    assert "Bench &amp; Sons" in page
    assert "Report 1-R1" in page


def test_the_next_report_begins_with_what_the_last_one_said(client, bench):
    page = client.get("/jobs/1/report/").content.decode()
    assert 'value="500"' in page
    assert f'value="{timezone.localdate() + datetime.timedelta(days=365)}"' in page
    client.post("/jobs/1/report/", ISSUE | {"come_back_hours": "300"})
    page = client.get("/jobs/1/report/").content.decode()
    for words in ('value="300"', 'value="2032-05-04"', "Levelled the plinth.", "Belt, 590 mm", 'value="2 h 30 min"'):
        assert words in page


def test_nothing_has_to_be_said_of_coming_back(client, bench):
    client.post("/jobs/1/report/", ISSUE | {"come_back_hours": "", "come_back_on": ""})
    assert "When to come back" not in words_of(client.get("/jobs/1/report/1-R1/").content)


@pytest.mark.parametrize(
    ("part", "customer", "technical"),
    [("both", True, True), ("customer", True, False), ("technical", False, True)],
)
def test_each_part_is_previewed_and_issued(client, bench, part, customer, technical):
    looked_at = client.post("/jobs/1/report/preview/", ISSUE | {"part": part})
    assert looked_at["Content-Type"] == "application/pdf"
    assert not IssuedReport.objects.exists()
    assert not Letterhead.objects.exists()
    client.post("/jobs/1/report/", ISSUE | {"part": part})
    for text in map(words_of, (looked_at.content, client.get("/jobs/1/report/1-R1/").content)):
        assert ("What it means to the ear" in text) is customer
        assert ("Technical part" in text) is technical
        assert "Bench & Sons" in text


def test_a_preview_that_is_asked_for_by_its_address_enters_nothing(client, bench):
    assert client.get("/jobs/1/report/preview/").content.startswith(b"%PDF-")
    assert not IssuedReport.objects.exists()


def test_photos_of_the_job_are_chosen_with_a_caption(client, bench):
    kept = [
        entries.attach_file(bench.job, name=f"p{k}.jpg", media_type="image/jpeg", content=picture(f"#8{k}a0a8"))
        for k in range(2)
    ]
    entries.attach_file(bench.job, name="note.txt", media_type="text/plain", content=b"a note")
    page = client.get("/jobs/1/report/").content.decode()
    assert page.count('name="photo-') == 2
    chosen = {f"photo-{kept[1].pk}": "on", f"caption-{kept[1].pk}": "The stylus, cleaned"}
    client.post("/jobs/1/report/", ISSUE | chosen)
    assert "The stylus, cleaned" in words_of(client.get("/jobs/1/report/1-R1/").content)
    assert IssuedReport.objects.get().assessment["words"]["photos"] == {str(kept[1].uid): "The stylus, cleaned"}
    assert 'value="The stylus, cleaned"' in client.get("/jobs/1/report/").content.decode()


def test_more_photos_than_fit_are_refused(client, bench):
    rows = [
        entries.attach_file(bench.job, name="p.jpg", media_type="image/jpeg", content=picture(f"#{k}0a0a8"))
        for k in range(7)
    ]
    answer = client.post("/jobs/1/report/", ISSUE | {f"photo-{row.pk}": "on" for row in rows})
    assert answer.status_code == 422
    assert "has room for 6" in answer.content.decode()


def test_a_photo_that_cannot_be_read_is_said_so(client, bench):
    row = entries.attach_file(bench.job, name="torn.jpg", media_type="image/jpeg", content=picture()[:200])
    answer = client.post("/jobs/1/report/", ISSUE | {f"photo-{row.pk}": "on"})
    assert answer.status_code == 422
    assert "torn.jpg cannot be read as a picture" in answer.content.decode()
    content_store.path_of(row.file_sha256).write_bytes(b"something else")
    answer = client.post("/jobs/1/report/", ISSUE | {f"photo-{row.pk}": "on"})
    assert "bring it back from a backup" in answer.content.decode()


def test_a_character_that_no_font_holds_is_named_before_issuing(client, fill_book, db):
    fill_book("Ada \U0001e900")
    sentence = "The owner&#x27;s name holds “\U0001e900” (U+1E900, adlam capital letter alif)"
    assert sentence in client.get("/jobs/1/report/").content.decode()
    answer = client.post("/jobs/1/report/", ISSUE)
    assert answer.status_code == 422
    assert sentence in answer.content.decode()
    assert not IssuedReport.objects.exists()
    assert client.post("/jobs/1/report/", ISSUE | {"print_codes": "on"}).status_code == 302
    assert "Ada ‹U+1E900›" in words_of(client.get("/jobs/1/report/1-R1/").content)


@pytest.mark.parametrize("name", ["محمد عبد الله", "שלומית", "山田 花子", "Ольга"])
def test_a_name_in_another_script_is_issued_without_a_word(client, fill_book, db, name):
    fill_book(name)
    assert client.post("/jobs/1/report/", ISSUE).status_code == 302
    plates = client.get("/jobs/1/plate/")
    assert plates.status_code == 200


@pytest.mark.parametrize(
    ("change", "sentence"),
    [
        ({"workshop": "  "}, "type the name of the workshop"),
        ({"paper": "foolscap"}, "Select a valid choice"),
        ({"part": "half"}, "Select a valid choice"),
        ({"done": "x" * 5000}, "at most 4000 characters"),
        ({"come_back_hours": "some"}, "Type whole hours, for example 500."),
        ({"come_back_on": "next year"}, "Type a day as year-month-day"),
    ],
)
@pytest.mark.parametrize("address", ["/jobs/1/report/", "/jobs/1/report/preview/"])
def test_a_wrong_entry_is_kept_and_nothing_is_issued(client, bench, change, sentence, address):
    answer = client.post(address, ISSUE | change)
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


@pytest.mark.parametrize(("address", "method"), [("", "put"), ("preview/", "put"), ("1-R1/", "post")])
def test_wrong_methods_are_refused(client, bench, address, method):
    assert getattr(client, method)(f"/jobs/1/report/{address}").status_code == 405


@pytest.mark.browser
def test_a_report_is_looked_at_and_issued_in_the_browser(page, fill_book):
    bench = fill_book()
    entries.attach_file(bench.job, name="stylus.jpg", media_type="image/jpeg", content=picture())
    page.goto("/jobs/1/report/")
    page.get_by_label("Name of the workshop").fill("Bench & Sons")
    page.get_by_label("What was done besides").fill("Cleaned the stylus.")
    page.get_by_label("stylus.jpg", exact=True).check()
    page.get_by_label("Caption of stylus.jpg").fill("The stylus, cleaned")
    page.get_by_label("Print", exact=True).select_option("customer")
    # The tab that opens shows the PDF in the browser's own viewer; it is fetched here the way the button sends it.
    button = page.get_by_role("button", name="Look at it first")
    assert button.get_attribute("formtarget") == "_blank"
    kind = button.evaluate(
        """async (button) => {
            const form = new FormData(button.form, button);
            const answer = await fetch(button.formAction, {method: "POST", body: form});
            return answer.headers.get("Content-Type");
        }"""
    )
    assert kind == "application/pdf"
    button.evaluate("(button) => { button.form.addEventListener('submit', (e) => e.preventDefault(), {once: true}); }")
    button.click()
    assert not IssuedReport.objects.exists()
    page.get_by_role("button", name="Issue the report").click()
    with page.expect_download() as download:
        page.get_by_role("link", name="PDF").click()
    text = words_of(download.value.path().read_bytes())
    assert "The stylus, cleaned" in text
    assert "Technical part" not in text
    assert page.get_by_label("Caption of stylus.jpg").input_value() == "The stylus, cleaned"
