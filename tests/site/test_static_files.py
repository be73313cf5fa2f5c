"""Static files are kept by the browser under the hash of them all, and sent compressed."""

import errno
import gzip
import re
import shutil
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest
from django.conf import settings
from django.templatetags.static import static

import groovewright.web
from groovewright.site import static_files
from groovewright.site.static_files import HashedStaticFiles, compressed_copy, static_hash

CHARTS = Path(groovewright.web.__file__).parent / "frame/static/frame/charts.js"


def content(answer):
    return b"".join(answer.streaming_content)


def test_every_static_address_of_a_page_holds_the_hash(client, db):
    page = client.get("/").content.decode()
    addresses = re.findall(r'(?:src|href)="(/static/[^"]+)"', page)
    assert len(addresses) >= 6
    assert {address.split("/")[2] for address in addresses} == {static_hash()}


def test_a_file_is_kept_for_good_and_comes_compressed_to_who_takes_that(client, db):
    plain, zipped = (
        client.get(static("frame/charts.js"), headers={"Accept-Encoding": accepted}) for accepted in ("", "gzip, br")
    )
    for answer in (plain, zipped):
        assert answer["Cache-Control"] == "max-age=315360000, public, immutable"
        assert answer["Vary"] == "Accept-Encoding"
        assert answer["Content-Type"].startswith("text/javascript")
    assert "Content-Encoding" not in plain
    assert zipped["Content-Encoding"] == "gzip"
    assert int(zipped["Content-Length"]) < int(plain["Content-Length"]) / 2
    assert gzip.decompress(content(zipped)) == content(plain) == CHARTS.read_bytes()


def test_there_is_nothing_without_the_hash_or_under_another(client, db):
    for address in ("/static/frame/charts.js", "/static/0123456789ab/frame/charts.js"):
        assert client.get(address).status_code == 404


def test_the_hash_changes_with_a_file_its_name_and_a_package(tmp_path, monkeypatch):
    web = tmp_path / "web"
    shutil.copytree(Path(groovewright.web.__file__).parent, web)
    monkeypatch.setattr(groovewright.web, "__file__", str(web / "__init__.py"))
    seen = [static_hash()]
    copy = web / "frame/static/frame/charts.js"
    copy.write_text(copy.read_text() + "\n")
    seen.append(static_hash())
    copy.rename(copy.with_name("graphs.js"))
    seen.append(static_hash())
    monkeypatch.setattr(static_files, "version", lambda package: "0")
    seen.append(static_hash())
    assert f"/static/{seen[0]}/" == settings.STATIC_URL
    assert len(set(seen)) == 4


def test_servers_that_start_at_once_make_each_copy_whole_and_once(tmp_path):
    with ThreadPoolExecutor(8) as pool:
        copies = set(pool.map(lambda _: compressed_copy(CHARTS, tmp_path / "compressed"), range(32)))
    (copy,) = copies
    assert gzip.decompress(copy.read_bytes()) == CHARTS.read_bytes()
    assert list(copy.parent.iterdir()) == [copy]


def test_a_copy_that_is_there_is_not_made_again(tmp_path, monkeypatch):
    compressed_copy(CHARTS, tmp_path)
    monkeypatch.setattr(static_files.gzip, "compress", lambda *_, **__: pytest.fail("compressed again"))
    compressed_copy(CHARTS, tmp_path)


def test_on_a_full_disk_files_are_sent_as_they_are(monkeypatch, client, db):
    def refuse(path, folder):
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(static_files, "compressed_copy", refuse)
    served = HashedStaticFiles(lambda request: None)
    for file in served.files.values():
        assert len(file.alternatives) == 1
