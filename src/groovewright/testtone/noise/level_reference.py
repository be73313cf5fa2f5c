"""What a noise level is compared with: full scale, or a lateral tone of known velocity."""

from __future__ import annotations

import math
from dataclasses import dataclass

from groovewright.measurement.propagation import propagate
from groovewright.measurement.quantity import Quantity
from groovewright.testtone.tones.equalisation import equalisation_response

REFERENCE_VELOCITY_CM_S = 5.0
REFERENCE_FREQUENCY_HZ = 1000.0


@dataclass(frozen=True)
class LevelReference:
    """Level that counts as 0 dB in each channel.

    Attributes
    ----------
    left, right : Quantity
        Its rms value in each channel. [full scale, unit "1"]
    label : str
        What it is, as printed behind a level.
    """

    left: Quantity
    right: Quantity
    label: str


FULL_SCALE = LevelReference(
    Quantity.exact(math.sqrt(0.5), "1"), Quantity.exact(math.sqrt(0.5), "1"), "re a sine that just fills full scale"
)


def reference_from_tone(
    *,
    amplitude_left: Quantity,
    amplitude_right: Quantity,
    frequency_hz: float,
    peak_velocity_cm_s: float,
    equalised: bool,
) -> LevelReference:
    """Return the level of a lateral tone of 5 cm/s peak at 1 kHz, from any lateral tone of known velocity.

    Parameters
    ----------
    amplitude_left, amplitude_right : Quantity
        Peak values of the tone in the recording. [full scale, unit "1"]
    frequency_hz, peak_velocity_cm_s : float
        Of the tone as cut; its level is carried to 1 kHz along the playback curve, if there is one. [Hz], [cm/s]
    equalised : bool
        Whether the recording went through the playback equalisation.
    """
    for channel, amplitude in (("left", amplitude_left), ("right", amplitude_right)):
        if not amplitude.value > 0:
            raise ValueError(
                f"the reference tone has an amplitude of {amplitude.value:g} in the {channel} channel; a level needs a "
                f"tone that both channels hold, so give another band or none, and full scale will do"
            )
    if not peak_velocity_cm_s > 0:
        raise ValueError(f"the reference tone has a peak velocity of {peak_velocity_cm_s:g} cm/s; it must be above 0")
    factor = math.sqrt(0.5) * REFERENCE_VELOCITY_CM_S / peak_velocity_cm_s
    if equalised:
        at_tone, at_reference = (abs(equalisation_response(hz)) for hz in (frequency_hz, REFERENCE_FREQUENCY_HZ))
        factor *= float(at_reference / at_tone)
    left, right = (
        propagate(lambda *, amplitude: amplitude * factor, {"amplitude": amplitude}, unit="1", how="lateral tone")
        for amplitude in (amplitude_left, amplitude_right)
    )
    return LevelReference(left, right, "re lateral 5 cm/s peak at 1 kHz, as the test record states its tone")
