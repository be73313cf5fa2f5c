"""A deck's visits to the bench: how far each setting drifted between two, and whether it is shown to have changed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date
from itertools import pairwise
from typing import Any

from groovewright.bench.estimate.setting_state import DeckState, SettingState
from groovewright.bench.estimate.settings import SETTING_KEYS, SETTINGS, SettingKey, SettingTargets
from groovewright.gauges.difference import exceeds_uncertainty
from groovewright.measurement.formatting import format_force, format_quantity
from groovewright.measurement.propagation import propagate
from groovewright.measurement.quantity import Quantity

TARGET_MOVED_MM = 0.02
TARGET_MOVED_DEG = 0.01
"""A target that moved by less between two visits is the same one, chosen for a distance that was measured again."""

OF_THE_DECK = ("usual ", "friction coefficient of stylus and groove")
"""How sources begin that stand for what nobody read of the deck: whatever it is, it is the same at both visits.

All else is an error of its visit. A gauge ages, and how much of its stated uncertainty would repeat after half a year
nobody knows, so its errors at two visits are taken as two: a change is then never shown by gauges alone.
"""


@dataclass(frozen=True)
class Visit:
    """One visit of a deck.

    Parameters
    ----------
    name : str
        What it is called, for example ``"job 12"``.
    on : date
        When it began.
    targets : SettingTargets or None
        Chosen at this visit; None if none were.
    as_found, as_left : DeckState or None
        How the deck stood when it came and when it went; None where that cannot be told.
    stylus : str
        Which cartridge; its hours count on only while it stays.
    stylus_hours : float or None
        That the stylus had played when the deck came in. [h]
    moves : tuple of str
        What was moved, in words, in the order in which it was done.
    """

    name: str
    on: date
    targets: SettingTargets | None = None
    as_found: DeckState | None = None
    as_left: DeckState | None = None
    stylus: str = ""
    stylus_hours: float | None = None
    moves: tuple[str, ...] = ()


@dataclass(frozen=True)
class Drift:
    """How far one setting changed between two visits.

    Attributes
    ----------
    key : str
        Of `SETTING_KEYS`.
    left, found : SettingState or None
        As left by the earlier visit and as found by the later one, each against the targets of its time.
    change : Quantity or None
        Found less left, against the same target. None where it was not read on both occasions.
    shown : bool
        Whether it lies outside its own 95 % interval about 0.
    sentence : str
        What that means, in one sentence.
    """

    key: SettingKey
    left: SettingState | None
    found: SettingState | None
    change: Quantity | None
    shown: bool
    sentence: str

    def as_json(self) -> dict[str, Any]:
        """Return one object of plain JSON types; what is not known is null."""
        left, found = (None if one is None else one.quantity for one in (self.left, self.found))
        return {
            "key": self.key,
            "as_left": None if left is None else left.as_json(),
            "as_found": None if found is None else found.as_json(),
            "change": None if self.change is None else self.change.as_json(),
            "shown": self.shown,
            "sentence": self.sentence,
        }


@dataclass(frozen=True)
class VisitComparison:
    """What happened to a deck between two visits.

    Attributes
    ----------
    earlier, later : Visit
    days : int
        From the beginning of one to the beginning of the other.
    stylus_hours : float or None
        On the same stylus between the visits; None where that cannot be told. [h]
    drifts : tuple of Drift
        In the order of `SETTING_KEYS`.
    notes : tuple of str
        What to mind.
    """

    earlier: Visit
    later: Visit
    days: int
    stylus_hours: float | None
    drifts: tuple[Drift, ...]
    notes: tuple[str, ...]

    @property
    def changed(self) -> tuple[Drift, ...]:
        """The settings that are shown to have changed."""
        return tuple(drift for drift in self.drifts if drift.shown)

    def as_json(self) -> dict[str, Any]:
        """Return one object of plain JSON types; what is not known is null."""
        return {
            "earlier": self.earlier.name,
            "later": self.later.name,
            "days": self.days,
            "stylus_hours": self.stylus_hours,
            "drifts": [drift.as_json() for drift in self.drifts],
            "moves_at_earlier": list(self.earlier.moves),
            "moves_at_later": list(self.later.moves),
            "notes": list(self.notes),
        }


def compare_visits(earlier: Visit, later: Visit) -> VisitComparison:
    """Return how far a deck drifted from how it was left at one visit to how it was found at a later one.

    Raises
    ------
    ValueError
        If the later visit began before the earlier one.
    """
    days = (later.on - earlier.on).days
    if days < 0:
        raise ValueError(f"{later.name} began on {later.on}, before {earlier.name} on {earlier.on}; swap the two")
    hours, about_hours = _hours_between(earlier, later)
    shifts, about_targets = _target_shifts(earlier.targets, later.targets)
    drifts = tuple(_drift(key, earlier, later, shifts.get(key, 0.0)) for key in SETTING_KEYS)
    return VisitComparison(earlier, later, days, hours, drifts, (*about_hours, *about_targets))


def compare_in_turn(visits: Sequence[Visit]) -> tuple[VisitComparison, ...]:
    """Return the comparison of each visit with the one before it, oldest first."""
    return tuple(compare_visits(one, next_one) for one, next_one in pairwise(visits))


def _drift(key: SettingKey, earlier: Visit, later: Visit, shift: float) -> Drift:
    left = None if earlier.as_left is None else earlier.as_left.setting(key)
    found = None if later.as_found is None else later.as_found.setting(key)
    title = SETTINGS[key].title
    unread = [
        f"as {when} at {visit.name}"
        for one, when, visit in ((left, "left", earlier), (found, "found", later))
        if one is None or one.quantity is None
    ]
    if left is None or found is None or left.quantity is None or found.quantity is None:
        return Drift(key, left, found, None, shown=False, sentence=f"{title}: not read {' nor '.join(unread)}.")
    change = propagate(
        lambda **at: at["as found"] - at["as left"] - shift,
        {"as found": _of_visit(found.quantity, later), "as left": _of_visit(left.quantity, earlier)},
        unit=found.quantity.unit,
        how="as found less as left at the visit before",
    )
    shown = exceeds_uncertainty(change)
    by = format_force(change) if change.unit == "mN" else format_quantity(change)
    verb = "changed by" if shown else "is not shown to have changed:"
    is_calculated = "calculated" in (left.basis, found.basis)
    stale = " It was not read after the last move, so this tells little." if is_calculated else ""
    return Drift(key, left, found, change, shown, f"{title} {verb} {by}.{stale}")


def _of_visit(quantity: Quantity, visit: Visit) -> Quantity:
    """Return a setting with its errors named after the visit, except for what is the deck's."""
    if quantity.components is None:
        return quantity
    return replace(
        quantity,
        components={
            source
            if source.label.startswith(OF_THE_DECK)
            else replace(source, label=f"{source.label}, {visit.name}", ensemble=_named(source.ensemble, visit)): part
            for source, part in quantity.components.items()
        },
    )


def _named(ensemble: str, visit: Visit) -> str:
    return f"{ensemble}, {visit.name}" if ensemble else ""


def _hours_between(earlier: Visit, later: Visit) -> tuple[float | None, list[str]]:
    before, after = earlier.stylus_hours, later.stylus_hours
    if before is None or after is None:
        return None, ["The hours on the stylus were not entered at both visits."]
    if earlier.stylus != later.stylus:
        return None, [f"Another cartridge is fitted: {later.stylus}, before it {earlier.stylus}."]
    if after < before:
        return None, [f"The stylus had {before:g} h before and has {after:g} h now, so it was replaced in between."]
    return after - before, []


def _target_shifts(
    before: SettingTargets | None, after: SettingTargets | None
) -> tuple[dict[SettingKey, float], list[str]]:
    """Return by how much an unchanged arm's errors differ since the targets do, by setting, and what to say of it."""
    if before is None or after is None:
        return {}, []
    off_mm = after.geometry.pivot_to_spindle_mm - before.geometry.pivot_to_spindle_mm
    # What the former rule asks for at the distance of the later targets, less what these ask for.
    length_mm = before.geometry.effective_length_mm + before.length_slope * off_mm - after.geometry.effective_length_mm
    angle_deg = (
        before.geometry.offset_angle_deg + before.offset_slope_deg_per_mm * off_mm - after.geometry.offset_angle_deg
    )
    if abs(length_mm) < TARGET_MOVED_MM and abs(angle_deg) < TARGET_MOVED_DEG:
        return {}, []
    return {"effective_length": length_mm, "zenith": angle_deg}, [
        f"The targets were chosen anew: the effective length is to be {-length_mm:+.2f} mm and the offset angle "
        f"{-angle_deg:+.2f}° from what they were. The changes shown leave that out."
    ]
