"""A job whose targets are chosen and whose plate is still to be drawn."""

from datetime import date

import pytest

from groovewright.bench.targets.targets import TargetRequest, choose_targets
from groovewright.jobbook import entries
from groovewright.measurement.quantity import Quantity


def choose_for(job, distance_mm):
    distance = Quantity.measured(distance_mm, "mm", standard_uncertainty=0.3, source="steel rule")
    return entries.record_targets(job, choose_targets(TargetRequest(distance, "minimax", 60.325, 146.05)))


def open_job():
    owner = entries.add_owner(name="Ilse Marenbach")
    deck = entries.add_deck(owner, description="Belt drive, walnut plinth")
    return entries.open_job(deck, opened=date(2026, 3, 2))


@pytest.fixture
def bare_job(db):
    return open_job()


@pytest.fixture
def job(bare_job):
    choose_for(bare_job, 222.0)
    return bare_job


@pytest.fixture
def live_job(transactional_db, live_server):
    job = open_job()
    choose_for(job, 222.0)
    return job


@pytest.fixture
def choose_again():
    return choose_for


@pytest.fixture
def typed():
    return {
        "kind": "arc",
        "paper": "A4",
        "fan_half_width": "2 mm",
        "fan_step": "0.5 mm",
        "spindle_clearance": "0.05 mm",
    }
