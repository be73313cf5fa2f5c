"""What a reading would mean, and what a check of a scale shows, before either is entered. Nothing here writes."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

from groovewright.bench.assessment import Assessment, StageResult, assess
from groovewright.gauges.scale_calibration import ScaleCalibration, calibrate
from groovewright.jobbook.assessing import scale_check_facts
from groovewright.jobbook.models import Job, Reading, ScaleCheck
from groovewright.jobbook.queries import JobRecord, inputs_of


@dataclass(frozen=True)
class CheckResult:
    """A check of a scale with what it shows, or why it shows nothing."""

    check: ScaleCheck
    calibration: ScaleCalibration | None
    refusal: str = ""


@dataclass(frozen=True)
class ShownResult:
    """What the page shows beside an entry: the results of its stage, and what could not be computed."""

    kind: str
    result: StageResult
    assessment: Assessment
    problems: tuple[str, ...]

    @property
    def is_force(self) -> bool:
        """Whether the entry is a tracking force."""
        return self.kind == Reading.Kind.TRACKING_FORCE

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
    assessment = assess(inputs_of(record))
    about = "tracking force" if kind == Reading.Kind.TRACKING_FORCE else "effective length"
    return ShownResult(
        kind=kind,
        result=assessment.as_left if stage == assessment.as_left.stage else assessment.as_found,
        assessment=assessment,
        problems=tuple(p.sentence for p in assessment.problems if p.about in (f"{stage}: {about}", "targets")),
    )


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
