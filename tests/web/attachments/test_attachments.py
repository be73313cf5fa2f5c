import io

import pytest

from groovewright.jobbook import content_store
from groovewright.jobbook.models import Attachment
from groovewright.web.attachments import forms
from groovewright.web.attachments.file_types import media_type_of

ADDRESS = "/jobs/1/attachments/"
PNG = b"\x89PNG\r\n\x1a\n" + b"\0" * 40


def upload(name, content):
    file = io.BytesIO(content)
    file.name = name
    return {"file": file}


def test_a_photo_is_kept_by_its_hash_and_sent_as_a_download(client, bench):
    assert client.post(ADDRESS, upload("stylus <b>.png", PNG)).status_code == 302
    row = Attachment.objects.get()
    assert content_store.read(row.file_sha256) == PNG
    assert "stylus &lt;b&gt;.png" in client.get(ADDRESS).content.decode()
    answer = client.get(f"{ADDRESS}{row.pk}/")
    assert answer.content == PNG
    assert answer["Content-Type"] == "image/png"
    assert answer["X-Content-Type-Options"] == "nosniff"
    assert answer["Content-Disposition"].startswith("attachment;")
    assert "sandbox" in answer["Content-Security-Policy"]


@pytest.mark.parametrize(
    ("name", "content", "sentence"),
    [
        ("page.png", b"<html>\xff<script>", "none of the files a job keeps"),
        ("run.exe", b"MZ\x90\x00\x03", "none of the files a job keeps"),
        ("empty.png", b"", "The file is empty"),
        ("x" * 400 + ".svg", b"\x00\x01\x02", "none of the files a job keeps"),
    ],
)
def test_what_is_no_photo_or_file_of_a_job_is_refused(client, bench, name, content, sentence):
    answer = client.post(ADDRESS, upload(name, content))
    assert answer.status_code == 422
    assert sentence in answer.content.decode()
    assert not Attachment.objects.exists()


def test_a_file_that_is_too_large_is_refused_with_both_sizes(client, bench, monkeypatch):
    monkeypatch.setattr(forms, "LARGEST_BYTES", 1024**2)
    answer = client.post(ADDRESS, upload("long.png", PNG + b"\0" * 3 * 1024**2))
    assert answer.status_code == 422
    assert "long.png has 3 MB; a job keeps files of up to 1 MB" in answer.content.decode()


def test_no_file_is_refused(client, bench):
    answer = client.post(ADDRESS, {})
    assert answer.status_code == 422
    assert "Choose a file first" in answer.content.decode()


def test_markup_that_is_kept_as_text_is_sent_as_text(client, bench):
    client.post(ADDRESS, upload("notes.html", b"<script>alert(1)</script>"))
    answer = client.get(f"{ADDRESS}{Attachment.objects.get().pk}/")
    assert answer["Content-Type"] == "text/plain"
    assert answer["Content-Disposition"].startswith("attachment;")


@pytest.mark.parametrize(
    ("content", "media_type"),
    [
        (PNG, "image/png"),
        (b"\xff\xd8\xff\xe0", "image/jpeg"),
        (b"RIFF\x00\x00\x00\x00WEBPVP8 ", "image/webp"),
        (b"RIFF\x00\x00\x00\x00WAVEfmt ", "audio/wav"),
        (b"RF64\xff\xff\xff\xffWAVEds64", "audio/wav"),
        (b"RIFF\x00\x00\x00\x00AVI LIST", None),
        (b"fLaC\x00", "audio/flac"),
        ("Größe 2 g".encode(), "text/plain"),
        ("Größe".encode("latin-1"), None),
    ],
)
def test_the_kind_is_told_from_the_content(content, media_type):
    assert media_type_of(content) == media_type


@pytest.mark.parametrize("address", ["/jobs/99/attachments/", "/jobs/1/attachments/99/"])
def test_what_is_unknown_is_not_found(client, bench, address):
    assert client.get(address).status_code == 404


@pytest.mark.parametrize(("address", "method"), [("", "put"), ("1/", "post")])
def test_wrong_methods_are_refused(client, bench, address, method):
    assert getattr(client, method)(ADDRESS + address).status_code == 405
