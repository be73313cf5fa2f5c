"""The report page: what will stand in the report, what is missing, issuing it and having it again."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_GET, require_http_methods

from groovewright.jobbook.job_states import steps_of
from groovewright.jobbook.models import IssuedReport, Job
from groovewright.jobbook.queries import job_record
from groovewright.report.contents import contents_of_job
from groovewright.report.pdf import report_pdf
from groovewright.web.attachments.kept_file import kept_file
from groovewright.web.frame.job_frame import job_frame, job_of
from groovewright.web.report_page.forms import IssueForm
from groovewright.web.report_page.issuing import issue, last_workshop


@require_http_methods(["GET", "POST"])
def report(request: HttpRequest, number: int) -> HttpResponse:
    """Show what the report will say, or issue it."""
    job = job_of(number)
    if request.method == "GET":
        return _page(request, job, IssueForm(initial={"workshop": last_workshop()}))
    form = IssueForm(request.POST)
    if not form.is_valid():
        return _page(request, job, form, status=422)
    issue(job, form.facts())
    return redirect("report", number=number)


@require_GET
def preview(request: HttpRequest, number: int) -> HttpResponse:
    """Send the report as it would be now, without a number; nothing is entered."""
    content = report_pdf(contents_of_job(job_of(number), workshop=last_workshop() or "Not issued"))
    answer = HttpResponse(content, content_type="application/pdf")
    answer["Content-Disposition"] = f'inline; filename="job-{number}-not-issued.pdf"'
    return answer


@require_GET
def download(request: HttpRequest, number: int, report: str) -> HttpResponse:
    """Send an issued report, byte for byte as it was issued."""
    row = get_object_or_404(IssuedReport, job__number=number, number=report)
    name = f"report-{row.number}.pdf"
    return kept_file(request, sha256=row.file_sha256, media_type="application/pdf", name=name)


def _page(request: HttpRequest, job: Job, form: IssueForm, *, status: int = 200) -> HttpResponse:
    record = job_record(job)
    context = job_frame(job, steps_of(record), "report") | {
        "form": form,
        "contents": contents_of_job(job, record=record, workshop="-"),
        "reports": job.reports.order_by("-pk"),
    }
    return render(request, "report_page/page.html", context, status=status)
