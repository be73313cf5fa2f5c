"""Kinds of reading that are entered on the bench page, as it groups and words them."""

from __future__ import annotations

from groovewright.jobbook.models import Reading

Kind = Reading.Kind

GROUPS: dict[str, dict[str, str]] = {
    "Seen from above": {
        Kind.ZENITH_ERROR: "Zenith error",
        Kind.NULL_ANGLE: "Tracking error at a radius (null check)",
        Kind.OFFSET_ANGLE: "Offset angle",
    },
    "Seen from the front or the side": {
        Kind.AZIMUTH_ROTATION: "Azimuth",
        Kind.STYLUS_RAKE_ANGLE: "Stylus rake angle",
        Kind.VERTICAL_TRACKING_ANGLE: "Vertical tracking angle",
        Kind.VERTICAL_TRACKING_ANGLE_ERROR: "Vertical tracking angle, error",
    },
    "Side force": {
        Kind.COMPENSATION_FORCE: "Compensation",
        Kind.SIDE_FORCE_REST: "Side force less its compensation",
        Kind.START_FORCE_OUTWARD: "Force at start of motion, outward",
        Kind.START_FORCE_INWARD: "Force at start of motion, inward",
        Kind.FRICTION_COEFFICIENT: "Friction coefficient of the groove",
    },
}
BENCH_KINDS = {kind: words for group in GROUPS.values() for kind, words in group.items()}
