"""The list of jobs, the way into one, and archives in and out."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.http import content_disposition_header
from django.views.decorators.http import require_GET, require_http_methods

from groovewright.files.archive import ArchiveRefused
from groovewright.jobbook.content_store import ContentDamaged
from groovewright.jobbook.job_archive import export_jobs, import_jobs
from groovewright.jobbook.job_states import steps_of
from groovewright.jobbook.queries import job_page, job_record
from groovewright.web.frame.job_frame import job_of, shown_steps
from groovewright.web.jobs.forms import ArchiveForm, SearchForm
from groovewright.web.jobs.next_step import listed_jobs


@require_GET
def job_list(request: HttpRequest) -> HttpResponse:
    """List the jobs, newest first; search and page by address."""
    form = SearchForm(request.GET)
    if not form.is_valid():
        return render(request, "jobs/list.html", {"form": form, "page": "jobs"}, status=422)
    search = form.cleaned_data["search"]
    jobs = job_page(form.cleaned_data["page"] or 1, search=search)
    lines = listed_jobs(jobs, all_states="states" in request.GET)
    context = {"jobs": jobs, "lines": lines, "search": search, "page": "jobs", "form": form}
    context["is_waiting"] = any(line.step is None for line in lines)
    template = "jobs/found.html" if request.htmx else "jobs/list.html"
    return render(request, template, context)


@require_GET
def job(request: HttpRequest, number: int) -> HttpResponse:
    """Go to the step of a job that comes first."""
    steps = shown_steps(number, steps_of(job_record(job_of(number))))
    first = next((step for step in steps if step.state != "done"), steps[-1])
    return redirect(first.address)


@require_http_methods(["GET", "POST"])
def bring_in(request: HttpRequest) -> HttpResponse:
    """Bring the jobs of an archive into this book."""
    if request.method == "GET":
        return render(request, "jobs/bring_in.html", {"form": ArchiveForm(), "page": "jobs"})
    form = ArchiveForm(request.POST, request.FILES)
    if not form.is_valid():
        return render(request, "jobs/bring_in.html", {"form": form, "page": "jobs"}, status=422)
    try:
        result = import_jobs(form.cleaned_data["archive"])
    except ArchiveRefused as refusal:
        form.add_error("archive", f"Nothing was brought in: {refusal}.".replace("..", "."))
        return render(request, "jobs/bring_in.html", {"form": form, "page": "jobs"}, status=422)
    return render(request, "jobs/bring_in.html", {"form": ArchiveForm(), "result": result, "page": "jobs"})


@require_GET
def archive(request: HttpRequest, number: int) -> HttpResponse:
    """Send a job with all that it rests on as an archive."""
    try:
        content = export_jobs([job_of(number)], with_owner_details=request.GET.get("owner") == "1")
    except ContentDamaged as damage:
        context = {"name": f"The archive of job {number}", "sentence": str(damage)}
        return render(request, "attachments/damaged.html", context, status=410)
    answer = HttpResponse(content, content_type="application/zip")
    answer["Content-Disposition"] = content_disposition_header(as_attachment=True, filename=f"job-{number}.zip")
    return answer
