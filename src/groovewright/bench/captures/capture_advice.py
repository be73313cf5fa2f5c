"""What to do about a quantity of a capture that is out of tolerance: the setting it enters, or the cause."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from groovewright.bench.captures.capture_limits import SETTING_OF
from groovewright.bench.estimate.settings import SETTINGS, SettingKey

SETTINGS_SERVED: Mapping[str, SettingKey] = MappingProxyType(
    {
        **SETTING_OF,
        "crosstalk_left_into_right": "azimuth",
        "crosstalk_right_into_left": "azimuth",
        "tracking_ability_left": "side_force",
        "tracking_ability_right": "side_force",
    }
)
"""Setting that puts a quantity right."""

_FLUTTER = (
    "Look at the speed turn under turn: what stands upright is the platter's or the record's, what slants comes from "
    "motor, belt or idler."
)
_RESONANCE = "Too low: less moving mass or a stiffer cartridge. Too high: more mass at the headshell."
_TRACKING_ABILITY = (
    "Set the side-force compensation by the channel that breaks down first; never answer with more tracking force."
)
_CROSSTALK = "Turn the cartridge to the best azimuth; what crosstalk is left there no turning cures."

ACTIONS: Mapping[str, str] = MappingProxyType(
    {
        "speed_error": "Set the platter's speed; without a trimmer look at belt, idler and pulley.",
        "wow_flutter_weighted_2sigma_without_eccentricity": _FLUTTER,
        "wow_flutter_weighted_quasi_peak_without_eccentricity": _FLUTTER,
        "eccentricity": "It is the record's: centre it on the spindle or take another; no setting cures it.",
        "crosstalk_left_into_right": _CROSSTALK,
        "crosstalk_right_into_left": _CROSSTALK,
        "azimuth_rotation": "Turn the cartridge about its axis until both ways of crosstalk are alike.",
        "crosstalk_at_best_azimuth": "No turning cures it: look at the cartridge, its leads and the phono stage.",
        "channel_balance": "Swap the leads of both channels: if the louder side changes, it is the cartridge; if not, "
        "what follows it.",
        "effective_length_error": "Slide the cartridge in its slots.",
        "zenith_error": "Turn the cartridge in the headshell.",
        "vertical_tracking_angle_error": "Raise or lower the arm's base; the stylus rake angle goes with it.",
        "resonance_lateral": _RESONANCE,
        "resonance_vertical": _RESONANCE,
        "rumble_band_level": "Look at the main bearing, the motor's mounts and what the deck stands on.",
        "hum": "Pull the mains plug first, then look at the earth lead, the leads' way past transformers, and the "
        "headshell's contacts.",
        "tracking_ability_left": _TRACKING_ABILITY,
        "tracking_ability_right": _TRACKING_ABILITY,
    }
)


@dataclass(frozen=True)
class Advice:
    """What to do about one quantity.

    Attributes
    ----------
    setting : str or None
        Setting of the bench that puts it right, whose next move says how far; None where no setting does.
    action : str
        One or two sentences; empty where only its limits were set by the workshop.
    """

    setting: SettingKey | None
    action: str

    @property
    def setting_title(self) -> str:
        """Name of the setting on screen; empty where there is none."""
        return "" if self.setting is None else SETTINGS[self.setting].title


def advice_for(name: str) -> Advice:
    """Return what to do about a quantity by its name."""
    return Advice(SETTINGS_SERVED.get(name), ACTIONS.get(name, ""))
