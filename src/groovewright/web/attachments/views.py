"""Photos and files of a job."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_GET, require_http_methods

from groovewright.jobbook.entries import attach_file
from groovewright.jobbook.job_states import steps_of
from groovewright.jobbook.models import Attachment, Job
from groovewright.jobbook.queries import job_record
from groovewright.web.attachments.forms import AttachmentForm
from groovewright.web.attachments.kept_file import kept_file
from groovewright.web.frame.job_frame import job_frame, job_of


@require_http_methods(["GET", "POST"])
def attachments(request: HttpRequest, number: int) -> HttpResponse:
    """Show what is kept with a job, or keep one more file."""
    job = job_of(number)
    if request.method == "GET":
        return _page(request, job, AttachmentForm())
    form = AttachmentForm(request.POST, request.FILES)
    if not form.is_valid():
        return _page(request, job, form, status=422)
    attach_file(job, **form.cleaned_data["file"])
    # Back to the page it was handed in on.
    if request.POST.get("from") == "bench":
        return redirect(f"{reverse('bench', kwargs={'number': number})}?enter=photo")
    return redirect("attachments", number=number)


@require_GET
def download(request: HttpRequest, number: int, attachment: int) -> HttpResponse:
    """Send a file as it was kept."""
    row = get_object_or_404(Attachment, job__number=number, pk=attachment)
    return kept_file(request, sha256=row.file_sha256, media_type=row.media_type, name=row.name)


def _page(request: HttpRequest, job: Job, form: AttachmentForm, *, status: int = 200) -> HttpResponse:
    context = job_frame(job, steps_of(job_record(job)), "attachments")
    context |= {"form": form, "attachments": job.attachments.order_by("-pk")}
    return render(request, "attachments/page.html", context, status=status)
