"""A job that is read as found and as left, for the tests of its pages."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

import pytest

from groovewright.bench.targets.targets import TargetRequest, choose_targets
from groovewright.gauges.check_weights import weight_of_class
from groovewright.gauges.scale_calibration import WeightReading
from groovewright.jobbook import entries
from groovewright.jobbook.queries import next_reading_source
from groovewright.measurement.parsing import parse_quantity
from groovewright.measurement.quantity import Quantity

GRAM_FORCE_MN = 9.80665


@dataclass(frozen=True)
class Bench:
    """What the book holds."""

    owner: object
    deck: object
    job: object
    scale: object
    gauge: object
    readings: tuple


def typed(text, kind, source):
    return parse_quantity(text, kind, source=source)


def fill(owner_name="Ilse Marwitz"):
    owner = entries.add_owner(name=owner_name, contact="Kelvin 4")
    deck = entries.add_deck(owner, description="Belt drive, walnut plinth")
    arm = entries.add_arm(deck, description="Nine-inch arm", effective_mass=typed("12 g +- 0.5 g", "mass", "arm"))
    cartridge = entries.add_cartridge(
        description="Moving magnet, elliptical",
        tracking_force_lower=Quantity.exact(1.6 * GRAM_FORCE_MN, "mN"),
        tracking_force_upper=Quantity.exact(2.2 * GRAM_FORCE_MN, "mN"),
        stylus_hours=120.0,
    )
    gauge = entries.add_gauge(
        description="Steel rule",
        standard_uncertainty=Quantity.measured(0.0, "mm", standard_uncertainty=0.2, source="steel rule"),
    )
    scale = entries.add_scale(description="Scale 2", resolution=Quantity.exact(0.01 * GRAM_FORCE_MN, "mN"))
    job = entries.open_job(deck, opened=date(2031, 3, 2), complaint="harsh at the end of a side")
    entries.record_intake(
        job,
        arm=arm,
        cartridge=cartridge,
        innermost_mm=60.325,
        outermost_mm=146.05,
        groove_disc="12 inch",
        groove_standard="RIAA 1963",
        record_thickness=typed("1.9 mm +- 0.1 mm", "length", "record"),
    )
    distance = typed("222 mm +- 0.3 mm", "length", "distance")
    entries.record_targets(job, choose_targets(TargetRequest(distance, "minimax", 60.325, 146.05)))
    weight = weight_of_class("2 g, class M1", nominal_g=2.0, accuracy_class="M1")
    shown = [((), 0.0), ((), 0.0), ((weight,), 2.01), ((weight,), 2.0), ((weight,), 2.01)]
    entries.check_scale(
        scale,
        job=job,
        readings=[WeightReading(weights, g * GRAM_FORCE_MN) for weights, g in shown],
        texts=[f"{g:.2f} g" for _, g in shown],
    )
    readings = tuple(
        entries.record_reading(
            job,
            kind=kind,
            stage=stage,
            text=text,
            quantity=typed(text, "length" if kind == "overhang" else "force", next_reading_source(job, kind)),
            **where,
        )
        for kind, stage, text, where in (
            ("overhang", "as found", "16.1 mm +- 0.3 mm", {}),
            ("tracking_force", "as found", "1.95 g", {"place": "outer", "scale": scale}),
            ("overhang", "as left", "17.3 mm +- 0.2 mm", {}),
            ("tracking_force", "as left", "1.90 g", {"place": "outer", "scale": scale}),
        )
    )
    return Bench(owner, deck, job, scale, gauge, readings)


@pytest.fixture
def bench(db):
    return fill()


@pytest.fixture
def fill_book():
    """The same as a function, for tests that name the owner or run in the browser."""
    return fill
