"""Issuing a report: its pages and the verdicts it rests on, kept under one number."""

from __future__ import annotations

from typing import Any

from groovewright.jobbook.entries import issue_report, writing
from groovewright.jobbook.models import IssuedReport, Job
from groovewright.report.contents import ReportContents, contents_of_job, numbered
from groovewright.report.pdf import report_pdf


def issue(job: Job, facts: dict[str, Any]) -> IssuedReport:
    """Make the report of a job as its record stands and enter it under the next report number."""
    # One transaction: what is read here is what the report says, whoever enters something meanwhile.
    with writing():
        contents = contents_of_job(job, **facts)

        def write(number: str) -> bytes:
            return report_pdf(numbered(contents, number))

        return issue_report(job, write=write, assessment=verdicts_of(contents) | {"workshop": facts["workshop"]})


def verdicts_of(contents: ReportContents) -> dict[str, Any]:
    """Return the verdicts of a report as plain JSON types."""
    return {
        "verdicts": [
            {
                "setting": judgement.setting,
                "stage": judgement.stage,
                "outcome": judgement.verdict.outcome,
                "probability_of_conformity": judgement.verdict.probability_of_conformity,
                "measured": judgement.verdict.measured.as_json(),
            }
            for judgement in contents.judgements
        ]
    }


def last_workshop() -> str:
    """Return the workshop that stands on the newest report of the book."""
    newest = IssuedReport.objects.order_by("-pk").first()
    return "" if newest is None else str(newest.assessment.get("workshop", ""))
