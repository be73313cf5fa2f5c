"""What the joint estimate of a job's deck says, the moves made, and the visit before, as the report puts them."""

from __future__ import annotations

from typing import TYPE_CHECKING

from groovewright.measurement.quantity import Quantity
from groovewright.report.parts import AS_FOUND, AS_LEFT, ChangeLine, Fact, MoveLine, SettingLine, VisitBefore
from groovewright.report.wording import day

if TYPE_CHECKING:
    from groovewright.bench.estimate.setting_state import SettingState
    from groovewright.jobbook.job_record import JobRecord

SAID_ELSEWHERE = ("effective_length", "tracking_force")
"""Settings of which the report has verdicts by themselves; the seven are listed where more was read than these."""


def stage_of_bench(record: JobRecord) -> str:
    """Return whether the seven settings are those as left, or as found since nothing was done yet."""
    left = record.adjustments or any(reading.stage == AS_LEFT for reading in record.readings)
    return AS_LEFT if left else AS_FOUND


def settings_of_bench(record: JobRecord) -> tuple[tuple[SettingLine, ...], tuple[str, ...]]:
    """Return the seven settings as the player stands, with what to mind; both empty where they cannot be told."""
    from groovewright.jobbook.bench_states import standing_deck

    try:
        state = standing_deck(record).state
    except ValueError:
        return (), ()
    read = [setting.key for setting in state.settings if setting.quantity is not None]
    if not record.adjustments and set(read) <= set(SAID_ELSEWHERE):
        return (), ()
    stale = [f"{_name(setting.key)}: {setting.why_stale}" for setting in state.settings if setting.why_stale]
    return tuple(map(_setting_line, state.settings)), (*state.outliers, *stale, *state.notes)


def settings_as_found(record: JobRecord) -> tuple[SettingLine, ...]:
    """Return the settings as the player came in, where it was worked on since; else empty."""
    from groovewright.jobbook.bench_states import deck_as_found

    if stage_of_bench(record) == AS_FOUND:
        return ()
    return tuple(map(_setting_line, deck_as_found(record).state.settings))


def _setting_line(setting: SettingState) -> SettingLine:
    from groovewright.bench.estimate.settings import SETTINGS

    unit = SETTINGS[setting.key].unit
    return SettingLine(
        setting=_name(setting.key),
        quantity=setting.quantity,
        aim=None if setting.aim is None else Quantity.exact(setting.aim, unit, how="aim"),
        tolerance=setting.tolerance,
        verdict=setting.verdict,
        note="to be read again" if setting.stale else "",
    )


def _name(key: str) -> str:
    from groovewright.bench.estimate.settings import SETTINGS

    of_error = {"effective_length": "Effective length error", "zenith": "Zenith error", "side_force": "Side force left"}
    return of_error.get(key) or next(known.title for known in SETTINGS.values() if known.key == key)


def moves_of(record: JobRecord) -> tuple[MoveLine, ...]:
    """Return the moves that stand, oldest first."""
    from groovewright.jobbook.bench_facts import ADJUSTER_WORDS

    return tuple(
        MoveLine(
            number=number,
            text=move.text,
            amounts=tuple(
                Fact(
                    ADJUSTER_WORDS[name][0],
                    Quantity.measured(
                        amount,
                        ADJUSTER_WORDS[name][1],
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
