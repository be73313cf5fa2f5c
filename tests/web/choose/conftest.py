"""A job whose pivot-to-spindle distance is read and whose targets are still to be chosen."""

from datetime import date

import pytest

from groovewright.jobbook import entries
from groovewright.measurement.parsing import parse_quantity


def open_job():
    owner = entries.add_owner(name="Ilse Marenbach")
    deck = entries.add_deck(owner, description="Belt drive, walnut plinth")
    arm = entries.add_arm(deck, description="Slotted headshell", kind="offset")
    job = entries.open_job(deck, opened=date(2026, 3, 2))
    entries.record_intake(
        job, innermost_mm=60.325, outermost_mm=146.05, arm=arm, groove_disc="12 inch", groove_standard="RIAA 1963"
    )
    typed = "222 mm +- 0.3 mm"
    entries.record_reading(
        job,
        kind="pivot_to_spindle",
        stage="as found",
        text=typed,
        quantity=parse_quantity(typed, "length", source="steel rule"),
    )
    return job


@pytest.fixture
def job(db):
    return open_job()


@pytest.fixture
def live_job(transactional_db, live_server):
    return open_job()


@pytest.fixture
def typed():
    return {
        "pivot_to_spindle": "222 mm +- 0.3 mm",
        "groove": "12 inch|RIAA 1963",
        "own_range": "",
        "arm_kind": "offset",
        "effective_length": "",
        "offset_angle": "",
        "peak_velocity": "10 cm/s",
        "speed": "33 1/3 rpm",
        "criterion": "minimax",
    }
