"""A disk that takes no more: the page says so in the frame of all pages, and what was typed can be sent again."""

import io

import pytest

from groovewright.jobbook.not_written import NotWritten

SENTENCE = "Nothing of this entry was written: database or disk is full. All that was entered before is safe."


@pytest.fixture
def full_disk(monkeypatch):
    def refuse(*args, **facts):
        raise NotWritten(SENTENCE)

    monkeypatch.setattr("groovewright.web.bench.views.record_fault", refuse)
    monkeypatch.setattr("groovewright.web.attachments.views.attach_file", refuse)
    monkeypatch.setattr("groovewright.web.bench.views.record_readings", refuse)


def test_the_page_says_what_is_safe_and_what_to_do_and_sends_the_same_again(client, bench, full_disk):
    answer = client.post("/jobs/1/bench/faults/", {"text": "Bearing <worn>", "found": "as found"})
    page = answer.content.decode()
    assert answer.status_code == 507
    assert "<h1>This entry was not written</h1>" in page
    assert SENTENCE in page
    assert "Make room on the disk" in page
    assert 'action="/jobs/1/bench/faults/"' in page
    assert "Bearing &lt;worn&gt;</textarea>" in page
    assert "Send the entry again" in page


def test_a_file_cannot_be_sent_again_and_the_page_says_so(client, bench, full_disk):
    photo = io.BytesIO(b"\x89PNG\r\n\x1a\n" + bytes(64))
    photo.name = "stylus.png"
    answer = client.post("/jobs/1/attachments/", {"file": photo})
    assert answer.status_code == 507
    assert "choose stylus.png again" in answer.content.decode()
    assert "Send the entry again" not in answer.content.decode()


def test_a_part_of_a_page_gets_the_sentence_alone(client, bench, full_disk):
    entry = {"kind": "overhang", "stage": "as left", "entry": "17.3 mm"}
    answer = client.post("/jobs/1/bench/readings/", entry, headers={"HX-Request": "true"})
    assert answer.status_code == 507
    assert answer.content.decode() == SENTENCE


@pytest.mark.browser
@pytest.mark.django_db(transaction=True)
def test_in_the_browser_the_entry_stays_and_is_sent_again(page, fill_book, full_disk, monkeypatch):
    number = fill_book().job.number
    page.goto(f"/jobs/{number}/bench/#faults")
    page.get_by_label("Fault").first.fill("Worn bearing\nand a loose plug")
    page.get_by_role("button", name="Record the fault").click()
    page.get_by_role("heading", name="This entry was not written").wait_for()
    monkeypatch.undo()
    page.get_by_role("button", name="Send the entry again").click()
    page.wait_for_url(f"**/jobs/{number}/bench/#faults")
    assert page.get_by_text("and a loose plug").is_visible()
