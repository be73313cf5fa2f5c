"""Recordings that come in pieces: bounded, in order, and never in memory as a whole."""

import os

import pytest
from django.urls import reverse

from groovewright.web.captures import uploads

BEGIN = "/jobs/1/captures/uploads/"


@pytest.fixture(autouse=True)
def _own_folder(settings, tmp_path):
    settings.CONTENT_DIR = tmp_path


def put(client, upload, start, content):
    address = reverse("capture-upload", args=(1, upload)) + f"?start={start}"
    return client.put(address, content, content_type="application/octet-stream")


def test_pieces_are_added_in_order_and_a_piece_sent_twice_counts_once(client, bench):
    began = client.post(BEGIN, {"name": "side a.wav", "size": "10"}).json()
    assert put(client, began["upload"], 0, b"01234").json() == {"size": 5}
    assert put(client, began["upload"], 0, b"01234").json() == {"size": 5}
    assert put(client, began["upload"], 5, b"56789").json() == {"size": 10}
    assert uploads.draft_of(began["upload"]).read_bytes() == b"0123456789"


def test_a_recording_beyond_the_limit_is_refused_before_and_while_it_comes(client, bench, settings):
    settings.LARGEST_RECORDING_BYTES = 1024**2
    answer = client.post(BEGIN, {"name": "both sides.wav", "size": str(3 * 1024**2)})
    assert answer.status_code == 422
    assert answer.content.decode().startswith("both sides.wav has 3 MB; a recording may have up to 1 MB.")
    upload = client.post(BEGIN, {"name": "side a.wav", "size": "100"}).json()["upload"]
    answer = put(client, upload, 0, b"\0" * (1024**2 + 1))
    assert answer.status_code == 422
    assert "longer than 1 MB" in answer.content.decode()


@pytest.mark.parametrize("size", ["", "many", "-1", "0", "1" * 30])
def test_a_size_that_is_none_is_refused(client, bench, size):
    assert client.post(BEGIN, {"name": "a.wav", "size": size}).status_code == 422


@pytest.mark.parametrize("upload", ["0" * 32, "..", "secret-key"])
def test_pieces_of_an_unknown_upload_are_refused(client, bench, upload):
    address = f"{BEGIN}{upload}/?start=0"
    assert client.put(address, b"1", content_type="application/octet-stream").status_code in (404, 422)


def test_a_place_that_is_none_is_refused(client, bench):
    upload = client.post(BEGIN, {"name": "a.wav", "size": "4"}).json()["upload"]
    assert put(client, upload, "x", b"1").status_code == 422


def test_wrong_methods_and_unknown_jobs_are_refused(client, bench):
    assert client.get(BEGIN).status_code == 405
    assert client.post(f"{BEGIN}{'0' * 32}/").status_code == 405
    assert client.post("/jobs/99/captures/uploads/", {"size": "1"}).status_code == 404
    assert client.put(f"/jobs/99/captures/uploads/{'0' * 32}/?start=0").status_code == 404


def test_a_full_disk_is_told_before_anything_is_sent(client, bench, monkeypatch):
    monkeypatch.setattr(uploads.shutil, "disk_usage", lambda folder: _Full)
    answer = client.post(BEGIN, {"name": "side a.wav", "size": "5000000"})
    assert answer.status_code == 422
    assert "The disk has no room for the 4.8 MB of side a.wav" in answer.content.decode()


class _Full:
    free = 1000


def test_uploads_that_nobody_came_back_for_are_removed(client, bench):
    forgotten = client.post(BEGIN, {"name": "a.wav", "size": "4"}).json()["upload"]
    os.utime(uploads.draft_of(forgotten), (0, 0))
    client.post(BEGIN, {"name": "b.wav", "size": "4"})
    assert uploads.draft_of(forgotten) is None
