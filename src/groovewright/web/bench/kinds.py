"""What is read at the bench: the subjects that one chooses from, and the kinds of reading that each is read by."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from groovewright.bench.estimate.settings import SETTINGS
from groovewright.jobbook.models import Reading
from groovewright.tonearm import input_ranges
from groovewright.tonearm.input_ranges import InputRange

Kind = Reading.Kind


@dataclass(frozen=True)
class ReadingKind:
    """A kind of reading as the entry asks for it.

    Attributes
    ----------
    kind : str
        Of `Reading.Kind`.
    title : str
        As the entry names it.
    quantity : str
        What is typed: a length, an angle, a force, or a coefficient without a unit.
    unit : str
        That the field shows; a number typed without one has it.
    example : str
        What a good entry looks like.
    range : InputRange
        What can be right.
    subject : str
        Key of what it is a reading of.
    """

    kind: str
    title: str
    quantity: Literal["length", "angle", "force", "coefficient"]
    unit: str
    example: str
    range: InputRange
    subject: str

    @property
    def needs_scale(self) -> bool:
        """Whether it is read with a scale, at a place on the platter."""
        return self.kind == Kind.TRACKING_FORCE


@dataclass(frozen=True)
class Subject:
    """What one wants to read: one of the seven settings, the distance, or the friction."""

    key: str
    title: str
    kinds: tuple[ReadingKind, ...]


_KINDS = (
    ReadingKind(Kind.OVERHANG, "Overhang", "length", "mm", "17.3 +- 0.2", input_ranges.OVERHANG, "effective_length"),
    ReadingKind(
        Kind.EFFECTIVE_LENGTH,
        "Pivot to stylus",
        "length",
        "mm",
        "239.3 +- 0.3",
        input_ranges.ARM_LENGTH,
        "effective_length",
    ),
    ReadingKind(Kind.TRACKING_FORCE, "On a scale", "force", "g", "1.85", input_ranges.SCALE_READING, "tracking_force"),
    ReadingKind(
        Kind.COMPENSATION_FORCE,
        "Compensation alone",
        "force",
        "mN",
        "1.4 +- 0.2",
        input_ranges.SIDE_FORCE,
        "side_force",
    ),
    ReadingKind(
        Kind.SIDE_FORCE_REST, "Side force left over", "force", "mN", "0.3 +- 0.2", input_ranges.SIDE_FORCE, "side_force"
    ),
    ReadingKind(
        Kind.START_FORCE_OUTWARD, "To start outward", "force", "mN", "0.4 +- 0.1", input_ranges.SIDE_FORCE, "side_force"
    ),
    ReadingKind(
        Kind.START_FORCE_INWARD, "To start inward", "force", "mN", "0.4 +- 0.1", input_ranges.SIDE_FORCE, "side_force"
    ),
    ReadingKind(
        Kind.NULL_ANGLE, "Tracking error at a radius", "angle", "deg", "0.3 +- 0.2", input_ranges.NULL_ANGLE, "zenith"
    ),
    ReadingKind(Kind.ZENITH_ERROR, "Zenith error", "angle", "deg", "0.4 +- 0.2", input_ranges.ZENITH, "zenith"),
    ReadingKind(Kind.OFFSET_ANGLE, "Offset angle", "angle", "deg", "23 +- 0.3", input_ranges.OFFSET_ANGLE, "zenith"),
    ReadingKind(Kind.AZIMUTH_ROTATION, "Azimuth", "angle", "deg", "-0.6 +- 0.2", input_ranges.AZIMUTH, "azimuth"),
    ReadingKind(
        Kind.STYLUS_RAKE_ANGLE,
        "Rake angle",
        "angle",
        "deg",
        "91.5 +- 0.5",
        input_ranges.STYLUS_RAKE_ANGLE,
        "stylus_rake_angle",
    ),
    ReadingKind(
        Kind.VERTICAL_TRACKING_ANGLE,
        "Whole angle",
        "angle",
        "deg",
        "22 +- 0.5",
        input_ranges.VERTICAL_TRACKING_ANGLE,
        "vertical_tracking_angle",
    ),
    ReadingKind(
        Kind.VERTICAL_TRACKING_ANGLE_ERROR,
        "Error of the angle",
        "angle",
        "deg",
        "0.8 +- 0.4",
        input_ranges.VERTICAL_TRACKING_ANGLE_ERROR,
        "vertical_tracking_angle",
    ),
    ReadingKind(Kind.PIVOT_TO_SPINDLE, "Distance", "length", "mm", "222 +- 0.3", input_ranges.ARM_LENGTH, "distance"),
    ReadingKind(
        Kind.FRICTION_COEFFICIENT,
        "Coefficient",
        "coefficient",
        "",
        "0.3 +- 0.05",
        input_ranges.FRICTION_COEFFICIENT,
        "friction",
    ),
)
_TITLES = {key: setting.title for key, setting in SETTINGS.items()} | {
    "distance": "Pivot to spindle",
    "friction": "Groove friction",
}

KINDS = {one.kind: one for one in _KINDS}
"""All kinds that are entered on the bench, by kind."""

SUBJECTS = {
    key: Subject(key, title, tuple(one for one in _KINDS if one.subject == key)) for key, title in _TITLES.items()
}
"""By key, the seven settings first."""
