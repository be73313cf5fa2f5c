"""What a check of a scale shows, stored or still being typed."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from groovewright.gauges.scale_calibration import ScaleCalibration, calibrate
from groovewright.jobbook.job_facts import scale_check_facts
from groovewright.jobbook.models import Job, ScaleCheck


@dataclass(frozen=True)
class CheckResult:
    """A check of a scale with what it shows, or why it shows nothing."""

    check: ScaleCheck
    calibration: ScaleCalibration | None
    refusal: str = ""


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
