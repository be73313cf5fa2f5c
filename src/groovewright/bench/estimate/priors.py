"""What is known of an arm before the first reading: what is usual, loosely."""

from __future__ import annotations

from collections.abc import Mapping

from groovewright.bench.estimate.carrying import STATE_TITLES
from groovewright.bench.forces.friction_coefficient import usual_friction_coefficient
from groovewright.measurement.quantity import Quantity
from groovewright.measurement.units import require_unit
from groovewright.tonearm.arm_build import ArmBuild
from groovewright.tonearm.arm_model import arm_state
from groovewright.tonearm.arm_state import STATE

STATE_UNITS: dict[str, str] = {
    "effective_length_mm": "mm",
    "pivot_to_spindle_mm": "mm",
    "offset_angle_deg": "deg",
    "tracking_force_mn": "mN",
    "compensation_mn": "mN",
    "friction_coefficient": "1",
    "azimuth_deg": "deg",
    "stylus_rake_angle_deg": "deg",
    "vertical_tracking_angle_deg": "deg",
}

USUAL_SPREAD: dict[str, float] = {
    "effective_length_mm": 10.0,
    "pivot_to_spindle_mm": 10.0,
    "offset_angle_deg": 8.0,
    "tracking_force_mn": 10.0,
    "compensation_mn": 5.0,
    "azimuth_deg": 5.0,
    "stylus_rake_angle_deg": 8.0,
    "vertical_tracking_angle_deg": 8.0,
}
"""Standard uncertainty of what nobody has read yet, in `STATE_UNITS`: so wide that any reading outweighs it."""


def complete_priors(priors: Mapping[str, Quantity], build: ArmBuild) -> dict[str, Quantity]:
    """Return what is known of each of `STATE` before the first reading, what is missing being taken as usual.

    The usual is the arm as it was built, with `USUAL_SPREAD`; the friction coefficient is that of vinyl.

    Raises
    ------
    ValueError
        If a prior is none of the state's, is in another unit, or has no uncertainty.
    """
    strange = [name for name in priors if name not in STATE]
    if strange:
        raise ValueError(f"{strange[0]!r} is nothing that an arm's state holds; use {', '.join(STATE)}")
    for name, quantity in priors.items():
        title = STATE_TITLES[name]
        require_unit(quantity, STATE_UNITS[name], name=f"prior of the {title}")
        if quantity.components is None:
            raise ValueError(
                f"what was known of the {title} before has no uncertainty ({quantity.why_unknown}); give it one or "
                f"leave it out"
            )
    as_built = dict(zip(STATE, arm_state(build).as_array(), strict=True))
    usual = {
        name: Quantity.measured(
            float(as_built[name]), STATE_UNITS[name], standard_uncertainty=spread, source=f"usual {STATE_TITLES[name]}"
        )
        for name, spread in USUAL_SPREAD.items()
    }
    usual["friction_coefficient"] = usual_friction_coefficient()
    return {name: priors.get(name, usual[name]) for name in STATE}
