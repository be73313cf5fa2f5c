"""What the page says of a deck's visits: words and marks, ready to be printed."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date

from groovewright.bench.estimate.setting_state import DeckState
from groovewright.bench.estimate.settings import SETTINGS, Setting
from groovewright.bench.visits.comparison import Drift, Visit, VisitComparison
from groovewright.jobbook.models import Job
from groovewright.jobbook.queries import DeckVisit, complaint_of
from groovewright.measurement.conformity import IN_TOLERANCE, OUT_OF_TOLERANCE
from groovewright.measurement.formatting import split_quantity
from groovewright.report.layout import minus
from groovewright.web.bench.picture import Track, track
from groovewright.web.bench.shown import ShownSetting, shown_settings

SMALL_NUMBERS = ("no", "one", "two", "three", "four", "five", "six", "seven")


@dataclass(frozen=True)
class ListedVisit:
    """One line of a deck's history."""

    job: Job
    visit: Visit
    complaint: str
    as_found: str
    as_left: str
    why_not: str


@dataclass(frozen=True)
class Mark:
    """Where a setting stood on one occasion: its words, and its place on the track."""

    words: ShownSetting | None
    track: Track | None

    @property
    def interval_width(self) -> float:
        """Of the interval, in drawing units."""
        ends = None if self.track is None else self.track.interval
        return 0.0 if ends is None else round(ends[1] - ends[0], 2)


@dataclass(frozen=True)
class ShownDrift:
    """One row of the comparison."""

    setting: Setting
    drift: Drift
    left: Mark
    found: Mark
    change: str
    uncertainty: str | None
    unit: str

    @property
    def limits(self) -> ShownSetting | None:
        """The words whose limits are drawn, those of the later visit if it has any; None where nothing can be."""
        if all(mark.track is None or mark.track.value is None for mark in (self.found, self.left)):
            return None
        return next(mark.words for mark in (self.found, self.left) if mark.track is not None)

    @property
    def is_found_outside(self) -> bool:
        """Whether it was found out of tolerance at the later visit."""
        verdict = None if self.drift.found is None else self.drift.found.verdict
        return verdict is not None and verdict.outcome == OUT_OF_TOLERANCE

    @property
    def spoken(self) -> str:
        """The row in one sentence, for those who hear it."""
        if self.drift.change is None:
            return self.drift.sentence
        title, spread = self.setting.title, f" ± {self.uncertainty}" if self.uncertainty else ""
        verb = "changed by" if self.drift.shown else "is not shown to have changed:"
        return f"{title} {verb} {self.change}{spread} {self.unit}"

    @property
    def is_unread(self) -> bool:
        """Whether it was read on neither occasion."""
        return all(state is None or state.quantity is None for state in (self.drift.left, self.drift.found))

    @property
    def is_stale(self) -> bool:
        """Whether one of the two rests on a reading from before the last move."""
        return any(state is not None and state.basis == "calculated" for state in (self.drift.left, self.drift.found))


@dataclass(frozen=True)
class MovesAt:
    """What was moved at one visit."""

    visit: Visit
    when: str


@dataclass(frozen=True)
class ShownComparison:
    """Two visits side by side, the plain words first."""

    comparison: VisitComparison
    headline: str
    others: str
    between: str
    rows: tuple[ShownDrift, ...]
    moves: tuple[MovesAt, ...]
    notes: tuple[str, ...]

    @property
    def names(self) -> tuple[str, str]:
        """Of the two visits."""
        return self.comparison.earlier.name, self.comparison.later.name


def listed_visits(visits: Sequence[DeckVisit]) -> tuple[ListedVisit, ...]:
    """Return the lines of a deck's history, newest first."""
    return tuple(
        ListedVisit(
            job=one.job,
            visit=one.visit,
            complaint=complaint_of(one.job),
            as_found=_conforming(one.visit.as_found),
            as_left=_conforming(one.visit.as_left) if _was_set(one.visit) else "",
            why_not=_sentence(one.reason),
        )
        for one in reversed(visits)
    )


def shown_comparison(comparison: VisitComparison, between: Sequence[DeckVisit]) -> ShownComparison:
    """Return what is shown of two visits; `between` are the visits after the earlier and before the later one."""
    earlier, later = comparison.earlier, comparison.later
    left, found = _words(earlier.as_left), _words(later.as_found)
    rows = tuple(_row(drift, left.get(drift.key), found.get(drift.key)) for drift in comparison.drifts)
    moved_between = [one.visit for one in between if one.visit.moves]
    return ShownComparison(
        comparison=comparison,
        headline=_headline(rows),
        others=_others(rows),
        between=_between(comparison),
        rows=rows,
        moves=tuple(
            MovesAt(visit, when)
            for visit, when in (
                (earlier, "before it was left"),
                *((visit, "in between, so it is part of the change") for visit in moved_between),
                (later, "after it was found"),
            )
            if visit.moves
        ),
        notes=(
            *_named(moved_between),
            *comparison.notes,
            *_to_mind(earlier, "left", earlier.as_left),
            *_to_mind(later, "found", later.as_found),
        ),
    )


def _words(state: DeckState | None) -> dict[str, ShownSetting]:
    return {} if state is None else {row.state.key: row for row in shown_settings(state)}


def _row(drift: Drift, left: ShownSetting | None, found: ShownSetting | None) -> ShownDrift:
    setting, change = SETTINGS[drift.key], drift.change
    unit = "g" if drift.key == "tracking_force" else setting.unit
    value, uncertainty, printed = ("", None, "") if change is None else split_quantity(change, unit)
    return ShownDrift(
        setting=setting,
        drift=drift,
        left=Mark(left, _left_track(drift)),
        found=Mark(found, None if found is None else found.track),
        change=minus(value if change is None or change.value <= 0 else f"+{value}"),
        uncertainty=None if change is None or change.standard_uncertainty == 0 else uncertainty,
        unit=printed,
    )


def _left_track(drift: Drift) -> Track | None:
    """Return the marks of a setting as left, against what it should be at the later visit where that is known."""
    left, found = drift.left, drift.found
    if left is None or left.quantity is None:
        return None
    against = left if found is None or found.tolerance is None else found
    if against.tolerance is None:
        return None
    quantity = left.quantity
    if drift.change is not None and found is not None and found.quantity is not None:
        # Where the target moved in between, the mark stands where the unchanged setting would be now.
        quantity = replace(quantity, value=found.quantity.value - drift.change.value)
    return track(quantity, against.tolerance, against.aim)


def _headline(rows: Sequence[ShownDrift]) -> str:
    if all(row.drift.change is None for row in rows):
        return "Nothing was read on both occasions, so no change can be told."
    changed = [row.setting.title.lower() for row in rows if row.drift.shown]
    if not changed:
        return "No setting is shown to have changed."
    names = _joined(f"the {name}" for name in changed)
    return f"{names[0].upper()}{names[1:]} {'has' if len(changed) == 1 else 'have'} changed."


def _others(rows: Sequence[ShownDrift]) -> str:
    """Return what is now out of tolerance, what is not shown to have changed, and what was not read twice."""
    compared = [row for row in rows if row.drift.change is not None]
    same = [row for row in compared if not row.drift.shown]
    unread = [f"the {row.setting.title.lower()}" for row in rows if row.drift.change is None]
    outside = [f"the {row.setting.title.lower()}" for row in rows if row.is_found_outside]
    words = []
    if outside:
        words.append(f"Found out of tolerance: {_joined(outside)}.")
    if same:
        one = len(same) == 1
        who = f"The {same[0].setting.title.lower()}" if one else f"{SMALL_NUMBERS[len(same)].capitalize()} settings"
        difference = "its difference lies" if one else "their differences lie"
        words.append(f"{who} {'is' if one else 'are'} not shown to have changed: {difference} within the uncertainty.")
    if unread and compared:
        names = _joined(unread)
        verb = "was" if len(unread) == 1 else "were"
        words.append(f"{names[0].upper()}{names[1:]} {verb} not read on both occasions.")
    return " ".join(words)


def _between(comparison: VisitComparison) -> str:
    days = f"{comparison.days} day{'' if comparison.days == 1 else 's'}"
    if comparison.stylus_hours is None:
        return f"{days} in between"
    hours = f"{comparison.stylus_hours:.4g}"
    return f"{days} in between, {hours} hour{'' if hours == '1' else 's'} on the stylus"


def _conforming(state: DeckState | None) -> str:
    if state is None or all(one.quantity is None for one in state.settings):
        return ""
    judged = [one.verdict for one in state.settings if one.verdict is not None]
    inside = sum(verdict.outcome == IN_TOLERANCE for verdict in judged)
    return f"{inside} of {len(state.settings)}"


def _was_set(visit: Visit) -> bool:
    """Return whether the deck is known to have left as it did not come."""
    found, left = visit.as_found, visit.as_left
    return found is not None and left is not None and found.settings != left.settings


def _named(visits: Sequence[Visit]) -> list[str]:
    if not visits:
        return []
    names = _joined(f"{visit.name} ({on(visit.on)})" for visit in visits)
    return [f"The deck was set in between, at {names}: what was moved there is part of the changes shown."]


def _to_mind(visit: Visit, when: str, state: DeckState | None) -> list[str]:
    """Return what the state of one occasion says of itself: readings that were left out, and that disagree."""
    lines = () if state is None else (*state.notes, *(one.sentence for one in state.disagreements))
    return [f"{visit.name.capitalize()} as {when}: {line[0].lower()}{line[1:]}" for line in lines]


def on(day: date) -> str:
    """Return a day as it is written on the pages.

    >>> on(date(2031, 3, 2))
    '2 Mar 2031'
    """
    return f"{day.day} {day:%b %Y}"


def _joined(names: Iterable[str]) -> str:
    *first, last = names
    return f"{', '.join(first)} and {last}" if first else last


def _sentence(words: str) -> str:
    return f"{words[0].upper()}{words[1:]}." if words else ""
