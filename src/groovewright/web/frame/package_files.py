"""Static files that we take from installed packages: the fonts and the one file of the chart library."""

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
        raise ModuleNotFoundError(f"the package {package} is not installed; run `make install`")
    return Path(spec.origin).parent


# Address below the static root: package, folder in it, file.
PACKAGE_FILES = {
    "charts/plotly.min.js": ("plotly", "package_data", "plotly.min.js"),
    **{
        f"fonts/SourceSansPro-{cut}.ttf": ("font_source_sans_pro", "files", f"SourceSansPro-{cut}.ttf")
        for cut in ("Regular", "It", "Semibold", "Bold")
    },
}


class PackageFilesFinder(BaseFinder):
    """Finds exactly the files of `PACKAGE_FILES` and nothing else in those packages."""

    def find(self, path: str, find_all: bool = False, **kwargs: Any) -> Any:
        """Return where the file lies, or a list of that when all are asked for; empty if it is not one of ours."""
        if path not in PACKAGE_FILES:
            return []
        package, folder, name = PACKAGE_FILES[path]
        found = str(_package_folder(package) / folder / name)
        return [found] if find_all else found

    def list(self, ignore_patterns: Any) -> Iterator[tuple[str, FileSystemStorage]]:
        """Yield each file with a storage that knows it under its address."""
        for address, (package, folder, name) in PACKAGE_FILES.items():
            storage = FileSystemStorage(location=_package_folder(package) / folder)
            storage.prefix = address.removesuffix(name).rstrip("/")  # type: ignore[attr-defined]
            yield name, storage
