"""Taking a deck in, and changing later what was taken in."""

from __future__ import annotations

from typing import Any

from django.db.models import Q
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from groovewright.jobbook.job_facts import facts_of
from groovewright.jobbook.job_states import steps_of
from groovewright.jobbook.models import Deck, Intake, Job, Owner
from groovewright.jobbook.queries import complaint_of, current_rows, deck_now, job_record
from groovewright.web.frame.job_frame import job_frame
from groovewright.web.intake.beside_others import as_shown
from groovewright.web.intake.defaults import DEFAULTS
from groovewright.web.intake.distance_taken_in import distance_text
from groovewright.web.intake.folds import SUBJECTS, summary
from groovewright.web.intake.forms import NewOwnerJobForm, RuleForm, TakeInForm
from groovewright.web.intake.initial_values import initial_values, initial_values_of_next_visit
from groovewright.web.intake.taking_in import (
    open_job_for_known_deck,
    open_job_for_new_deck,
    open_job_for_new_owner,
    take_in_again,
)

MAX_FOUND = 8


@require_http_methods(["GET", "POST"])
def new_job(request: HttpRequest) -> HttpResponse:
    """Take in a deck of an owner who comes for the first time."""
    form = NewOwnerJobForm(request.POST if request.method == "POST" else None, initial=DEFAULTS)
    if request.method == "GET":
        return render(request, "intake/page.html", {"form": form, "page": "new"})
    if not form.is_valid():
        return render(request, "intake/page.html", {"form": form, "page": "new"}, status=422)
    job = open_job_for_new_owner(form, opened=timezone.localdate())
    return redirect("choose", number=job.number)


@require_http_methods(["GET", "POST"])
def new_job_of_owner(request: HttpRequest, owner: int) -> HttpResponse:
    """Take in a further deck of an owner."""
    known = get_object_or_404(Owner.objects.select_related("details"), number=owner)
    form = TakeInForm(request.POST if request.method == "POST" else None, initial=DEFAULTS)
    context = {"form": form, "owner": known, "page": "new"}
    if request.method == "GET":
        return render(request, "intake/page.html", context)
    if not form.is_valid():
        return render(request, "intake/page.html", context, status=422)
    job = open_job_for_new_deck(form, known, opened=timezone.localdate())
    return redirect("choose", number=job.number)


@require_http_methods(["GET", "POST"])
def new_job_of_deck(request: HttpRequest, deck: int) -> HttpResponse:
    """Take in a deck that has been here before."""
    known = get_object_or_404(current_rows(Deck).select_related("owner__details"), number=deck)
    last = Intake.objects.filter(job__deck__number=deck).select_related("arm", "cartridge").order_by("-pk").first()
    initial, told_before = initial_values_of_next_visit(known, last)
    form = TakeInForm(request.POST if request.method == "POST" else None, initial=initial)
    form.beside_visit_before(told_before)
    context = {"form": form, "owner": known.owner, "deck": known, "page": "new"}
    if request.method == "GET":
        return render(request, "intake/page.html", context)
    if not form.is_valid():
        return render(request, "intake/page.html", context, status=422)
    job = open_job_for_known_deck(form, known, last, opened=timezone.localdate())
    return redirect("choose", number=job.number)


@require_GET
def find(request: HttpRequest) -> HttpResponse:
    """List owners and decks that match what is typed."""
    sought = request.GET.get("sought", "").strip()[:100]
    decks = current_rows(Deck).select_related("owner__details")
    owners = Owner.objects.select_related("details").order_by("-number")
    if sought:
        decks = decks.filter(Q(description__icontains=sought) | Q(owner__details__name__icontains=sought))
        owners = owners.filter(details__name__icontains=sought)
    found = {"decks": decks[:MAX_FOUND], "owners": owners[:MAX_FOUND], "sought": sought}
    return render(request, "intake/found.html", found if sought else {})


@require_http_methods(["GET", "POST"])
def take_in(request: HttpRequest, number: int) -> HttpResponse:
    """Change what was taken in; the form stands as the record does."""
    job = get_object_or_404(Job.objects.select_related("deck__owner__details"), number=number)
    deck = deck_now(job)
    last = job.intakes.select_related("arm", "cartridge").order_by("-version").first()
    known = initial_values(deck, last) | {"complaint": complaint_of(job), "pivot_to_spindle": distance_text(job)}
    form = TakeInForm(request.POST if request.method == "POST" else None, initial=known)
    if request.method == "GET":
        return render(request, "intake/page.html", take_in_context(job, form))
    if not form.is_valid():
        return render(request, "intake/page.html", take_in_context(job, form), status=422)
    take_in_again(form, job, deck, last)
    return redirect("choose", number=number)


@require_POST
def rule_sentence(request: HttpRequest) -> HttpResponse:
    """Say in a sentence what the rule that is being typed means."""
    form = RuleForm(request.POST)
    status = 200 if form.is_valid() else 422
    return render(request, "intake/rule.html", {"form": form, "preview": True}, status=status)


@require_POST
def fold_words(request: HttpRequest) -> HttpResponse:
    """Say anew in the summary of each fold what is entered in it."""
    form = NewOwnerJobForm(request.POST)
    words = [(subject.key, summary(form, subject)) for subject in SUBJECTS]
    return render(request, "intake/fold_words.html", {"words": words})


def take_in_context(job: Job, form: TakeInForm) -> dict[str, Any]:
    """Return what the page of a job that exists shows."""
    record = job_record(job)
    form.beside_readings(facts_of(record).joined_distance())
    context = job_frame(job, steps_of(record), "take-in")
    return context | {"form": form, "owner": job.deck.owner, "as_shown": as_shown(form.initial)}
