"""Verdicts: what is shown, what is not and what would show it, and what was found faulty."""

from __future__ import annotations

from dataclasses import dataclass

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from groovewright.bench.assessment import Assessment, assess
from groovewright.bench.steps import NO_LENGTH, is_tangential
from groovewright.jobbook.entries import record_fault, withdraw_fault
from groovewright.jobbook.models import Job, Stage
from groovewright.jobbook.queries import inputs_of, job_record
from groovewright.measurement.conformity import Verdict
from groovewright.report.findings import consequence_sentence
from groovewright.web.bench.outcome import outcome_of
from groovewright.web.frame.job_frame import job_frame
from groovewright.web.readings.forms import WithdrawForm
from groovewright.web.readings.views import job_of
from groovewright.web.verdicts.forms import FaultForm
from groovewright.web.verdicts.what_would_show import what_would_show

JUDGED_ABOVE = ("effective_length", "tracking_force")


@dataclass(frozen=True)
class ShownVerdict:
    """A verdict of one stage, with what would settle it and what the arm does as it stands."""

    stage: str
    verdict: Verdict | None
    would_show: tuple[str, ...]
    consequence: str


@require_GET
def verdicts(request: HttpRequest, number: int) -> HttpResponse:
    """Show every verdict of a job."""
    return _page(request, job_of(number), FaultForm(initial={"found": Stage.AS_FOUND}))


@require_POST
def fault(request: HttpRequest, number: int) -> HttpResponse:
    """Enter a fault."""
    job = job_of(number)
    form = FaultForm(request.POST)
    if not form.is_valid():
        return _page(request, job, form, status=422)
    record_fault(job, **form.cleaned_data)
    return redirect("verdicts", number=number)


@require_http_methods(["GET", "POST"])
def withdraw(request: HttpRequest, number: int, fault: int) -> HttpResponse:
    """Take a fault back, with the reason."""
    job = job_of(number)
    row = get_object_or_404(job.faults.filter(corrected_by=None, withdrawn=False), pk=fault)
    form = WithdrawForm(request.POST if request.method == "POST" else None)
    if request.method == "GET":
        return _withdraw_page(request, job, row, form)
    if not form.is_valid():
        return _withdraw_page(request, job, row, form, status=422)
    withdraw_fault(row, note=form.cleaned_data["note"])
    return redirect("verdicts", number=number)


def _withdraw_page(request: HttpRequest, job: Job, row: object, form: WithdrawForm, status: int = 200) -> HttpResponse:
    steps = assess(inputs_of(job_record(job))).missing
    context = job_frame(job, steps, "verdicts") | {"form": form, "fault": row}
    return render(request, "verdicts/withdraw.html", context, status=status)


def _page(request: HttpRequest, job: Job, form: FaultForm, *, status: int = 200) -> HttpResponse:
    record = job_record(job)
    inputs = inputs_of(record)
    assessment = assess(inputs)
    context = job_frame(job, assessment.missing, "verdicts") | {
        "form": form,
        "assessment": assessment,
        "rule": inputs.rule,
        "lengths": _verdicts(assessment, "length"),
        "no_length": NO_LENGTH if is_tangential(inputs) else "",
        "forces": _verdicts(assessment, "force"),
        "others": [row for row in outcome_of(record).rows if row.state.key not in JUDGED_ABOVE],
        "resonance_would_show": what_would_show(assessment.resonance.verdict) if assessment.resonance else (),
        "written_faults": record.faults,
        "read_faults": assessment.faults[len(record.faults) :],
        "to_show": _to_show(assessment),
    }
    return render(request, "verdicts/page.html", context, status=status)


def _verdicts(assessment: Assessment, about: str) -> list[ShownVerdict]:
    shown = []
    for stage in (assessment.as_found, assessment.as_left):
        result = getattr(stage, about)
        verdict = None if result is None else result.verdict
        does = consequence_sentence(assessment, stage) if about == "length" else ""
        shown.append(ShownVerdict(stage.stage, verdict, what_would_show(verdict) if verdict else (), does))
    return shown


def _to_show(assessment: Assessment) -> list[str]:
    sentences = [f"{problem.about.capitalize()}: {problem.sentence}" for problem in assessment.problems]
    open_steps = [step for step in assessment.missing if step.key in ("take in", "readings") and step.state != "done"]
    sentences += [step.detail for step in open_steps]
    return sentences
