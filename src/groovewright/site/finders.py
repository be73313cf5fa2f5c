"""Static files that other packages carry: the chart library and the fonts, each named singly."""

from __future__ import annotations

from collections.abc import Iterator
from importlib.util import find_spec
from pathlib import Path
from typing import Any

from django.contrib.staticfiles.finders import BaseFinder
from django.core.files.storage import FileSystemStorage


def _package_folder(package: str) -> Path:
    spec = find_spec(package)
    if spec is None or spec.origin is None:
        raise FileNotFoundError(f"the package {package} is not installed; install Groovewright again")
    return Path(spec.origin).parent


# Folder below the static root, package, folder in it, file.
PACKAGE_FILES = (
    ("plotly", "plotly", "package_data", "plotly.min.js"),
    *(
        ("fonts", "font_source_sans_pro", "files", f"SourceSansPro-{cut}.ttf")
        for cut in ("Regular", "It", "Semibold", "Bold")
    ),
)


class PackageFilesFinder(BaseFinder):
    """Finds ``plotly/plotly.min.js`` and ``fonts/SourceSansPro-*.ttf``, and nothing beside them."""

    def check(self, **kwargs: Any) -> list[Any]:
        """Return no complaints: there is nothing to set."""
        return []

    def find(self, path: str, find_all: bool = False, **kwargs: Any) -> Any:
        """Return where the file of one static address lies; an empty list if it is none of these."""
        for prefix, package, folder, name in PACKAGE_FILES:
            if path == f"{prefix}/{name}":
                found = str(_package_folder(package) / folder / name)
                return [found] if find_all else found
        return []

    def list(self, ignore_patterns: Any) -> Iterator[tuple[str, FileSystemStorage]]:
        """Yield each file with the folder it lies in."""
        for prefix, package, folder, name in PACKAGE_FILES:
            storage = FileSystemStorage(location=_package_folder(package) / folder)
            storage.prefix = prefix
            yield name, storage
