"""What the joint estimate of a job's deck says, the moves made, and the visit before, as the report puts them."""

from __future__ import annotations

from typing import TYPE_CHECKING

from groovewright.measurement.quantity import Quantity
from groovewright.report.parts import AS_FOUND, AS_LEFT, ChangeLine, Fact, MoveLine, SettingLine, VisitBefore
from groovewright.report.wording import day
from groovewright.tonearm.adjusters import ADJUSTER_TABLE

if TYPE_CHECKING:
    from groovewright.bench.estimate.job_state import JobState
    from groovewright.bench.estimate.setting_state import SettingState
    from groovewright.jobbook.job_record import JobRecord


def stage_of_bench(state: JobState | None) -> str:
    """Return whether the seven settings are those as left, or as found since nothing was done yet."""
    return AS_FOUND if state is None or state.as_left is None else AS_LEFT


def settings_of_bench(state: JobState | None) -> tuple[tuple[SettingLine, ...], tuple[str, ...]]:
    """Return the seven settings as the player is, with notes; both empty where they cannot be told."""
    if state is None:
        return (), ()
    now = state.now
    reasons = [f"{_name(setting.key)}: {setting.reason}" for setting in now.settings if setting.reason]
    return tuple(map(_setting_line, now.settings)), (*(one.sentence for one in now.disagreements), *reasons, *now.notes)


def settings_as_found(state: JobState | None) -> tuple[SettingLine, ...]:
    """Return the settings as the player came in, where it was worked on since; else empty."""
    if state is None or state.as_left is None:
        return ()
    return tuple(map(_setting_line, state.as_found.settings))


def _setting_line(setting: SettingState) -> SettingLine:
    from groovewright.bench.estimate.settings import SETTINGS

    unit = SETTINGS[setting.key].unit
    return SettingLine(
        setting=_name(setting.key),
        quantity=setting.quantity,
        aim=None if setting.aim is None else Quantity.exact(setting.aim, unit, how="aim"),
        tolerance=setting.tolerance,
        verdict=setting.verdict,
        note="calculated" if setting.basis == "calculated" else "",
    )


def _name(key: str) -> str:
    from groovewright.bench.estimate.settings import SETTINGS

    of_error = {"effective_length": "Effective length error", "zenith": "Zenith error", "side_force": "Side force left"}
    return of_error.get(key) or next(known.title for known in SETTINGS.values() if known.key == key)


def moves_of(record: JobRecord) -> tuple[MoveLine, ...]:
    """Return the moves that stand, oldest first."""
    return tuple(
        MoveLine(
            number=number,
            text=move.text,
            amounts=tuple(
                Fact(
                    ADJUSTER_TABLE[name].positive,
                    Quantity.measured(
                        amount,
                        ADJUSTER_TABLE[name].unit,
                        standard_uncertainty=move.uncertainties[name],
                        source=f"the hand, move {number}",
                    ),
                )
                for name, amount in move.amounts.items()
                if amount
            ),
            made_at=move.recorded_local,
            note=move.note,
        )
        for number, move in enumerate(record.adjustments, start=1)
    )


def visit_before_of(record: JobRecord) -> VisitBefore | None:
    """Return how the player had changed since the visit before; None where nothing was read on both occasions."""
    from groovewright.bench.visits.comparison import compare_visits
    from groovewright.jobbook.deck_visits import visit_before, visit_of

    before = visit_before(record)
    if before is None:
        return None
    compared = compare_visits(before.visit, visit_of(record).visit)
    if all(drift.change is None for drift in compared.drifts):
        return None
    played = "" if compared.stylus_hours is None else f" The stylus has played {compared.stylus_hours:g} hours since."
    return VisitBefore(
        sentence=(
            f"The visit before was {before.visit.name} of {day(before.visit.on)}, {compared.days} days earlier.{played}"
        ),
        changes=tuple(
            ChangeLine(
                _name(drift.key),
                None if drift.left is None else drift.left.quantity,
                None if drift.found is None else drift.found.quantity,
                drift.change,
                drift.sentence,
            )
            for drift in compared.drifts
        ),
        notes=compared.notes,
    )
