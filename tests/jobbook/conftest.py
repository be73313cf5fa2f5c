"""A job with one row of every kind, entered the way the pages enter it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

import pytest

from groovewright.measurement.quantity import Quantity
from groovewright.tonearm.arm_state import Adjustments

SHEET = """equalised = false
speed_rpm = "33 1/3"
[[bands]]
name = "3150 Hz"
kind = "tone"
cut = "lateral"
frequency_hz = 3150
radius_mm = [120, 118]
"""


@dataclass(frozen=True)
class Bench:
    """What the filled book holds."""

    owner: object
    deck: object
    job: object
    reading: object
    scale: object
    plate: object
    analysis: object


def measured(value: float, unit: str = "mm", u: float = 0.2, source: str = "steel rule") -> Quantity:
    return Quantity.measured(value, unit, standard_uncertainty=u, source=source)


def fill_the_book() -> Bench:
    from groovewright.bench.targets.targets import TargetRequest, choose_targets
    from groovewright.gauges.check_weights import weight_of_class
    from groovewright.gauges.scale_calibration import WeightReading
    from groovewright.jobbook import capture_entries, content_store, entries
    from groovewright.plates.plate import PlateRequest

    owner = entries.add_owner(name="Ilse Marwitz", contact="ilse at home")
    deck = entries.add_deck(owner, description="belt-drive deck, walnut plinth")
    arm = entries.add_arm(
        deck,
        description="nine-inch arm, straight tube",
        effective_mass=measured(11.0, "g"),
        build={"pivot_height_mm": 20.0, "bearing": "gimbal"},
        adjuster_limits={"slide_mm": (-4.0, 5.0)},
    )
    cartridge = entries.add_cartridge(
        description="moving-magnet cartridge",
        tracking_force_lower=Quantity.exact(15.0, "mN"),
        tracking_force_upper=Quantity.exact(20.0, "mN"),
    )
    gauge = entries.add_gauge(description="steel rule", standard_uncertainty=measured(0.0, u=0.1))
    scale = entries.add_scale(description="Scale 1", resolution=Quantity.exact(0.0980665, "mN"))
    job = entries.open_job(deck, opened=date(2026, 3, 2), complaint="harsh at the end of a side")
    entries.correct_complaint(job, text="harsh at the end of every side")
    entries.record_intake(
        job,
        arm=arm,
        cartridge=cartridge,
        innermost_mm=60.325,
        outermost_mm=146.05,
        tolerances={"azimuth": {"lower": -0.4, "upper": 0.4}},
        stylus_hours=310.0,
    )
    distance = measured(222.4, source="distance of job 1")
    reading = entries.record_reading(
        job, kind="pivot_to_spindle", stage="as found", text="222.4 +- 0.2 mm", quantity=distance, gauge=gauge
    )
    targets = choose_targets(TargetRequest(distance, "minimax", 60.325, 146.05))
    choice = entries.record_targets(job, targets)
    weight = weight_of_class("2 g, box 1", nominal_g=2.0, accuracy_class="M1")
    entries.check_scale(
        scale, job=job, readings=[WeightReading((), 0.0), WeightReading((weight,), 19.6)], texts=["0.00 g", "2.00 g"]
    )
    plate = entries.issue_plate(job, PlateRequest("arc", targets.geometry, 60.325, 146.05, "Least peak"), choice=choice)
    entries.record_reading(
        job, kind="print_bar_x", stage="as found", text="99.8 mm", quantity=measured(99.8), plate=plate
    )
    entries.record_reading(
        job,
        kind="tracking_force",
        stage="as found",
        text="1.85 g",
        quantity=measured(18.1, "mN"),
        place="outer",
        scale=scale,
    )
    entries.record_reading(
        job,
        kind="null_angle",
        stage="as found",
        text="0.8 deg +- 0.2 deg",
        quantity=measured(0.8, "deg", source="protractor"),
        radius_mm=66.0,
    )
    entries.record_reading(
        job,
        kind="arc_trace",
        stage="as found",
        text="0.3 mm +- 0.1 mm",
        quantity=measured(0.3, u=0.1, source="eye"),
        plate=plate,
        bearing_deg=20.0,
    )
    entries.record_adjustment(
        job, amounts=Adjustments(slide_mm=0.4), uncertainties=Adjustments(slide_mm=0.1, turn_deg=0.15)
    )
    entries.record_fault(job, text="play in the horizontal bearing")
    sheet = capture_entries.add_capture(
        job, stage="as found", name="side a.wav", size=4, file_sha256=content_store.keep(b"tone"), sheet_text=SHEET
    )
    result = {
        "recording": {"form": "WAV", "sample_rate_hz": 48e3, "channel_count": 2, "duration_s": 9.0, "peak": 0.5},
        "quantities": {"speed_error": measured(0.12, "%", 0.01, "noise").as_record()},
        "not_shown": {"eccentricity": "The band is shorter than a turn."},
        "notes": [],
        "bands": [{"name": "3150 Hz", "start_s": 1.0, "duration_s": 8.0, "how": "found"}],
    }
    pictures = {"overview": {"start_s": [0, 9], "lowest": [[-0.5], [-0.5]], "highest": [[0.5], [0.5]]}}
    analysis = capture_entries.record_analysis(sheet, result=result, refusal="", pictures=pictures)
    capture_entries.enter_capture(analysis)
    entries.issue_report(job, write=lambda number: f"report {number}".encode(), assessment={"verdict": "undecided"})
    entries.attach_file(job, name="photo of the headshell.jpg", media_type="image/jpeg", content=b"picture")
    return Bench(owner, deck, job, reading, scale, plate, analysis)


@pytest.fixture
def bench(db) -> Bench:
    return fill_the_book()


@pytest.fixture(name="fill_the_book", scope="session")
def fill_the_book_fixture():
    return fill_the_book
