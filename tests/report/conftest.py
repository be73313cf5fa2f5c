"""The reports of the invented workshop, worked out once, and small pictures for the reports that hold some."""

from __future__ import annotations

import io
from collections.abc import Callable, Mapping
from dataclasses import dataclass

import pytest
from pdfminer.high_level import extract_text

from groovewright.report.contents import contents_of_job
from groovewright.report.parts import Head, ReportContents

HEAD = Head("Tern Lane Record Bench", ("14 Tern Lane", "Alderby"))


@dataclass(frozen=True)
class DemoJobs:
    """What the reports of all demo jobs say, by job number."""

    contents: Mapping[int, ReportContents]

    @property
    def full(self) -> ReportContents:
        """Of a deck with moves, all seven read as left, and readings at radii."""
        return self.contents[8]

    @property
    def empty(self) -> ReportContents:
        """Of a deck of which nothing was read."""
        return self.contents[7]


@pytest.fixture(scope="session")
def demo(django_db_setup: None, django_db_blocker: object) -> DemoJobs:
    """Make the invented workshop once, take what its reports say, and leave the book as it was."""
    from django.db import transaction

    from groovewright.demo.book import make_demo_workshop
    from groovewright.jobbook.models import Job

    with django_db_blocker.unblock(), transaction.atomic():
        make_demo_workshop()
        found = DemoJobs({job.number: contents_of_job(job, head=HEAD) for job in Job.objects.all()})
        transaction.set_rollback(True)
    return found


@pytest.fixture(scope="session")
def picture() -> Callable[..., bytes]:
    """Return a function that makes a picture file of a size in a format."""
    from PIL import Image

    def make(width: int = 120, height: int = 90, form: str = "JPEG", **options: object) -> bytes:
        out = io.BytesIO()
        Image.new("RGB", (width, height), "#88a0a8").save(out, form, **options)
        return out.getvalue()

    return make


@pytest.fixture(scope="session")
def words_of() -> Callable[..., str]:
    """Return the text of a PDF, or of some of its pages, with line breaks and spacing made plain."""

    def words(document: bytes, *pages: int) -> str:
        text = extract_text(io.BytesIO(document), page_numbers=list(pages) or None)
        return " ".join(text.replace("\u200b", "").replace("\u00a0", " ").split())

    return words
