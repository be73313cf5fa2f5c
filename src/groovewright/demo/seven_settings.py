"""Jobs of the invented workshop that are read and set in all seven settings, one deck of them at two visits."""

from __future__ import annotations

from dataclasses import replace

from groovewright.bench.moves.hands import Hands
from groovewright.demo.true_bench import TrueDeck, TrueScale
from groovewright.demo.workshop import VisitOnBench, Workshop
from groovewright.gauges.arc_trace import bearing_on_arc_deg, deviation_from_arc_mm
from groovewright.jobbook import entries
from groovewright.jobbook.gauge_uncertainty import with_gauge_uncertainty
from groovewright.jobbook.models import Gauge, Reading
from groovewright.jobbook.plate_files import request_from_record
from groovewright.jobbook.queries import next_reading_source
from groovewright.measurement.parsing import parse_quantity
from groovewright.measurement.units import GRAM_FORCE_MN
from groovewright.simulate.bench_deck import BenchDeck, made_by_hand
from groovewright.tonearm.arm_build import usual_build
from groovewright.tonearm.arm_state import Adjustments
from groovewright.tonearm.geometry import Geometry

INNERMOST_MM, OUTERMOST_MM = 60.325, 146.05
MIDDLE_MM = (INNERMOST_MM + OUTERMOST_MM) / 2
NULLS_MM = (66.0, 120.9)
TRACED_MM = (62.0, 75.0, 90.0, 105.0, 120.0, 132.0, 144.0)
FORCE_SLOPE_G_PER_MM = 0.004


def visits_half_a_year_apart(workshop: Workshop) -> None:
    """Enter a deck that was set up, played for half a year, and came back: its counterweight crept."""
    bench = _Bench(workshop)
    true = usual_build(
        Geometry(222.4, 238.1, 24.3),
        cartridge_mass_g=7.6,
        tracking_force_mn=15.9,
        compensation_mn=0.9,
        friction_coefficient=0.29,
        azimuth_deg=1.1,
        stylus_rake_angle_deg=90.7,
        vertical_tracking_angle_deg=20.9,
    )
    deck = BenchDeck(true)
    visit = workshop.take_in(
        owner="Ottoline Brandvold",
        contact="mornings only",
        deck="Belt-drive deck, ash plinth, two belts",
        arm="Nine-inch arm, tapered straight tube",
        complaint="Set up from the bottom, please.",
        truth=_typed_truth(deck),
        days_ago=186,
        stylus_hours=320.0,
    )
    workshop.choose(visit)
    workshop.check_scale(visit, TrueScale(), "before")
    bench.read_all(visit, deck, "as found")
    deck = bench.moves(
        visit,
        deck,
        (
            ("Arm 6 mm up, for the stylus rake angle", Adjustments(arm_height_mm=6.0)),
            ("Cartridge rolled back 1.7°", Adjustments(roll_deg=-1.7)),
            ("Cartridge 1.8 mm forward, turned outward 0.8°", Adjustments(slide_mm=1.8, turn_deg=-0.8)),
            ("Counterweight 0.3 mm toward the pivot", Adjustments(counterweight_mm=0.3)),
            ("Compensation up 1 mN", Adjustments(compensation_mn=1.0)),
        ),
    )
    bench.read_all(visit, deck, "as left")
    deck = deck.moved(Adjustments(counterweight_mm=0.28, compensation_mn=-0.9))
    again = workshop.take_in_again(
        visit, complaint="Half-yearly check.", truth=_typed_truth(deck), days_ago=1, stylus_hours=465.0
    )
    workshop.choose(again)
    workshop.check_scale(again, TrueScale(), "before")
    bench.read_all(again, deck, "as found")


def job_set_up_in_all_seven(workshop: Workshop) -> None:
    """Enter a deck that is read in all seven settings, with an arc trace, and is half way through its moves."""
    bench = _Bench(workshop)
    true = usual_build(
        Geometry(215.2, 231.0, 22.1),
        cartridge_mass_g=7.6,
        tracking_force_mn=18.6,
        compensation_mn=2.9,
        friction_coefficient=0.31,
        azimuth_deg=-1.2,
        stylus_rake_angle_deg=93.4,
        vertical_tracking_angle_deg=23.6,
    )
    deck = BenchDeck(true)
    visit = workshop.take_in(
        owner="Leopold Ferreira-Quist",
        contact="rings twice",
        deck="Direct-drive deck, silver, heavy platter",
        arm="Nine-inch arm, J-shaped tube, removable headshell",
        complaint="One channel spits on loud passages.",
        truth=_typed_truth(deck),
        days_ago=2,
        stylus_hours=90.0,
    )
    workshop.print_and_check(visit, workshop.choose(visit))
    workshop.check_scale(visit, TrueScale(), "before")
    bench.read_all(visit, deck, "as found")
    bench.trace_the_arc(visit, deck)
    deck = bench.moves(
        visit, deck, (("Cartridge 1.3 mm forward and 0.8° inward", Adjustments(slide_mm=1.3, turn_deg=0.8)),)
    )
    bench.read_length_and_angles(visit, deck, "as left")


class _Bench:
    """The gauges for what rule and scale do not read, and the hands of the workshop."""

    def __init__(self, workshop: Workshop) -> None:
        self.workshop, self.rng = workshop, workshop.rng
        found = Gauge.objects.filter(description="Protractor plate with loupe").first()
        self.protractor = found or entries.add_gauge(
            description="Protractor plate with loupe",
            certificate="PP-0038",
            standard_uncertainty=parse_quantity("0 deg +- 0.05 deg", "angle", source="protractor plate PP-0038"),
            note="Read at both null radii.",
        )
        found = Gauge.objects.filter(description="Side-view gauge").first()
        self.side_view = found or entries.add_gauge(
            description="Side-view gauge",
            certificate="SV-0012",
            standard_uncertainty=parse_quantity("0 deg +- 0.15 deg", "angle", source="side-view gauge SV-0012"),
        )
        found = Gauge.objects.filter(description="Spring gauge for side force").first()
        self.spring = found or entries.add_gauge(
            description="Spring gauge for side force",
            certificate="SG-0007",
            standard_uncertainty=parse_quantity("0 mN +- 0.08 mN", "force", source="spring gauge SG-0007"),
        )

    def read_all(self, visit: VisitOnBench, deck: BenchDeck, stage: str) -> None:
        self.workshop.read(replace(visit, truth=_typed_truth(deck)), stage)
        self.read_angles(visit, deck, stage)
        self._read(
            visit,
            "side_force_rest",
            stage,
            deck.shows("side_force_rest", MIDDLE_MM),
            unit="mN",
            u=0.12,
            gauge=self.spring,
        )

    def read_length_and_angles(self, visit: VisitOnBench, deck: BenchDeck, stage: str) -> None:
        self._read(
            visit, "overhang", stage, deck.shows("overhang", MIDDLE_MM), unit="mm", u=0.2, gauge=self.workshop.rule
        )
        self.read_angles(visit, deck, stage)

    def read_angles(self, visit: VisitOnBench, deck: BenchDeck, stage: str) -> None:
        for radius_mm in NULLS_MM:
            shown = deck.shows("null_angle", radius_mm)
            self._read(
                visit, "null_angle", stage, shown, unit="deg", u=0.12, gauge=self.protractor, radius_mm=radius_mm
            )
        for kind, u_deg in (
            ("azimuth_rotation", 0.2),
            ("stylus_rake_angle", 0.3),
            ("vertical_tracking_angle", 0.4),
        ):
            self._read(visit, kind, stage, deck.shows(kind, MIDDLE_MM), unit="deg", u=u_deg, gauge=self.side_view)

    def trace_the_arc(self, visit: VisitOnBench, deck: BenchDeck) -> None:
        plate = visit.job.plates.latest("pk")
        drawn = request_from_record(plate.request).geometry
        state = deck.state
        for radius_mm in TRACED_MM:
            beside_mm = deviation_from_arc_mm(
                bearing_on_arc_deg(radius_mm, drawn),
                length_error_mm=state.effective_length_mm - drawn.effective_length_mm,
                distance_error_mm=state.pivot_to_spindle_mm - drawn.pivot_to_spindle_mm,
                plate_turn_deg=0.2,
                plate=drawn,
            )
            self._read(
                visit,
                "arc_trace",
                "as found",
                float(beside_mm),
                unit="mm",
                u=0.1,
                gauge=None,
                radius_mm=radius_mm,
                plate=plate,
            )

    def moves(self, visit: VisitOnBench, deck: BenchDeck, asked: tuple[tuple[str, Adjustments], ...]) -> BenchDeck:
        hands = Hands()
        for text, amounts in asked:
            fineness = hands.uncertainty(amounts)
            deck = deck.moved(made_by_hand(amounts, fineness, self.rng))
            entries.record_adjustment(visit.job, amounts=amounts, uncertainties=fineness, text=text)
        return deck

    def _read(
        self,
        visit: VisitOnBench,
        kind: str,
        stage: str,
        true: float,
        *,
        unit: str,
        u: float,
        gauge: Gauge | None,
        **where: object,
    ) -> None:
        text = f"{self.rng.normal(true, u):.2f} {unit} +- {u:g} {unit}"
        of = {"mm": "length", "deg": "angle", "mN": "force"}[unit]
        typed = parse_quantity(text, of, source=next_reading_source(visit.job, kind))
        quantity = with_gauge_uncertainty(typed, gauge)
        entries.record_reading(
            visit.job, kind=Reading.Kind(kind), stage=stage, text=text, quantity=quantity, gauge=gauge, **where
        )


def _typed_truth(deck: BenchDeck) -> TrueDeck:
    state = deck.state
    return TrueDeck(
        state.pivot_to_spindle_mm,
        state.effective_length_mm,
        state.tracking_force_mn / GRAM_FORCE_MN,
        force_slope_g_per_mm=FORCE_SLOPE_G_PER_MM,
    )
