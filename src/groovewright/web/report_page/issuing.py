"""Issuing a report: its pages, the settings it tells and what was said besides, kept under one number."""

from __future__ import annotations

from groovewright.jobbook.entries import issue_report, set_letterhead, writing
from groovewright.jobbook.models import IssuedReport, Job, Letterhead
from groovewright.report.contents import contents_of_job, numbered
from groovewright.report.parts import HandOver
from groovewright.report.pdf import report_pdf


def issue(job: Job, words: HandOver | None = None, *, workshop: str = "") -> IssuedReport:
    """Make the report of a job as its record is now and enter it under the next report number.

    Parameters
    ----------
    words : HandOver, optional
        What the workshop says besides the record.
    workshop : str
        Its name, which becomes the letterhead of a book that has none.
    """
    # One transaction: what is read here is what the report says, whoever enters something meanwhile.
    with writing():
        if workshop and not Letterhead.objects.exists():
            set_letterhead(name=workshop)
        contents = contents_of_job(job, words=words)

        def write(number: str) -> bytes:
            return report_pdf(numbered(contents, number))

        kept = {
            "settings": None if contents.state is None else contents.state.settings_json(),
            "words": contents.words.as_json(),
            "workshop": contents.head.name,
        }
        return issue_report(job, write=write, assessment=kept)
