"""What a job knows of a value before it is read: its readings, its targets, the maker's drawing, or what is usual."""

from __future__ import annotations

import math
from collections.abc import Mapping
from types import MappingProxyType

from groovewright.bench.estimate.plausible import Known, Usual
from groovewright.jobbook.job_record import JobRecord
from groovewright.jobbook.models import Arm, Reading
from groovewright.measurement.quantity import Quantity

Kind = Reading.Kind

SPREADS: Mapping[str, float] = MappingProxyType(
    {
        # Rules of thumb. A base stands within some mm of its drawing; slots let a cartridge slide 8 mm either way.
        Kind.PIVOT_TO_SPINDLE: 1.5,
        Kind.EFFECTIVE_LENGTH: 2.0,
        Kind.OVERHANG: 2.0,
        # A cartridge turns some degrees in its slots.
        Kind.OFFSET_ANGLE: 1.5,
    }
)
"""How far a deck as found may differ from its targets or the maker's drawing, one standard uncertainty. [mm, deg]"""

REPEATS: Mapping[str, float] = MappingProxyType(
    {
        # Rules of thumb: half of what an eye or a plain gauge may be off when it reads the same again.
        Kind.PIVOT_TO_SPINDLE: 0.5,
        Kind.EFFECTIVE_LENGTH: 0.5,
        Kind.OVERHANG: 0.5,
        Kind.OFFSET_ANGLE: 0.5,
        Kind.ZENITH_ERROR: 0.5,
        Kind.AZIMUTH_ROTATION: 0.5,
        Kind.STYLUS_RAKE_ANGLE: 1.0,
        Kind.VERTICAL_TRACKING_ANGLE: 1.5,
        Kind.VERTICAL_TRACKING_ANGLE_ERROR: 1.5,
    }
)
"""How far a second reading may differ from the first where nothing was moved in between, at least. [mm, deg]"""

USUAL: Mapping[str, Usual] = MappingProxyType(
    {
        # Rules of thumb; the shortest and longest arms in use, and decks that are badly off but not broken.
        Kind.PIVOT_TO_SPINDLE: Usual(170, 340),
        Kind.EFFECTIVE_LENGTH: Usual(180, 360),
        Kind.OVERHANG: Usual(-30, 30),
        Kind.OFFSET_ANGLE: Usual(0, 35),
        Kind.ZENITH_ERROR: Usual(-6, 6),
        Kind.NULL_ANGLE: Usual(-6, 6),
        Kind.AZIMUTH_ROTATION: Usual(-6, 6),
        Kind.STYLUS_RAKE_ANGLE: Usual(82, 102),
        Kind.VERTICAL_TRACKING_ANGLE: Usual(10, 35),
        Kind.VERTICAL_TRACKING_ANGLE_ERROR: Usual(-12, 12),
        # 0.3 g to 6 g: the lightest and the heaviest cartridges for microgrooves and coarse grooves.
        Kind.TRACKING_FORCE: Usual(3, 60),
        # Side force is a tenth of the tracking force or so.
        Kind.COMPENSATION_FORCE: Usual(-0.5, 6),
        Kind.SIDE_FORCE_REST: Usual(-6, 6),
        Kind.START_FORCE_OUTWARD: Usual(-6, 6),
        Kind.START_FORCE_INWARD: Usual(-6, 6),
    }
)
"""Where nothing is known of the deck. [mm, deg, mN]"""

FORCE_MARGIN = 2.0
"""A force as found may be half the maker's least or twice the maker's most; ten times is a slip of the point."""


def expected_value(
    record: JobRecord, kind: str, stage: str, *, leaving_out: Reading | None = None
) -> Known | Usual | None:
    """Return what a reading of this kind should be near; None for kinds of which nothing is usual.

    `leaving_out` is a reading that is being corrected, which therefore says nothing.
    """
    return _by_last_reading(record, kind, stage, leaving_out) or _by_facts(record, kind) or USUAL.get(kind)


def expected_distance(arm: Arm | None, known: Quantity | None) -> Known | Usual:
    """Return what a pivot-to-spindle distance should be near: as it was read before, or by the maker's drawing. [mm]"""
    if known is not None:
        spread = max(known.standard_uncertainty or 0.0, REPEATS[Kind.PIVOT_TO_SPINDLE])
        return Known(known.value, spread, "as it was read before")
    drawn = None if arm is None else arm.drawn_pivot_to_spindle
    if drawn is not None:
        return Known(drawn.value, SPREADS[Kind.PIVOT_TO_SPINDLE], "the maker's drawing")
    return USUAL[Kind.PIVOT_TO_SPINDLE]


def _by_last_reading(record: JobRecord, kind: str, stage: str, leaving_out: Reading | None) -> Known | None:
    # What was moved since may have changed it.
    if kind not in REPEATS or record.adjustments:
        return None
    read = [reading for reading in record.readings_of(kind, stage) if reading != leaving_out and reading.quantity]
    if not read:
        return None
    last: Quantity = read[-1].quantity
    return Known(last.value, math.hypot(last.standard_uncertainty or 0.0, REPEATS[kind]), "the last reading")


def _by_facts(record: JobRecord, kind: str) -> Known | Usual | None:
    intake = record.intake
    if kind == Kind.TRACKING_FORCE:
        cartridge = None if intake is None or intake.cartridge is None else intake.cartridge.current()
        if cartridge is None or cartridge.tracking_force_lower is None or cartridge.tracking_force_upper is None:
            return None
        # A scale may be read with nothing on it, or near it.
        return Usual(
            cartridge.tracking_force_lower.value / FORCE_MARGIN, cartridge.tracking_force_upper.value * FORCE_MARGIN
        )
    if kind not in SPREADS:
        return None
    target = None if record.choice is None else getattr(record.choice, kind)
    if target is not None:
        return Known(target.value, SPREADS[Kind(kind)], "the target")
    arm = None if intake is None or intake.arm is None else intake.arm.current()
    drawn = None if arm is None else getattr(arm, f"drawn_{kind}")
    return None if drawn is None else Known(drawn.value, SPREADS[Kind(kind)], "the maker's drawing")
