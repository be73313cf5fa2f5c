"""What every page may show."""

from __future__ import annotations

from django.http import HttpRequest

from groovewright import __version__


def program(request: HttpRequest) -> dict[str, str]:
    """Give the version of the program to the foot of the page."""
    return {"program_version": __version__}
