"""The entry of the bench: which of its forms is open, and how that is filled before anything is typed."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any
from urllib.parse import urlencode

from django.shortcuts import get_object_or_404
from django.urls import reverse

from groovewright.jobbook.job_facts import facts_of
from groovewright.jobbook.job_record import JobRecord
from groovewright.jobbook.models import Reading, Scale
from groovewright.jobbook.queries import current_rows
from groovewright.jobbook.stretches import stretches
from groovewright.web.attachments.forms import AttachmentForm
from groovewright.web.bench.kinds import KINDS, SUBJECTS, ReadingKind
from groovewright.web.bench.move_form import MoveForm, proposed_amounts
from groovewright.web.bench.outcome import Outcome
from groovewright.web.bench.reading_form import ReadingForm
from groovewright.web.bench.stage import likely_stage
from groovewright.web.captures.shown import captures_of
from groovewright.web.intake.quantity_field import typed_again

Kind, Place = Reading.Kind, Reading.Place

TABS = {"reading": "Reading", "move": "Move", "capture": "Capture", "photo": "Photo"}
PROPOSED = "proposed"
"""Asks for the entry of a move with the amounts of the proposal."""


@dataclass(frozen=True)
class Wanted:
    """A reading that is asked for next, as its entry is opened for it."""

    kind: ReadingKind
    radius_mm: float | None = None
    place: str = ""

    @property
    def words(self) -> str:
        """What to read, in a few words."""
        at = f" at {self.radius_mm:.4g} mm" if self.radius_mm is not None else ""
        on = f", {self.place} platter" if self.place else ""
        return f"{SUBJECTS[self.kind.subject].title}: {self.kind.title[0].lower()}{self.kind.title[1:]}{at}{on}"

    @property
    def query(self) -> str:
        """The query that opens its entry."""
        asked = {"read": self.kind.kind, "place": self.place}
        asked |= {} if self.radius_mm is None else {"radius": f"{self.radius_mm:.4g} mm"}
        return urlencode({name: value for name, value in asked.items() if value})


def address_of(number: int, query: str = "") -> str:
    """Return the address of the bench with an entry open."""
    address = reverse("bench", kwargs={"number": number})
    return f"{address}?{query}" if query else address


def wanted_reading(record: JobRecord, outcome: Outcome) -> Wanted | None:
    """Return the reading that is asked for next; None where a move or nothing is."""
    step = outcome.step
    if record.choice is None and not facts_of(record).is_tangential and not record.readings_of(Kind.PIVOT_TO_SPINDLE):
        # Everything else is counted from the targets, which are chosen for this distance.
        return Wanted(KINDS[Kind.PIVOT_TO_SPINDLE])
    if step is None or step.read is None or record.choice is None:
        return None
    further = step.read.reading
    if further is None or further.kind not in KINDS:
        of = _usual_kind(record, step.read.key)
        return Wanted(of, place=_likely_place(record) if of.needs_scale else "")
    of = KINDS[further.kind]
    return Wanted(of, further.radius_mm, _likely_place(record) if of.needs_scale else "")


def panel_of(record: JobRecord, outcome: Outcome, asked: Mapping[str, str], **forms: Any) -> dict[str, Any]:
    """Return the context of the entry.

    Parameters
    ----------
    asked : mapping
        ``read`` is a kind of reading; ``enter`` is what is read, a tab, or `PROPOSED`; ``radius``, ``place``,
        ``stage``, ``gauge`` and ``scale`` fill the form of a reading; ``corrects`` is the key of one to correct.
    **forms
        `reading_form` or `move_form`, where one was refused.
    """
    enter = asked.get("enter", "")
    if "move_form" in forms:
        enter = "move"
    tab = "move" if enter == PROPOSED else enter if enter in TABS else "reading"
    if "reading_form" in forms:
        tab = "reading"
    context = {"tabs": TABS, "tab": tab, "is_asked": bool(enter or forms or asked.get("read") or asked.get("corrects"))}
    if tab == "reading":
        return context | _reading(record, outcome, asked, forms.get("reading_form"))
    if tab == "move":
        amounts = proposed_amounts(outcome.move) if enter == PROPOSED and outcome.move is not None else {}
        return context | {
            "move_form": forms.get("move_form") or MoveForm(initial=amounts),
            "is_proposed": bool(amounts),
        }
    if tab == "capture":
        return context | {"captures": captures_of(record.job)}
    return context | {"file_form": AttachmentForm(), "attachments": record.attachments}


def _reading(record: JobRecord, outcome: Outcome, asked: Mapping[str, str], form: ReadingForm | None) -> dict[str, Any]:
    corrected = None
    if form is None and asked.get("corrects", "").isdecimal():
        standing = record.job.readings.filter(corrected_by=None, withdrawn=False, kind__in=KINDS, analysis=None)
        corrected = get_object_or_404(standing, pk=asked["corrects"])
        form = ReadingForm(record.job, corrected.kind, initial=_as_entered(corrected))
    if form is None:
        of = _kind_asked(record, outcome, asked)
        form = ReadingForm(record.job, of.kind, initial=_before_typing(record, of, asked))
    elif form.is_bound:
        corrected = form.cleaned_data.get("corrects")
    return {
        "reading_form": form,
        "of": form.of,
        "subject": SUBJECTS[form.of.subject],
        "subjects": SUBJECTS.values(),
        "corrected": corrected,
        "has_scales": current_rows(Scale).exists() if form.of.needs_scale else True,
        "is_unchecked": form.of.needs_scale and not record.scale_checks,
    }


def _kind_asked(record: JobRecord, outcome: Outcome, asked: Mapping[str, str]) -> ReadingKind:
    if asked.get("read") in KINDS:
        return KINDS[asked["read"]]
    enter = asked.get("enter", "")
    wanted = wanted_reading(record, outcome)
    if enter in SUBJECTS:
        return _usual_kind(record, enter, None if wanted is None else wanted.kind)
    if wanted is not None:
        return wanted.kind
    unread = [row.setting.key for row in outcome.rows if row.state.basis in ("not read", "calculated")]
    return _usual_kind(record, unread[0] if unread else "effective_length")


def _usual_kind(record: JobRecord, subject: str, wanted: ReadingKind | None = None) -> ReadingKind:
    """Return the kind by which something was read last, else the one that is wanted, else the first."""
    kinds = {one.kind: one for one in SUBJECTS[subject].kinds}
    used = [reading.kind for reading in record.readings if reading.kind in kinds and reading.analysis_id is None]
    if used:
        return kinds[used[-1]]
    return wanted if wanted is not None and wanted.kind in kinds else SUBJECTS[subject].kinds[0]


def _likely_place(record: JobRecord) -> str:
    """Return where the tracking force was not read yet since the last move: outer, then inner."""
    since_moved = stretches(record)[-1].readings if record.readings else ()
    read = {reading.place for reading in since_moved if reading.kind == Kind.TRACKING_FORCE}
    return Place.INNER if Place.OUTER in read and Place.INNER not in read else Place.OUTER


def _before_typing(record: JobRecord, of: ReadingKind, asked: Mapping[str, str]) -> dict[str, Any]:
    """Return the fields of a reading; gauge, scale, height and radius are those that were used last."""
    initial: dict[str, Any] = {"stage": likely_stage(record), "surface": Reading.Surface.PLATTER}
    by_gauge = [reading for reading in record.readings if reading.gauge_id is not None and reading.kind == of.kind]
    by_scale = [reading for reading in record.readings if reading.scale_id is not None]
    if by_gauge:
        initial["gauge"] = by_gauge[-1].gauge_id
    if by_scale:
        initial |= {"scale": by_scale[-1].scale_id, "platform_height": typed_again(by_scale[-1].platform_height)}
        initial["surface"] = by_scale[-1].surface
    elif record.scale_checks:
        initial["scale"] = record.scale_checks[-1].scale_id
    if of.needs_scale:
        initial["place"] = _likely_place(record)
    # A gauge or a scale that was added on the way is chosen.
    return initial | {name: asked[name] for name in ("radius", "place", "stage", "gauge", "scale") if asked.get(name)}


def _as_entered(row: Reading) -> dict[str, Any]:
    initial = {name: getattr(row, name) for name in ("stage", "place", "surface", "note")}
    initial |= {"entry": row.text, "gauge": row.gauge_id, "scale": row.scale_id, "corrects": row.pk}
    initial["platform_height"] = typed_again(row.platform_height)
    initial["radius"] = "" if row.radius_mm is None else f"{row.radius_mm:g} mm"
    return initial
