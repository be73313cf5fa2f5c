"""One deck taken in: all its rows in one entry, and new rows only for what was typed anew."""

from __future__ import annotations

from datetime import date

from groovewright.jobbook import entries
from groovewright.jobbook.models import Arm, Cartridge, Deck, Intake, Job, Owner
from groovewright.jobbook.queries import complaint_of
from groovewright.web.intake.arm_fields import BUILD_FIELDS, REACH_FIELDS, fixed_only
from groovewright.web.intake.distance_taken_in import store_distance
from groovewright.web.intake.forms import CARTRIDGE_FIELDS, NewOwnerJobForm, TakeInForm

ARM_FIELDS = frozenset(
    {"arm_description", "arm_kind", "effective_mass", "length_limits", "length_fixed", "angle_limits", "angle_fixed"}
    | {"drawn_pivot_to_spindle", "drawn_effective_length", "drawn_overhang", "drawn_offset_angle"}
    | {*BUILD_FIELDS, *REACH_FIELDS}
)
TOLD_ANEW = frozenset({"stylus_hours", *REACH_FIELDS})
DECK_FIELDS = frozenset({"deck_description", "deck_note"})


def open_job_for_new_owner(form: NewOwnerJobForm, *, opened: date) -> Job:
    """Enter the owner, the deck and the job."""
    typed = form.cleaned_data
    with entries.writing():
        owner = entries.add_owner(name=typed["owner_name"], contact=typed["owner_contact"])
        return open_job_for_new_deck(form, owner, opened=opened)


def open_job_for_new_deck(form: TakeInForm, owner: Owner, *, opened: date) -> Job:
    """Enter a deck that comes for the first time, and its job."""
    typed = form.cleaned_data
    with entries.writing():
        deck = entries.add_deck(owner, description=typed["deck_description"], note=typed["deck_note"])
        job = entries.open_job(deck, opened=opened, complaint=typed["complaint"])
        _record_facts(form, job, last=None)
        return job


def open_job_for_known_deck(form: TakeInForm, deck: Deck, last: Intake | None, *, opened: date) -> Job:
    """Enter a further job of a deck; `last` is what its last job rested on."""
    with entries.writing():
        deck = _deck_as_typed(form, deck)
        job = entries.open_job(deck, opened=opened, complaint=form.cleaned_data["complaint"])
        _record_facts(form, job, last=last)
        return job


def take_in_again(form: TakeInForm, job: Job, deck: Deck, last: Intake | None) -> Intake:
    """Enter what has changed since a job was taken in."""
    with entries.writing():
        _deck_as_typed(form, deck)
        _complaint_as_typed(form, job)
        return _record_facts(form, job, last=last)


def _deck_as_typed(form: TakeInForm, deck: Deck) -> Deck:
    if DECK_FIELDS.isdisjoint(form.changed_data):
        return deck
    typed = form.cleaned_data
    return entries.correct_deck(deck, description=typed["deck_description"], note=typed["deck_note"])


def _complaint_as_typed(form: TakeInForm, job: Job) -> None:
    typed = form.cleaned_data["complaint"]
    # A browser ends lines its own way; that is no new wording.
    if "complaint" in form.data and typed.split() != complaint_of(job).split():
        entries.correct_complaint(job, text=typed)


def _record_facts(form: TakeInForm, job: Job, *, last: Intake | None) -> Intake:
    arm = None if last is None or last.arm is None else last.arm.current()
    cartridge = None if last is None or last.cartridge is None else last.cartridge.current()
    same_visit = last is not None and last.job_id == job.pk
    if "pivot_to_spindle" in form.changed_data:
        store_distance(job, form.cleaned_data["pivot_to_spindle"])
    return entries.record_intake(
        job,
        arm=_arm_as_typed(form, job.deck, arm, same_visit=same_visit),
        cartridge=_cartridge_as_typed(form, cartridge, same_visit=same_visit),
        **form.intake_facts(
            tolerances=None if last is None else last.tolerances,
            stylus_hours=last.stylus_hours if same_visit else None,
        ),
    )


def _arm_as_typed(form: TakeInForm, deck: Deck, known: Arm | None, *, same_visit: bool) -> Arm:
    if known is None:
        return entries.add_arm(deck, **form.arm_facts())
    ways = known.adjuster_limits if same_visit else fixed_only(known.adjuster_limits)
    facts = form.arm_facts(build=known.build, adjuster_limits=ways)
    if not same_visit and facts["adjuster_limits"] != known.adjuster_limits:
        # A new row: the visit before keeps its limits, which counted from where the adjusters stood then.
        return entries.add_arm(deck, note=known.note, **facts)
    if _changed(form, same_visit=same_visit).isdisjoint(ARM_FIELDS):
        return known
    return entries.add_arm(deck, corrects=known, note=known.note, **facts)


def _cartridge_as_typed(form: TakeInForm, known: Cartridge | None, *, same_visit: bool) -> Cartridge | None:
    if not form.has_cartridge():
        return None
    facts = form.cartridge_facts()
    if known is None or "cartridge_description" in form.changed_data:
        return entries.add_cartridge(**facts)
    if not same_visit and facts["stylus_hours"] != known.stylus_hours:
        # A new row: the visit before keeps the hours that the stylus had then.
        return entries.add_cartridge(note=known.note, **facts)
    if _changed(form, same_visit=same_visit).isdisjoint(CARTRIDGE_FIELDS):
        return known
    return entries.add_cartridge(corrects=known, note=known.note, **facts)


def _changed(form: TakeInForm, *, same_visit: bool) -> set[str]:
    # What is told anew at every visit was empty: typed as it was before, it is no change.
    return set(form.changed_data) - (frozenset() if same_visit else TOLD_ANEW)
