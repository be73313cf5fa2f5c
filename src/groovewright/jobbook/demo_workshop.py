"""An invented workshop with jobs in different states. Owners and decks are made up.

Readings come from `demo_bench`, and the capture from `demo_capture`.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np
from django.utils import timezone

from groovewright.bench.targets.targets import TargetRequest, Targets, choose_targets
from groovewright.jobbook import entries
from groovewright.jobbook.demo_bench import (
    TrueDeck,
    TrueScale,
    check_readings,
    force_as_typed,
    grams_force_in_mn,
    length_as_typed,
)
from groovewright.jobbook.demo_capture import capture_as_found
from groovewright.jobbook.demo_seven_settings import job_set_up_in_all_seven, visits_half_a_year_apart
from groovewright.jobbook.gauge_uncertainty import with_gauge_uncertainty
from groovewright.jobbook.job_record import job_record
from groovewright.jobbook.models import Arm, Cartridge, Gauge, IssuedPlate, Job, Scale, ScaleCheck
from groovewright.jobbook.queries import facts_of, next_reading_source
from groovewright.measurement.parsing import parse_quantity
from groovewright.measurement.quantity import Quantity
from groovewright.plates.plate import PlateRequest
from groovewright.plates.print_scale import print_scale
from groovewright.tonearm.criteria import CRITERIA

INNERMOST_MM, OUTERMOST_MM = 60.325, 146.05
CRITERION = "minimax"
PLATFORM_MM = 3.0
RECORD_MM = 1.6
SEED = 33


def make_demo_workshop(*, hand_over: Callable[[Job], object] | None = None) -> None:
    """Fill an empty book with the invented workshop; a book that holds a job already is left alone.

    Parameters
    ----------
    hand_over : callable, optional
        Issues the report of the job that is finished; without it that job stops just before.
    """
    if Job.objects.exists():
        return
    with entries.writing():
        workshop = Workshop()
        workshop.finished_job()
        workshop.job_with_a_force_difference()
        workshop.job_with_a_drifting_scale()
        workshop.job_out_of_tolerance()
        workshop.job_with_a_checked_plate()
        workshop.job_with_targets()
        workshop.job_just_taken_in()
        visits_half_a_year_apart(workshop)
        job_set_up_in_all_seven(workshop)
        # Within the same entry: killed half way, the book stays empty and the next start makes the whole workshop.
        if hand_over is not None:
            hand_over(Job.objects.get(number=1))


@dataclass(frozen=True)
class VisitOnBench:
    """A job with what is on the bench for it."""

    job: Job
    arm: Arm
    cartridge: Cartridge
    truth: TrueDeck


class Workshop:
    """The bench of the invented workshop: its gauges, and one chance that repeats from run to run."""

    def __init__(self) -> None:
        self.rng = np.random.default_rng(SEED)
        self.rule: Gauge = entries.add_gauge(
            description="Steel rule, 300 mm",
            certificate="SR-0417",
            standard_uncertainty=parse_quantity("0 mm +- 0.1 mm", "length", source="steel rule SR-0417"),
            note="Read under a magnifier, end to end.",
        )
        self.caliper: Gauge = entries.add_gauge(
            description="Digital caliper, 150 mm",
            certificate="DC-0092",
            standard_uncertainty=parse_quantity("0 mm +- 0.02 mm", "length", source="caliper DC-0092"),
        )
        self.scale: Scale = entries.add_scale(
            description="Scale 1",
            resolution=Quantity.exact(grams_force_in_mn(0.01), "mN"),
            platform_height=Quantity.measured(
                PLATFORM_MM, "mm", standard_uncertainty=0.05, source="platform of scale 1"
            ),
            note="Reads to 0.01 g.",
        )

    def finished_job(self) -> None:
        """Enter a job from taking in to handing over, with a capture."""
        visit = self.take_in(
            owner="Marlene Achterberg",
            contact="calls on Tuesdays",
            deck="Belt-drive deck, walnut plinth",
            arm="Nine-inch arm, straight tube, removable headshell",
            complaint="Voices turn harsh towards the end of a side.",
            truth=TrueDeck(222.3, 236.9, 1.52),
            days_ago=24,
        )
        targets = self.choose(visit)
        self.print_and_check(visit, targets)
        self.check_scale(visit, TrueScale(), ScaleCheck.When.BEFORE)
        self.read(visit, "as found")
        capture_as_found(visit.job, targets, effective_length_mm=visit.truth.effective_length_mm)
        aligned = TrueDeck(222.3, targets.effective_length.value + 0.05, 1.79)
        self.read(VisitOnBench(visit.job, visit.arm, visit.cartridge, aligned), "as left")
        self.check_scale(visit, TrueScale(), ScaleCheck.When.AFTER)

    def job_with_a_force_difference(self) -> None:
        """Enter a job whose arm is pulled aside near the centre."""
        visit = self.take_in(
            owner="Tobias Wennergren",
            contact="leaves the deck with his neighbour",
            deck="Idler-drive deck, grey hammered metal",
            arm="Nine-inch arm, curved tube",
            complaint="One side of the disc sounds duller than the other.",
            truth=TrueDeck(215.4, 232.8, 1.74, inner_excess_g=0.16),
            days_ago=17,
        )
        targets = self.choose(visit)
        self.print_and_check(visit, targets)
        self.check_scale(visit, TrueScale(), ScaleCheck.When.BEFORE)
        self.read(visit, "as found")
        entries.record_fault(visit.job, text="The arm cable is stiff and pulls on the arm near the centre.")

    def job_with_a_drifting_scale(self) -> None:
        """Enter a job whose scale changed between its two checks."""
        visit = self.take_in(
            owner="Philippa Oduya",
            contact="",
            deck="Direct-drive deck, black plinth with a lid",
            arm="Nine-inch arm, S-shaped tube",
            complaint="New cartridge to be fitted.",
            truth=TrueDeck(214.8, 232.3, 1.77),
            days_ago=11,
        )
        self.choose(visit)
        self.check_scale(visit, TrueScale(), ScaleCheck.When.BEFORE)
        self.read(visit, "as found")
        self.check_scale(visit, TrueScale(gain=1.035, offset_g=0.03), ScaleCheck.When.AFTER)

    def job_out_of_tolerance(self) -> None:
        """Enter a job that is out in length and force."""
        visit = self.take_in(
            owner="Henrik Solvang-Bae",
            contact="prefers letters",
            deck="Belt-drive deck, slate plinth, outboard motor",
            arm="Twelve-inch arm, straight tube",
            complaint="Bought second hand; never set up since.",
            truth=TrueDeck(295.1, 304.6, 2.18),
            days_ago=8,
        )
        targets = self.choose(visit)
        self.print_and_check(visit, targets)
        self.check_scale(visit, TrueScale(), ScaleCheck.When.BEFORE)
        self.read(visit, "as found")

    def job_with_a_checked_plate(self) -> None:
        """Enter a job whose plate was printed, measured and issued again."""
        visit = self.take_in(
            owner="Rosalind Tamura",
            contact="at the bakery until three",
            deck="Belt-drive deck, birch plinth, sprung",
            arm="Nine-inch arm, straight tube, fixed headshell",
            complaint="Skips on one record.",
            truth=TrueDeck(222.0, 239.0, 1.8),
            days_ago=5,
            mistracking=True,
        )
        self.print_and_check(visit, self.choose(visit))

    def job_with_targets(self) -> None:
        """Enter a job whose targets are chosen."""
        visit = self.take_in(
            owner="Casimir Leclercq-Horn",
            contact="",
            deck="Direct-drive deck, grey, from a radio studio",
            arm="Ten-inch arm, straight tube",
            complaint="Yearly check.",
            truth=TrueDeck(240.2, 256.0, 1.7),
            days_ago=3,
        )
        self.choose(visit)

    def job_just_taken_in(self) -> None:
        """Enter a job that has just come in."""
        self.take_in(
            owner="Aurelia Bensaid",
            contact="collects on Saturday",
            deck="Belt-drive deck, cherry plinth",
            arm="Nine-inch arm, straight tube",
            complaint="Hum, and the arm drifts outwards.",
            truth=TrueDeck(222.0, 238.0, 1.6),
            days_ago=0,
        )

    def take_in(
        self,
        *,
        owner: str,
        contact: str,
        deck: str,
        arm: str,
        complaint: str,
        truth: TrueDeck,
        days_ago: int,
        mistracking: bool = False,
        stylus_hours: float | None = None,
    ) -> VisitOnBench:
        """Take in a deck that was never here."""
        owner_row = entries.add_owner(name=owner, contact=contact)
        deck_row = entries.add_deck(owner_row, description=deck)
        arm_row = entries.add_arm(
            deck_row,
            description=arm,
            effective_mass=parse_quantity(
                "11 g +- 0.5 g", "mass", source=f"effective mass, arm of deck {deck_row.number}"
            ),
            drawn_pivot_to_spindle=Quantity.exact(round(truth.pivot_to_spindle_mm), "mm", how="maker's drawing"),
        )
        cartridge = entries.add_cartridge(
            description="Moving-magnet cartridge, elliptical stylus",
            tracking_force_lower=Quantity.exact(grams_force_in_mn(1.5), "mN", how="maker's range"),
            tracking_force_upper=Quantity.exact(grams_force_in_mn(2.0), "mN", how="maker's range"),
            compliance=parse_quantity("12 um/mN +- 1.5 um/mN", "compliance", source="maker's compliance"),
            compliance_at=Quantity.exact(10.0, "Hz"),
            mass=parse_quantity("6.5 g +- 0.1 g", "mass", source="cartridge on the parcel scale"),
            fasteners_mass=parse_quantity("1.1 g +- 0.1 g", "mass", source="fasteners on the parcel scale"),
            recommended_loading="47 kohm, 150 pF",
            stylus_hours=round(float(self.rng.uniform(50, 600)), -1),
        )
        visit = VisitOnBench(
            entries.open_job(deck_row, opened=_today() - timedelta(days=days_ago), complaint=complaint),
            arm_row,
            cartridge,
            truth,
        )
        self._take_down(visit, mistracking=mistracking, stylus_hours=stylus_hours)
        return visit

    def take_in_again(
        self, before: VisitOnBench, *, complaint: str, truth: TrueDeck, days_ago: int, stylus_hours: float
    ) -> VisitOnBench:
        """Open a further job for a deck that was here before."""
        opened = _today() - timedelta(days=days_ago)
        job = entries.open_job(before.job.deck, opened=opened, complaint=complaint)
        visit = VisitOnBench(job, before.arm, before.cartridge, truth)
        self._take_down(visit, mistracking=False, stylus_hours=stylus_hours)
        return visit

    def _take_down(self, visit: VisitOnBench, *, mistracking: bool, stylus_hours: float | None) -> None:
        entries.record_intake(
            visit.job,
            arm=visit.arm,
            cartridge=visit.cartridge,
            groove_disc="12 inch",
            groove_standard="RIAA 1963",
            innermost_mm=INNERMOST_MM,
            outermost_mm=OUTERMOST_MM,
            record_thickness=parse_quantity(f"{RECORD_MM:g} mm +- 0.1 mm", "length", source="thickness of the record"),
            mistracking_reported=mistracking,
            stylus_hours=stylus_hours,
        )

    def _read_length(self, visit: VisitOnBench, kind: str, stage: str, true_mm: float) -> None:
        text = length_as_typed(true_mm, u_mm=0.2, rng=self.rng)
        typed = parse_quantity(text, "length", source=next_reading_source(visit.job, kind))
        quantity = with_gauge_uncertainty(typed, self.rule)
        entries.record_reading(visit.job, kind=kind, stage=stage, text=text, quantity=quantity, gauge=self.rule)

    def choose(self, visit: VisitOnBench) -> Targets:
        """Read the pivot-to-spindle distance twice and choose the targets by it."""
        for _ in range(2):
            self._read_length(visit, "pivot_to_spindle", "as found", visit.truth.pivot_to_spindle_mm)
        joined = facts_of(job_record(visit.job)).joined_distance()
        targets = choose_targets(TargetRequest(joined.quantity, CRITERION, INNERMOST_MM, OUTERMOST_MM))
        entries.record_targets(visit.job, targets)
        return targets

    def print_and_check(self, visit: VisitOnBench, targets: Targets) -> None:
        """Issue a plate, measure its print, and issue it again corrected."""
        # The printer draws a little long across and a little short along, and the second plate makes up for it.
        across, along = 1.004, 0.997
        label = CRITERIA[CRITERION].label
        request = PlateRequest("arc", targets.geometry, INNERMOST_MM, OUTERMOST_MM, label, paper="A3")
        choice = visit.job.target_choices.latest("pk")
        first = entries.issue_plate(visit.job, request, choice=choice)
        bars = self._read_bars(visit, first, 100 * across, 100 * along)
        factors = print_scale(*bars)
        corrected = PlateRequest(
            "arc",
            targets.geometry,
            INNERMOST_MM,
            OUTERMOST_MM,
            label,
            paper="A3",
            scale_x=round(factors.x.value, 5),
            scale_y=round(factors.y.value, 5),
        )
        second = entries.issue_plate(visit.job, corrected, choice=choice, replaces=first)
        self._read_bars(visit, second, 100 * across / corrected.scale_x, 100 * along / corrected.scale_y)

    def _read_bars(
        self, visit: VisitOnBench, plate: IssuedPlate, x_mm: float, y_mm: float
    ) -> tuple[Quantity, Quantity]:
        bars = []
        for kind, true_mm in (("print_bar_x", x_mm), ("print_bar_y", y_mm)):
            text = length_as_typed(true_mm, u_mm=0.05, rng=self.rng)
            typed = parse_quantity(text, "length", source=next_reading_source(visit.job, kind))
            quantity = with_gauge_uncertainty(typed, self.caliper)
            bars.append(quantity)
            entries.record_reading(
                visit.job,
                kind=kind,
                stage="as found",
                text=text,
                quantity=quantity,
                gauge=self.caliper,
                plate=plate,
            )
        return bars[0], bars[1]

    def check_scale(self, visit: VisitOnBench, truth: TrueScale, when: str) -> None:
        """Read the check weights on a scale that truly is so."""
        readings, texts = check_readings(truth, self.rng)
        entries.check_scale(self.scale, readings=readings, texts=texts, job=visit.job, when=when)

    def read(self, visit: VisitOnBench, stage: str) -> None:
        """Read length and force as the deck truly is."""
        truth = visit.truth
        overhang_mm = truth.effective_length_mm - truth.pivot_to_spindle_mm
        self._read_length(visit, "effective_length", stage, truth.effective_length_mm)
        self._read_length(visit, "overhang", stage, overhang_mm)
        for place, excess_g in (("outer", 0.0), ("inner", truth.inner_excess_g)):
            for height_mm in (PLATFORM_MM, PLATFORM_MM, PLATFORM_MM + 5.0):
                force_g = truth.tracking_force_g + excess_g + truth.force_slope_g_per_mm * (height_mm - RECORD_MM)
                self._read_force(visit, stage, place, height_mm, force_g)

    def _read_force(self, visit: VisitOnBench, stage: str, place: str, height_mm: float, force_g: float) -> None:
        text = force_as_typed(force_g, TrueScale(), self.rng)
        entries.record_reading(
            visit.job,
            kind="tracking_force",
            stage=stage,
            text=text,
            quantity=parse_quantity(text, "force", source=next_reading_source(visit.job, "tracking_force")),
            place=place,
            platform_height=Quantity.measured(height_mm, "mm", standard_uncertainty=0.05, source="platform of scale 1"),
            scale=self.scale,
        )


def _today() -> date:
    return timezone.localdate()
