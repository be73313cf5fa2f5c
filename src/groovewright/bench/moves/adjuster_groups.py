"""Which adjusters are moved in one go, what they are there for, and how a workshop words it."""

from __future__ import annotations

from dataclasses import dataclass

from groovewright.bench.estimate.settings import SettingKey
from groovewright.tonearm.adjusters import ADJUSTER_TABLE
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
    gerund : str
        What the hand does.
    caution : str
    """

    key: str
    title: str
    adjusters: tuple[str, ...]
    serves: tuple[SettingKey, ...]
    gerund: str
    caution: str

    @property
    def places(self) -> tuple[int, ...]:
        """Of its adjusters in `ADJUSTERS`."""
        return tuple(map(ADJUSTERS.index, self.adjusters))


def _alone(key: str, title: str, adjuster: str, serves: tuple[SettingKey, ...]) -> AdjusterGroup:
    words = ADJUSTER_TABLE[adjuster]
    return AdjusterGroup(key, title, (adjuster,), serves, words.gerund, f"{words.caution}.")


GROUPS: tuple[AdjusterGroup, ...] = (
    _alone("base", "Arm base", "base_position_mm", ("effective_length", "zenith")),
    _alone("height", "Arm height", "arm_height_mm", ("stylus_rake_angle", "vertical_tracking_angle")),
    _alone("roll", "Roll", "roll_deg", ("azimuth",)),
    AdjusterGroup(
        "headshell",
        "Cartridge in the headshell",
        ("slide_mm", "turn_deg"),
        ("effective_length", "zenith"),
        "moving the cartridge",
        f"{ADJUSTER_TABLE['slide_mm'].caution}.",
    ),
    _alone("counterweight", "Counterweight", "counterweight_mm", ("tracking_force",)),
    _alone("compensation", "Side-force compensation", "compensation_mn", ("side_force",)),
)
"""In an order in which, as a rule, little comes back; the order of a certain arm follows from its couplings."""
GROUP = {group.key: group for group in GROUPS}
