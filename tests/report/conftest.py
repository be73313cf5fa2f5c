"""An invented job as a report tells it: a small one, a full one and an empty one."""

from __future__ import annotations

import datetime
import io
import math

import pytest
from pdfminer.high_level import extract_text

from groovewright.measurement.conformity import DecisionRule, Tolerance, decide
from groovewright.measurement.quantity import Quantity, Source
from groovewright.report.parts import (
    AS_FOUND,
    AS_LEFT,
    TARGET,
    Equipment,
    Fact,
    GaugeLine,
    GrooveCurve,
    Judgement,
    PlateLine,
    ReadingLine,
    ReportContents,
    Resonance,
    TargetSet,
)

RULE = DecisionRule("guarded acceptance")
LENGTH_TOLERANCE = Tolerance(-0.5, 0.5, "mm")
FORCE_TOLERANCE = Tolerance(16.671305, 20.593965, "mN")


def length_error(value_mm: float) -> Quantity:
    return Quantity(
        value_mm,
        "mm",
        {
            Source("steel rule 3, graduation"): 0.11,
            Source("pivot-to-spindle distance"): 0.04,
            Source("sighting of the stylus tip"): -0.08,
        },
    )


def force(value_mn: float) -> Quantity:
    return Quantity(
        value_mn,
        "mN",
        {
            Source("Scale 2, calibration before the job"): 0.05,
            Source("check weight 2 g, class M1"): 0.03,
            Source("height of the platform"): 0.06,
        },
    )


def curve(stage: str, length_mm: float) -> GrooveCurve:
    """Points of the geometry in the physics notes with a length that may be off; the offset is on target."""
    radius_mm = [60.325 + k * (146.05 - 60.325) / 80 for k in range(81)]
    error = [math.degrees(math.asin((r**2 + length_mm**2 - 222**2) / (2 * r * length_mm))) - 22.9855 for r in radius_mm]
    distortion = [
        100 * 10 / (2 * math.pi * 33.333 / 60 * r / 10) * abs(math.tan(math.radians(a)))
        for r, a in zip(radius_mm, error, strict=True)
    ]
    return GrooveCurve(stage, tuple(radius_mm), tuple(error), tuple(distortion))


def reading(number: int, stage: str, quantity: Quantity, **more: object) -> ReadingLine:
    fields = {"what": "overhang", "gauge": "steel rule 3", "where": "by the arc plate"} | more
    return ReadingLine(number=number, stage=stage, quantity=quantity, **fields)


@pytest.fixture
def full_contents() -> ReportContents:
    """A job with everything a report can hold."""
    gauge = "certified rule, letter of 2030"
    return ReportContents(
        title="Set-up report",
        report_date=datetime.date(2031, 5, 6),
        workshop="Tern Lane Record Bench",
        workshop_lines=("14 Tern Lane, Alderby",),
        job_number="47",
        record_number="312",
        record_hash="9f3c" * 16,
        taken_in=datetime.date(2031, 5, 4),
        left_on=datetime.date(2031, 5, 6),
        owner="Ottilie Brandt",
        equipment=(
            Equipment("Deck", "belt drive in ash, two-part platter", (Fact("Serial number", "A-0193"),)),
            Equipment(
                "Arm",
                "nine-inch arm with fixed headshell slots",
                (
                    Fact("Effective mass", Quantity.measured(11.5, "g", standard_uncertainty=0.5, source="maker")),
                    Fact("Drawn effective length", None),
                ),
            ),
            Equipment("Cartridge", "moving coil, elliptical stylus", (Fact("Maker's tracking force", "1.7 to 2.1 g"),)),
        ),
        complaint="Esses spit on the last track of most sides, worse on the right.\nSecond paragraph of the complaint.",
        records_played="12 inch, mostly pressings after 1970, 1.6 to 2.2 mm thick",
        innermost_mm=60.325,
        outermost_mm=146.05,
        targets=TargetSet(
            criterion="Least peak of error over radius, classic formula (Löfgren 1938, Baerwald 1941)",
            why="The owner plays whole sides, so no part of the groove is favoured; the slots allow 235 to 243 mm.",
            quantities=(
                Fact("Effective length", Quantity.measured(239.2961, "mm", standard_uncertainty=0.28, source="D")),
                Fact("Overhang", Quantity.measured(17.2961, "mm", standard_uncertainty=0.022, source="D")),
                Fact("Offset angle", Quantity.measured(22.9855, "deg", standard_uncertainty=0.028, source="D")),
                Fact("Inner null radius", Quantity.exact(65.998, "mm")),
            ),
            notes=("An error in the pivot-to-spindle distance moves the target and the reading alike.",),
        ),
        judgements=(
            Judgement(
                "effective length error",
                AS_FOUND,
                "aim 0 mm",
                decide(length_error(-1.92), LENGTH_TOLERANCE, RULE),
                "Distortion peaked at 2.1 % near the label.",
            ),
            Judgement(
                "effective length error",
                AS_LEFT,
                "aim 0 mm",
                decide(length_error(0.07), LENGTH_TOLERANCE, RULE),
                "Distortion now peaks at 0.7 %.",
            ),
            Judgement("tracking force", AS_FOUND, "aim 1.9 g", decide(force(16.55), FORCE_TOLERANCE, RULE)),
            Judgement("tracking force", AS_LEFT, "aim 1.9 g", decide(force(18.6), FORCE_TOLERANCE, RULE)),
        ),
        readings=(
            reading(
                1,
                AS_FOUND,
                Quantity.measured(15.38, "mm", standard_uncertainty=0.14, source="rule"),
                read_at=datetime.datetime(2031, 5, 4, 10, 12, tzinfo=datetime.UTC),
            ),
            reading(
                2,
                AS_FOUND,
                force(161.5),
                what="tracking force",
                gauge="Scale 2",
                where="outer platter",
                corrected_by=3,
                note="typed with a slip",
            ),
            reading(
                3, AS_FOUND, force(16.55), what="tracking force", gauge="Scale 2", where="outer platter", corrects=2
            ),
            reading(4, AS_LEFT, Quantity.measured(17.366, "mm", standard_uncertainty=0.14, source="rule")),
            reading(5, AS_LEFT, force(18.6), what="tracking force", gauge="Scale 2", where="inner platter"),
            reading(
                6,
                AS_LEFT,
                Quantity.unknown_uncertainty(221.9, "mm", why="typed without one"),
                what="pivot-to-spindle distance",
            ),
        ),
        gauges=(
            GaugeLine("steel rule 3", gauge, (Fact("Standard uncertainty", "0.10 mm"),)),
            GaugeLine(
                "Scale 2",
                None,
                (
                    Fact("Check weights", "1 g, 2 g, 5 g, class M1"),
                    Fact("Gain", Quantity.measured(1.0021, "1", standard_uncertainty=0.0015, source="fit")),
                    Fact("Offset", Quantity.measured(-0.021, "mN", standard_uncertainty=0.011, source="fit")),
                    Fact(
                        "Drift from before to after",
                        Quantity.measured(0.012, "mN", standard_uncertainty=0.02, source="two fits"),
                    ),
                ),
            ),
        ),
        curves=(curve(AS_FOUND, 237.38), curve(AS_LEFT, 239.366), curve(TARGET, 239.2961)),
        curves_note="The offset angle was not measured: as found and as left, it is taken to be on target.",
        plates=(
            PlateLine("47-A", "arc plate", datetime.date(2031, 5, 4), 1.0, 1.0),
            PlateLine("47-B", "arc plate", datetime.date(2031, 5, 4), 1.00251, 0.99874, "corrects 47-A"),
        ),
        resonance=Resonance(
            decide(
                Quantity.measured(10.27, "Hz", standard_uncertainty=0.6, source="compliance"),
                Tolerance(8.0, 12.0, "Hz"),
                RULE,
            ),
            (Fact("Moving mass", Quantity.measured(20, "g", standard_uncertainty=0.6, source="maker")),),
            ("The compliance is quoted at 100 Hz; at 10 Hz it is higher by a factor of 1.5 to 2.",),
        ),
        done=("The cartridge was moved forward by 2.0 mm.", "The tracking force was set to the middle of its range."),
        faults=("The arm's bearing has play: the force differs by 0.05 g between the outer and the inner platter.",),
        missing=("Side force: not measured.",),
    )


@pytest.fixture
def empty_contents() -> ReportContents:
    """A job of which hardly anything is known yet."""
    return ReportContents(
        title="Set-up report",
        report_date=datetime.date(2031, 5, 6),
        workshop="Tern Lane Record Bench",
        job_number="48",
        record_number="313",
        record_hash="0a1b" * 16,
    )


@pytest.fixture
def words_of():
    """Return the text of a PDF, with line breaks and spacing made plain."""

    def words(document: bytes) -> str:
        return " ".join(extract_text(io.BytesIO(document)).replace("\u200b", "").split())

    return words
