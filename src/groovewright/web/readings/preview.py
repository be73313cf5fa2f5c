"""What a reading would mean, and what a check of a scale shows, before either is entered. Nothing here writes."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

from groovewright.bench.estimate.joined_readings import JoinedReadings
from groovewright.bench.estimate.observations import KINDS_OF_READING
from groovewright.bench.estimate.setting_state import SettingState
from groovewright.gauges.scale_calibration import ScaleCalibration, calibrate
from groovewright.jobbook.job_facts import scale_check_facts
from groovewright.jobbook.job_states import job_state
from groovewright.jobbook.models import Job, Reading, ScaleCheck, Stage
from groovewright.jobbook.queries import JobRecord, facts_of


@dataclass(frozen=True)
class CheckResult:
    """A check of a scale with what it shows, or why it shows nothing."""

    check: ScaleCheck
    calibration: ScaleCalibration | None
    refusal: str = ""


@dataclass(frozen=True)
class ShownResult:
    """What the page shows beside an entry: the settings that it tells, or why nothing can be told."""

    kind: str
    stage: str
    settings: tuple[SettingState, ...]
    reason: str
    distance: JoinedReadings | None

    @property
    def is_distance(self) -> bool:
        """Whether the entry is a pivot-to-spindle distance."""
        return self.kind == Reading.Kind.PIVOT_TO_SPINDLE


def with_reading(record: JobRecord, facts: dict[str, Any]) -> JobRecord:
    """Return the record of a job as it would stand with one more reading."""
    corrected = facts["corrects"]
    standing = tuple(r for r in record.readings if corrected is None or r.pk != corrected.pk)
    return replace(record, readings=(*standing, Reading(job=record.job, **facts)))


def shown_result(record: JobRecord, *, kind: str, stage: str) -> ShownResult:
    """Return what the readings of one stage mean for one kind of entry."""
    told = KINDS_OF_READING[kind].settles if kind in KINDS_OF_READING else ()
    distance = facts_of(record).joined_distance()
    try:
        state = job_state(record)
    except ValueError as refusal:
        return ShownResult(kind, stage, (), str(refusal), distance)
    deck = state.as_left if stage == Stage.AS_LEFT else state.as_found
    settings = () if deck is None else tuple(deck.setting(key) for key in told or ("effective_length",))
    return ShownResult(kind, stage, settings, "", distance)


def check_result(check: ScaleCheck) -> CheckResult:
    """Return what a check shows."""
    try:
        calibration = calibrate(scale_check_facts(check))
    except ValueError as refusal:
        return CheckResult(check, None, str(refusal))
    return CheckResult(check, calibration)


def check_before_entry(job: Job, facts: dict[str, Any]) -> CheckResult:
    """Return what a check would show that is still being typed."""
    readings = [
        {
            "weights": [{"name": w.name, "mass": w.mass.as_record(), "basis": w.basis} for w in reading.weights],
            "indication_mn": reading.indication_mn,
        }
        for reading in facts["readings"]
    ]
    return check_result(ScaleCheck(job=job, scale=facts["scale"], when=facts["when"], readings=readings))
