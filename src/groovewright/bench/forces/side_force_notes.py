"""What to do at the bench about a side force, and what never to do."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from groovewright.gauges.difference import exceeds_uncertainty
from groovewright.measurement.conformity import IN_TOLERANCE
from groovewright.measurement.formatting import format_force, format_number
from groovewright.tonearm.side_force import USUAL_COMPENSATION_SHARE

if TYPE_CHECKING:
    from groovewright.bench.forces.side_force_result import SideForceResult

NEVER_MORE_FORCE = (
    "If a channel mistracks, leave the tracking force in the middle of the maker's range: more of it is no remedy. The "
    "right channel goes first with too little compensation, the left one with too much."
)


def side_force_notes(result: SideForceResult) -> tuple[str, ...]:
    """Return the notes of a result that has none yet."""
    share = result.share_of_tracking_force
    if result.request.compensation is None:
        notes = [
            f"No compensation is given, so there is no verdict. The same at every radius, "
            f"{format_force(result.balancing_compensation)} would leave least over."
        ]
    else:
        notes = [*_about_the_bearings(result), *_about_the_course(result), *_what_to_do(result)]
    usual = f"near {100 * USUAL_COMPENSATION_SHARE:.0f} % of the tracking force is common practice, no source"
    notes.append(
        f"What balances best here is {format_number(share.value, share.standard_uncertainty)} % of the tracking force; "
        f"{usual}."
    )
    if result.request.friction_coefficient.how == "common practice, no source":
        notes.append(
            "The friction coefficient is not read but taken as 0.2 to 0.4 (common practice, no source); a reading of "
            "the rest, or a ladder of rising levels, tells more."
        )
    return (*notes, NEVER_MORE_FORCE)


def _about_the_bearings(result: SideForceResult) -> list[str]:
    friction = result.request.bearing_friction
    if friction is None:
        return ["The bearings' friction is not read, so it is missing from what may be left over."]
    if friction.value >= result.request.limit:
        return [
            f"The bearings hold {format_force(friction)} either way, which is all that may be left over "
            f"({result.request.limit:.3g} mN): no compensation can mend that. Look for dry, dirty or tight bearings "
            f"and stiff wires first."
        ]
    return []


def _about_the_course(result: SideForceResult) -> list[str]:
    pulled = [point.radius_mm for point in result.groove if point.compensation and point.compensation.value < 0]
    if pulled:
        return [
            f"The compensation draws toward the spindle at {pulled[0]:.4g} mm, so it adds to the side force there; "
            f"check its signs and angles."
        ]
    rests = [point.rest.value for point in result.groove if point.rest is not None]
    if max(rests) - min(rests) > 2 * result.request.limit:
        return [
            f"Over the groove the rest varies by {max(rests) - min(rests):.2g} mN, more than both limits stand apart: "
            f"the compensation's course does not suit this arm, whatever its strength."
        ]
    return []


def _what_to_do(result: SideForceResult) -> list[str]:
    change, verdict = result.change, result.verdict
    if change is None or verdict is None or verdict.outcome == IN_TOLERANCE or not exceeds_uncertainty(change):
        return []
    way = "more" if change.value > 0 else "less"
    amount = format_force(replace(change, value=abs(change.value)))
    return [f"Set {way} compensation, by {amount}, and read the side force again."]
