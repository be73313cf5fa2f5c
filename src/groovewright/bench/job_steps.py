"""The five steps of a job and how far each is: done, next, open, or stale because what it is based on changed."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal

from groovewright.bench.estimate.job_facts import JobFacts
from groovewright.bench.estimate.job_state import JobState
from groovewright.bench.estimate.setting_state import DeckState
from groovewright.bench.estimate.settings import SETTINGS
from groovewright.measurement.conformity import IN_TOLERANCE, OUT_OF_TOLERANCE, UNDECIDED
from groovewright.measurement.formatting import format_quantity
from groovewright.measurement.quantity import Quantity
from groovewright.tonearm.geometry import Geometry

StepKey = Literal["take in", "choose", "plate", "bench", "report"]

TITLES: dict[StepKey, str] = {
    "take in": "Take in",
    "choose": "Choose",
    "plate": "Plate",
    "bench": "Bench",
    "report": "Report",
}

CHECK_BAR_MM = 100.0
"""Length of the check bars as drawn."""

MAX_BAR_ERROR_MM = 0.2
"""At 120 mm from the spindle this moves an arc by a quarter of a millimetre, half the usual tolerance."""

SAME_LENGTH_MM = 1e-3
"""Targets and plates that agree within this are for one geometry: far finer than anyone measures."""

SAME_ANGLE_DEG = 1e-3
"""The same for angles."""


@dataclass(frozen=True, slots=True)
class Step:
    """One step of the job.

    Attributes
    ----------
    key, title : str
        Which step, and how it is called on screen.
    state : str
        done; next: the one to work on; open: later; stale: done once, but what it is based on changed, so it comes
        first.
    detail : str
        What is missing or what it is based on, in one or two sentences.
    """

    key: StepKey
    title: str
    state: Literal["done", "next", "open", "stale"]
    detail: str


@dataclass(frozen=True, slots=True)
class IssuedPlate:
    """A plate given out for this job.

    Parameters
    ----------
    number : str
        The number printed on it.
    geometry : Geometry
        What it was drawn for.
    bar_x_mm, bar_y_mm : float or None
        What its check bars of 100 mm measured on the print; None until measured. [mm]
    """

    number: str
    geometry: Geometry
    bar_x_mm: float | None = None
    bar_y_mm: float | None = None


@dataclass(frozen=True, slots=True)
class IssuedReport:
    """A report given out for this job, and how many entries that bear on it were recorded since."""

    number: str
    entries_since: int = 0


@dataclass(frozen=True)
class JobProgress:
    """What the steps of a job are judged by.

    Parameters
    ----------
    facts : JobFacts
    geometry : Geometry or None
        Of the targets that were chosen.
    state : JobState or None
        None where it cannot be told, or is not needed since an earlier step comes first.
    reason : str
        Why there is no state; empty where there is one.
    plates : tuple of IssuedPlate
        In order of issue.
    reports : tuple of IssuedReport
        In order of issue.
    """

    facts: JobFacts
    geometry: Geometry | None = None
    state: JobState | None = None
    reason: str = ""
    plates: tuple[IssuedPlate, ...] = ()
    reports: tuple[IssuedReport, ...] = ()

    @property
    def is_handed_over(self) -> bool:
        """Whether the newest report is based on all entries."""
        return bool(self.reports) and self.reports[-1].entries_since == 0


@dataclass(frozen=True, slots=True)
class _Progress:
    """A step before it is known which of the unfinished ones comes next."""

    state: Literal["done", "unfinished", "stale"]
    detail: str


def job_steps(job: JobProgress) -> tuple[Step, ...]:
    """Return all five steps in order, each with how far it is and what is missing."""
    found: dict[StepKey, _Progress] = {
        "take in": _take_in(job.facts),
        "choose": _choose(job.facts),
        "plate": _plate(job),
        "bench": _bench(job),
        "report": _report(job),
    }
    first = next((key for key, progress in found.items() if progress.state != "done"), None)
    return tuple(_step(key, progress, comes_first=key == first) for key, progress in found.items())


def first_step(steps: Iterable[Step]) -> Step:
    """Return the step to work on; the last one where all are done."""
    listed = list(steps)
    return next((step for step in listed if step.state != "done"), listed[-1])


def outcomes_in_words(deck: DeckState) -> str:
    """Return the verdicts of a deck in a few words, for example ``"5 in tolerance; not read: azimuth"``."""
    titles = {setting.key: SETTINGS[setting.key].title.lower() for setting in deck.settings}
    inside = [setting for setting in deck.settings if setting.outcome == IN_TOLERANCE]
    words = []
    if inside:
        words.append("all seven in tolerance" if len(inside) == len(deck.settings) else f"{len(inside)} in tolerance")
    for outcome in (OUT_OF_TOLERANCE, UNDECIDED, "no limits", "not read"):
        named = [titles[setting.key] for setting in deck.settings if setting.outcome == outcome]
        if named:
            words.append(f"{outcome}: {', '.join(named)}")
    return "; ".join(words)


def _step(key: StepKey, progress: _Progress, *, comes_first: bool) -> Step:
    if progress.state == "unfinished":
        return Step(key, TITLES[key], "next" if comes_first else "open", progress.detail)
    return Step(key, TITLES[key], progress.state, progress.detail)


def _take_in(facts: JobFacts) -> _Progress:
    missing = []
    if facts.arm is None:
        missing.append("the arm")
    if facts.cartridge is None:
        missing.append("the cartridge")
    elif facts.cartridge.force_minimum is None or facts.cartridge.force_maximum is None:
        missing.append("the maker's range of tracking force")
    if missing:
        return _Progress("unfinished", f"Still to enter: {_listed(missing)}.")
    for_resonance = _missing_for_resonance(facts)
    if for_resonance:
        return _Progress("done", f"For the resonance, {_listed(for_resonance)} would still be needed.")
    return _Progress("done", "Arm and cartridge are known.")


def _missing_for_resonance(facts: JobFacts) -> list[str]:
    if facts.arm is None or facts.cartridge is None:
        return []
    parts = {
        "the arm's effective mass": facts.arm.effective_mass,
        "the cartridge's mass": facts.cartridge.mass,
        "its compliance": facts.cartridge.compliance,
    }
    return [name for name, part in parts.items() if part is None]


def _choose(facts: JobFacts) -> _Progress:
    try:
        joined = facts.joined_distance()
    except ValueError as refusal:
        return _Progress("unfinished", f"{refusal}")
    request = facts.target_request
    if request is None:
        return _Progress("unfinished", _before_choosing(facts, None if joined is None else joined.quantity))
    if facts.is_tangential:
        return _Progress("done", "Chosen for a tangential arm, which has no effective length and no offset angle.")
    chosen_for = request.distance
    if joined is not None and not _same_quantity(joined.quantity, chosen_for):
        return _Progress(
            "stale",
            f"The targets were chosen for a pivot-to-spindle distance of {format_quantity(chosen_for)}; its readings "
            f"now give {format_quantity(joined.quantity)}. Choose again.",
        )
    return _Progress("done", f"Chosen for a pivot-to-spindle distance of {format_quantity(chosen_for)}.")


def _before_choosing(facts: JobFacts, distance: Quantity | None) -> str:
    if facts.is_tangential:
        return "Choose the groove; a tangential arm has no distance or length to measure."
    if distance is None:
        return "Measure the pivot-to-spindle distance, then choose the targets."
    return f"Choose the targets for a distance of {format_quantity(distance)}."


def _same_quantity(now: Quantity, then: Quantity) -> bool:
    if abs(now.value - then.value) > SAME_LENGTH_MM:
        return False
    u_now, u_then = now.standard_uncertainty, then.standard_uncertainty
    if u_now is None or u_then is None:
        return u_now is u_then
    return abs(u_now - u_then) <= SAME_LENGTH_MM


def _plate(job: JobProgress) -> _Progress:
    if job.facts.is_tangential:
        return _Progress("done", "A tangential arm needs no plate.")
    if not job.plates:
        left = None if job.state is None else job.state.as_left
        if left is not None and left.setting("effective_length").basis == "read":
            return _Progress("done", "No plate was issued for this job; the length was read by other means.")
        return _Progress("unfinished", "Issue a plate for these targets, print it and measure its check bars.")
    plate = job.plates[-1]
    if job.geometry is not None and not same_geometry(plate.geometry, job.geometry):
        return _Progress("stale", f"Plate {plate.number} was drawn for other targets. Issue a new one.")
    return _print_check(plate)


def _print_check(plate: IssuedPlate) -> _Progress:
    if plate.bar_x_mm is None or plate.bar_y_mm is None:
        return _Progress("unfinished", f"Measure both check bars of plate {plate.number} on the print and enter them.")
    worst = max(abs(plate.bar_x_mm - CHECK_BAR_MM), abs(plate.bar_y_mm - CHECK_BAR_MM))
    if worst > MAX_BAR_ERROR_MM:
        return _Progress(
            "unfinished",
            f"The check bars of plate {plate.number} measure {plate.bar_x_mm:g} and {plate.bar_y_mm:g} mm, not "
            f"{CHECK_BAR_MM:g} mm. Issue the corrected plate and print that.",
        )
    return _Progress("done", f"Plate {plate.number} is drawn for these targets and its print is true.")


def same_geometry(first: Geometry, second: Geometry) -> bool:
    """Return whether a plate drawn for one geometry serves the other."""
    return (
        abs(first.pivot_to_spindle_mm - second.pivot_to_spindle_mm) <= SAME_LENGTH_MM
        and abs(first.effective_length_mm - second.effective_length_mm) <= SAME_LENGTH_MM
        and abs(first.offset_angle_deg - second.offset_angle_deg) <= SAME_ANGLE_DEG
    )


def _bench(job: JobProgress) -> _Progress:
    state = job.state
    if state is None:
        return _Progress("unfinished", job.reason or "Read the seven settings as found.")
    if job.facts.target_request is None:
        return _Progress("unfinished", "Choose the targets first; the settings are counted from them.")
    words = outcomes_in_words(state.now)
    stage = "As found" if state.as_left is None else "As left"
    if job.is_handed_over:
        return _Progress("done", f"{stage}: {words}.")
    if state.now.unresolved:
        return _Progress("unfinished", f"Readings disagree: {state.now.unresolved[0].sentence}")
    if all(setting.is_in_tolerance or setting.basis == "does not apply" for setting in state.now.settings):
        return _Progress("done", f"{stage}: {words}.")
    return _Progress("unfinished", f"{stage}: {words}. Go on, or hand over with that said.")


def _report(job: JobProgress) -> _Progress:
    if not job.reports:
        return _Progress("unfinished", "Issue the report when the bench is done.")
    report = job.reports[-1]
    if report.entries_since:
        entries = "entry was" if report.entries_since == 1 else "entries were"
        return _Progress(
            "stale", f"{report.entries_since} {entries} recorded since report {report.number}. Issue a new one."
        )
    return _Progress("done", f"Report {report.number} is issued.")


def _listed(names: list[str]) -> str:
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"
