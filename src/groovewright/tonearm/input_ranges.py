"""What can be right for each quantity that is typed or read: one range for every form, file and computation.

A range keeps out slips of unit and of digits. It is no tolerance: what lies inside may still be wrong for the deck.
Where no source is named, what decks and records have is a rule of thumb.
Where no source is named, what decks and records have is a rule of thumb.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class InputRange:
    """Lowest and highest value that can be right, both included.

    Parameters
    ----------
    lowest, highest : float
        In `unit`.
    unit : str
        Canonical unit of the kind of quantity.
    reason : str
        Why nothing outside can be right, or who says so.
    """

    lowest: float
    highest: float
    unit: str
    reason: str

    @property
    def ends(self) -> dict[str, float]:
        """Both ends, as a field takes them.

        >>> SPEED.ends
        {'lowest': 10.0, 'highest': 100.0}
        """
        return {"lowest": self.lowest, "highest": self.highest}

    def holds(self, value: float) -> bool:
        """Return whether a value can be right.

        >>> GROOVE_RADIUS.holds(66.0), GROOVE_RADIUS.holds(6.6), GROOVE_RADIUS.holds(float("nan"))
        (True, False, False)
        """
        return self.lowest <= value <= self.highest


_SLIP = "several times what any deck has, so that only a slip of unit or of digits is outside"

# Geometry
GROOVE_RADIUS = InputRange(
    20.0, 200.0, "mm", "a 16-inch disc is 203 mm in radius; no label leaves a groove inside 20 mm"
)
ARM_LENGTH = InputRange(100.0, 500.0, "mm", "pivoted arms have 150 to 430 mm from pivot to stylus and to spindle")
OVERHANG = InputRange(
    -60.0, 60.0, "mm", "offset arms overhang by 10 to 25 mm, underhung arms fall short by up to 30 mm"
)
OFFSET_ANGLE = InputRange(0.0, 60.0, "deg", "offset arms have 15 to 30 degrees, an underhung arm none")
LENGTH_TOLERANCE = InputRange(-20.0, 20.0, "mm", _SLIP)
BESIDE_THE_ARC = InputRange(-20.0, 20.0, "mm", "farther off the stylus follows another arc than the one drawn")
BESIDE_THE_ARC_UNCERTAINTY = InputRange(0.001, 5.0, "mm", _SLIP)
BEARING_FROM_THE_SPINDLE = InputRange(0.0, 180.0, "deg", "it runs from the line to the spindle, to one side")
STYLUS_HEIGHT = InputRange(0.0, 60.0, "mm", "above the platter; a higher scale does not go under a stylus")
RECORD_THICKNESS = InputRange(0.5, 6.0, "mm", "vinyl discs have 1 to 2 mm at the groove, shellac discs 2 to 4 mm")

# Angles of the cartridge
ZENITH = InputRange(-20.0, 20.0, "deg", _SLIP)
NULL_ANGLE = InputRange(-30.0, 30.0, "deg", "more was the offset angle and not the tracking error")
NULL_ANGLE_UNCERTAINTY = InputRange(0.001, 10.0, "deg", _SLIP)
AZIMUTH = InputRange(-45.0, 45.0, "deg", _SLIP)
STYLUS_RAKE_ANGLE = InputRange(60.0, 120.0, "deg", "styli are cut to play within some degrees of 90")
VERTICAL_TRACKING_ANGLE = InputRange(0.0, 60.0, "deg", "discs are cut at 0 to 25 degrees")
VERTICAL_TRACKING_ANGLE_ERROR = InputRange(-30.0, 30.0, "deg", _SLIP)

# Forces
TRACKING_FORCE = InputRange(1.0, 100.0, "mN", "cartridges track at 0.5 to 6 g; those for shellac discs up to 10 g")
SCALE_READING = InputRange(-5.0, 200.0, "mN", "an unloaded scale may show a little below 0; twice any tracking force")
FORCE_PER_MM = InputRange(-20.0, 20.0, "mN", _SLIP)
SIDE_FORCE = InputRange(-50.0, 50.0, "mN", "half the largest tracking force; friction gives a third of it at most")
FRICTION_COEFFICIENT = InputRange(0.0, 2.0, "1", "a stylus on vinyl has 0.2 to 0.5, above 0")

# Masses and compliance
EFFECTIVE_MASS = InputRange(0.1, 100.0, "g", "arms have 4 to 40 g")
CARTRIDGE_MASS = InputRange(0.1, 60.0, "g", "cartridges have 2 to 20 g, with a headshell up to 40 g")
FASTENERS_MASS = InputRange(0.0, 30.0, "g", "screws have 0.5 to 3 g, plates under a cartridge up to 20 g")
COMPLIANCE = InputRange(1.0, 100.0, "um/mN", "cartridges have 4 to 60 um/mN")

# How the arm is built
PIVOT_HEIGHT = InputRange(-50.0, 150.0, "mm", _SLIP)
CENTRE_HEIGHT = InputRange(-100.0, 50.0, "mm", _SLIP)
BALANCING_MASS = InputRange(0.0, 1000.0, "g", _SLIP)
REST_OF_THE_ARM_MASS = InputRange(1.0, 1000.0, "g", _SLIP)
COUNTERWEIGHT_PLACE = InputRange(0.0, 300.0, "mm", _SLIP)
PLACE_IN_THE_HEADSHELL = InputRange(-50.0, 50.0, "mm", _SLIP)
ROLL_AXIS_HEIGHT = InputRange(-50.0, 100.0, "mm", _SLIP)
CARTRIDGE_CENTRE_HEIGHT = InputRange(-10.0, 50.0, "mm", _SLIP)

# Records and rule
SPEED = InputRange(10.0, 100.0, "rpm", "discs turn at 16 2/3 to 78 rpm")
PEAK_VELOCITY = InputRange(0.1, 200.0, "cm/s", "the loudest grooves reach some 100 cm/s")
RISK = InputRange(0.01, 49.0, "%", "half is a toss of a coin; below 1 in 10,000 no reading can be")
STYLUS_HOURS = InputRange(0.0, 20_000.0, "h", "a diamond wears out within some thousand hours")

# Scales and gauges
SCALE_STEP = InputRange(0.001, 10.0, "mN", _SLIP)
SCALE_REPEATABILITY = InputRange(0.0001, 10.0, "mN", _SLIP)
GAUGE_UNCERTAINTY = InputRange(0.0001, 20.0, "mm", _SLIP)
