"""Which adjusters are moved in one go, what they are there for, and how a workshop words it."""

from __future__ import annotations

from dataclasses import dataclass

from groovewright.bench.estimate.settings import SettingKey
from groovewright.tonearm.arm_state import ADJUSTERS


@dataclass(frozen=True, slots=True)
class AdjusterGroup:
    """Adjusters that one loosening sets free.

    Attributes
    ----------
    key : str
    title : str
        As a sentence begins with it.
    adjusters : tuple of str
        Of `ADJUSTERS`, in the order in which they are moved.
    serves : tuple of str
        Settings that they are there for.
    caution : str
    """

    key: str
    title: str
    adjusters: tuple[str, ...]
    serves: tuple[SettingKey, ...]
    caution: str

    @property
    def places(self) -> tuple[int, ...]:
        """Of its adjusters in `ADJUSTERS`."""
        return tuple(map(ADJUSTERS.index, self.adjusters))


_STYLUS = "Lift the stylus off the record and guard it first"

GROUPS: tuple[AdjusterGroup, ...] = (
    AdjusterGroup(
        "base",
        "Arm base",
        ("base_position_mm",),
        ("effective_length", "zenith"),
        f"{_STYLUS}, and lock the arm to its rest.",
    ),
    AdjusterGroup(
        "height",
        "Arm height",
        ("arm_height_mm",),
        ("stylus_rake_angle", "vertical_tracking_angle"),
        f"{_STYLUS}, and lock the arm to its rest; an arm that drops in its base breaks a stylus.",
    ),
    AdjusterGroup("roll", "Roll", ("roll_deg",), ("azimuth",), f"{_STYLUS}."),
    AdjusterGroup(
        "headshell",
        "Cartridge in the headshell",
        ("slide_mm", "turn_deg"),
        ("effective_length", "zenith"),
        f"{_STYLUS}; loosen the screws only as far as the cartridge still holds.",
    ),
    AdjusterGroup(
        "counterweight",
        "Counterweight",
        ("counterweight_mm",),
        ("tracking_force",),
        f"{_STYLUS}; hold the arm while the weight moves.",
    ),
    AdjusterGroup("compensation", "Side-force compensation", ("compensation_mn",), ("side_force",), f"{_STYLUS}."),
)
"""In an order in which, as a rule, little comes back; the order of a certain arm follows from its couplings."""
GROUP = {group.key: group for group in GROUPS}
