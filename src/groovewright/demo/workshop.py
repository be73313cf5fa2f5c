"""The bench of the invented workshop: its gauges, and how a deck is taken in, read and set on it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np
from django.utils import timezone

from groovewright.bench.targets.targets import TargetRequest, Targets, choose_targets
from groovewright.demo.true_bench import (
    TrueDeck,
    TrueScale,
    check_readings,
    force_as_typed,
    grams_force_in_mn,
    length_as_typed,
)
from groovewright.jobbook import entries
from groovewright.jobbook.gauge_uncertainty import with_gauge_uncertainty
from groovewright.jobbook.job_record import job_record
from groovewright.jobbook.models import Arm, Cartridge, Gauge, IssuedPlate, Job, Scale
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
