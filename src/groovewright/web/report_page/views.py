"""The report page: what the report will say, what is missing, issuing it and having it again."""

from __future__ import annotations

from django.core.exceptions import ValidationError
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods

from groovewright.jobbook.content_store import ContentDamaged
from groovewright.jobbook.job_record import JobRecord
from groovewright.jobbook.job_states import steps_of
from groovewright.jobbook.models import IssuedReport, Job, Letterhead
from groovewright.jobbook.queries import job_record
from groovewright.report.contents import ReportContents, contents_of_job, head_of, proposal
from groovewright.report.customer import full_texts, setting_rows, still_open, to_the_ear
from groovewright.report.fonts import not_printed
from groovewright.report.parts import HandOver
from groovewright.report.pdf import report_pdf
from groovewright.web.attachments.kept_file import kept_file
from groovewright.web.frame.job_frame import job_frame, job_of
from groovewright.web.report_page.forms import IssueForm
from groovewright.web.report_page.issuing import issue


@require_http_methods(["GET", "POST"])
def report(request: HttpRequest, number: int) -> HttpResponse:
    """Show what the report will say, or issue it."""
    job = job_of(number)
    record = job_record(job)
    if request.method == "GET":
        return _page(request, job, record, _first_form(record))
    form = _sent_form(request, record)
    contents = _contents(job, record, form)
    if contents is None:
        return _page(request, job, record, form, status=422)
    sentences = list(not_printed(full_texts(contents)))
    if sentences and not form.cleaned_data["print_codes"]:
        form.add_error("print_codes", " ".join(sentences))
        return _page(request, job, record, form, status=422)
    issue(job, contents.words, workshop=form.cleaned_data.get("workshop", ""))
    return redirect("report", number=number)


@require_http_methods(["GET", "POST"])
def preview(request: HttpRequest, number: int) -> HttpResponse:
    """Send the report as it would be now, without a number; nothing is entered."""
    job = job_of(number)
    record = job_record(job)
    if request.method == "GET":
        contents: ReportContents | None = contents_of_job(job, record=record, words=_proposed(record))
    else:
        form = _sent_form(request, record)
        contents = _contents(job, record, form)
    if contents is None:
        return _page(request, job, record, form, status=422)
    answer = HttpResponse(report_pdf(contents), content_type="application/pdf")
    answer["Content-Disposition"] = f'inline; filename="job-{number}-not-issued.pdf"'
    return answer


@require_GET
def download(request: HttpRequest, number: int, report: str) -> HttpResponse:
    """Send an issued report, byte for byte as it was issued."""
    row = get_object_or_404(IssuedReport, job__number=number, number=report)
    name = f"report-{row.number}.pdf"
    return kept_file(request, sha256=row.file_sha256, media_type="application/pdf", name=name)


def _proposed(record: JobRecord) -> HandOver:
    return proposal(record, today=timezone.localdate())


def _first_form(record: JobRecord) -> IssueForm:
    return IssueForm.beginning_with(_proposed(record), **_options(record))


def _sent_form(request: HttpRequest, record: JobRecord) -> IssueForm:
    return IssueForm(request.POST, **_options(record))


def _options(record: JobRecord) -> dict[str, object]:
    return {"attachments": record.attachments, "has_letterhead": Letterhead.objects.exists()}


def _contents(job: Job, record: JobRecord, form: IssueForm) -> ReportContents | None:
    """Return the contents with what the form says; None, with the form's errors, where it cannot be."""
    if not form.is_valid():
        return None
    workshop = form.cleaned_data.get("workshop", "")
    try:
        return contents_of_job(job, record=record, words=form.hand_over(), head=head_of(workshop or None))
    except (ValueError, ContentDamaged) as refusal:
        form.add_error(None, ValidationError(f"{refusal}"))
        return None


def _page(request: HttpRequest, job: Job, record: JobRecord, form: IssueForm, *, status: int = 200) -> HttpResponse:
    contents = contents_of_job(job, record=record)
    context = job_frame(job, steps_of(record), "report") | {
        "form": form,
        "contents": contents,
        "settings": setting_rows(contents),
        "ear": to_the_ear(contents),
        "open": still_open(contents),
        "unprintable": list(not_printed(full_texts(contents))),
        "reports": job.reports.order_by("-pk"),
    }
    return render(request, "report_page/page.html", context, status=status)
