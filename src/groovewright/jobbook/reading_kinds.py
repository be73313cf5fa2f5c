"""Kinds of reading: the unit each is kept in, and what must be said with it."""

from __future__ import annotations

from groovewright.jobbook.models import Reading
from groovewright.testtone.capture.capture_result import CAPTURE_NAMES
from groovewright.tonearm.input_ranges import BEARING_FROM_THE_SPINDLE, GROOVE_RADIUS

Kind = Reading.Kind

CAPTURE_UNITS = {Kind(known.name): known.unit for known in CAPTURE_NAMES if known.name in Kind.values}
"""Kinds that a capture shows."""

TYPED_OR_CAPTURED = (
    Kind.EFFECTIVE_LENGTH_ERROR,
    Kind.ZENITH_ERROR,
    Kind.AZIMUTH_ROTATION,
    Kind.VERTICAL_TRACKING_ANGLE_ERROR,
)
"""Kinds that a capture shows and that another gauge may show as well."""

READING_UNITS = {
    Kind.PIVOT_TO_SPINDLE: "mm",
    Kind.EFFECTIVE_LENGTH: "mm",
    Kind.OVERHANG: "mm",
    Kind.TRACKING_FORCE: "mN",
    Kind.PRINT_BAR_X: "mm",
    Kind.PRINT_BAR_Y: "mm",
    Kind.OFFSET_ANGLE: "deg",
    Kind.NULL_ANGLE: "deg",
    Kind.ARC_TRACE: "mm",
    Kind.STYLUS_RAKE_ANGLE: "deg",
    Kind.VERTICAL_TRACKING_ANGLE: "deg",
    Kind.COMPENSATION_FORCE: "mN",
    Kind.SIDE_FORCE_REST: "mN",
    Kind.START_FORCE_OUTWARD: "mN",
    Kind.START_FORCE_INWARD: "mN",
    Kind.FRICTION_COEFFICIENT: "1",
    **CAPTURE_UNITS,
}

TYPED_KINDS = tuple(kind for kind in READING_UNITS if kind not in CAPTURE_UNITS or kind in TYPED_OR_CAPTURED)
"""Kinds that may be entered by hand."""

AT_A_RADIUS = (Kind.NULL_ANGLE, Kind.ARC_TRACE, Kind.COMPENSATION_FORCE, Kind.SIDE_FORCE_REST)
"""Kinds that may name a groove radius. The forces hold in the middle of the groove range where they name none."""

ON_A_PLATE = (Kind.PRINT_BAR_X, Kind.PRINT_BAR_Y, Kind.ARC_TRACE)
"""Kinds that say nothing without the plate they were read on."""


def what_is_missing(
    kind: Reading.Kind, *, place: str, plate: bool, radius_mm: float | None, bearing_deg: float | None
) -> str:
    """Return what a reading of this kind still needs or says wrongly, in a sentence; empty when nothing."""
    faults = (
        (
            kind is Kind.TRACKING_FORCE and not place,
            "a reading of the tracking force needs its place on the platter: outer, middle or inner",
        ),
        (
            kind in ON_A_PLATE and not plate,
            f"the {kind.label} is read on a plate: name the plate by its number",
        ),
        (
            kind is Kind.NULL_ANGLE and radius_mm is None,
            "a tracking error needs the groove radius at which it was read",
        ),
        (
            kind is Kind.ARC_TRACE and radius_mm is None and bearing_deg is None,
            "a reading beside the arc needs its place: the groove radius, or the bearing from the arc's centre",
        ),
        (
            kind is not Kind.ARC_TRACE and bearing_deg is not None,
            f"a bearing belongs to a reading beside the arc, not to the {kind.label}",
        ),
        (
            kind not in AT_A_RADIUS and radius_mm is not None,
            f"the {kind.label} is the same at every groove radius; leave the radius out",
        ),
        (
            radius_mm is not None and not GROOVE_RADIUS.holds(radius_mm),
            f"a groove radius lies between {GROOVE_RADIUS.lowest:g} and {GROOVE_RADIUS.highest:g} mm, not at "
            f"{radius_mm} mm",
        ),
        (
            bearing_deg is not None and not 0 < bearing_deg < BEARING_FROM_THE_SPINDLE.highest,
            f"a bearing runs from the line to the spindle, above 0 and below {BEARING_FROM_THE_SPINDLE.highest:g}°, "
            f"not {bearing_deg}°",
        ),
    )
    return next((sentence for found, sentence in faults if found), "")
