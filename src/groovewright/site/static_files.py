"""Static files under an address that holds their hash, so that a browser keeps them; sent compressed."""

from __future__ import annotations

import gzip
import hashlib
import os
import tempfile
from importlib.metadata import version
from pathlib import Path
from typing import Any
from wsgiref.headers import Headers

from django.conf import settings
from whitenoise.middleware import WhiteNoiseMiddleware
from whitenoise.responders import StaticFile

import groovewright.web

# Packages whose static files a page asks for. A version of theirs never changes its files.
PACKAGES = ("plotly", "font-source-sans-pro", "django-htmx")


def static_hash() -> str:
    """Return the hash of all static files: of our own by their contents, of other packages by their versions.

    One hash stands in the address before the names, so scripts and style sheets name each other as they are written.
    """
    digest = hashlib.sha256()
    for package in PACKAGES:
        digest.update(f"{package} {version(package)}\n".encode())
    web = Path(groovewright.web.__file__).parent
    for path in sorted(web.glob("*/static/**/*")):
        if path.is_file():
            content = path.read_bytes()
            digest.update(f"{path.relative_to(web).as_posix()} {len(content)}\n".encode() + content)
    return digest.hexdigest()[:12]


class HashedStaticFiles(WhiteNoiseMiddleware):
    """Serves what the finders find: for good, since the address holds the hash, and by gzip where that is smaller.

    The compressed files are made when the server first starts and kept in the workshop's folder by their contents.
    """

    def get_static_file(self, path: str, url: str, stat_cache: Any = None) -> StaticFile:
        """Return how one file is sent; the smaller of plain and compressed goes to a browser that takes both."""
        headers = Headers([])
        self.add_mime_headers(headers, path, url)
        self.add_cache_headers(headers, path, url)
        try:
            compressed = compressed_copy(Path(path), Path(settings.DATA_DIR) / "compressed")
        except OSError:  # On a full disk pages are still shown.
            return StaticFile(path, headers.items())
        return StaticFile(path, headers.items(), encodings={"gzip": str(compressed)})

    def immutable_file_test(self, path: str, url: str) -> bool:
        """Return True: every address holds the hash."""
        return True


def compressed_copy(path: Path, folder: Path) -> Path:
    """Return the file by gzip in `folder`, named by the contents of `path`; it is made if it is not there yet."""
    content = path.read_bytes()
    copy = folder / f"{hashlib.sha256(content).hexdigest()}.gz"
    if copy.exists():
        return copy
    folder.mkdir(mode=0o700, exist_ok=True)
    # Written whole under another name first: two servers of one folder may start at once.
    handle, draft = tempfile.mkstemp(dir=folder)
    with os.fdopen(handle, "wb") as stream:
        stream.write(gzip.compress(content, mtime=0))
    Path(draft).replace(copy)
    return copy
