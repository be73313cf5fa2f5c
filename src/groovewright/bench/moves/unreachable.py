"""What cannot be set on this arm with this cartridge, and why: a fault to name, not to adjust away."""

from __future__ import annotations

import math

import numpy as np

from groovewright.bench.estimate.settings import SETTING_KEYS, SETTINGS, SettingKey
from groovewright.bench.moves.adjuster_groups import GROUPS
from groovewright.bench.moves.hands import Hands
from groovewright.bench.moves.headshell_limits import HeadshellLimits
from groovewright.bench.moves.move_wording import amount_text, listed, setting_amount
from groovewright.bench.moves.outlook import Outlook
from groovewright.bench.moves.plan import Plan, make_plan
from groovewright.measurement.conformity import DecisionRule
from groovewright.tonearm.adjusters import ADJUSTER_TABLE
from groovewright.tonearm.arm_state import ADJUSTERS

RAKE = SETTING_KEYS.index("stylus_rake_angle")
VERTICAL = SETTING_KEYS.index("vertical_tracking_angle")
FAR = 1e3
"""No adjuster goes so far, in its unit."""


def unreachable(outlook: Outlook, plan: Plan, limits: HeadshellLimits, hands: Hands, rule: DecisionRule) -> list[str]:
    """Return one sentence for each fault that keeps a setting out of its tolerance wherever the adjusters stand.

    A fault is named only where it is shown: the setting stays out by the guard band of the rule.

    Parameters
    ----------
    outlook : Outlook
    plan : Plan
        The best that the limits allow.
    limits : HeadshellLimits
    hands : Hands
    rule : DecisionRule
    """
    out = _left_out(plan, rule)
    if not out:
        return []
    free = make_plan(outlook, _without_ends(limits), hands)
    still = _left_out(free, rule)
    faults = []
    if RAKE in still or VERTICAL in still:
        faults.append(_angles_apart(outlook))
        still -= {RAKE, VERTICAL}
        out -= {RAKE, VERTICAL}
    beyond = sorted(out - still)
    if beyond:
        faults.append(_too_short(outlook, plan, free, beyond, limits))
    faults += [_nothing_moves(SETTING_KEYS[k], limits) for k in sorted(still & out)]
    return faults


def out_of_reach(plan: Plan) -> float:
    """Return how far the worst setting would stay out of its tolerance, in its unit; 0 or less if none does."""
    lower, upper = plan.end.limits
    reached = plan.end.settings
    return float(np.max(np.maximum(lower - reached, reached - upper)))


def _left_out(plan: Plan, rule: DecisionRule) -> set[int]:
    lower, upper = plan.end.limits
    reached = plan.end.settings
    guard = max(rule.guard_factor, 1.0) * np.sqrt(np.diag(plan.end.settings_covariance))
    past = np.maximum(lower - reached, reached - upper)
    return set(map(int, np.flatnonzero((past > guard) & (past > 1e-9))))


def _without_ends(limits: HeadshellLimits) -> HeadshellLimits:
    ranges = {name: (0.0, 0.0) if limits.is_fixed(name) else (-FAR, FAR) for name in ADJUSTERS}
    ranges["counterweight_mm"] = limits.ranges["counterweight_mm"]
    return HeadshellLimits(ranges, limits.force)


def _angles_apart(outlook: Outlook) -> str:
    lower, upper = outlook.limits
    apart = float(outlook.settings[RAKE] - outlook.settings[VERTICAL])
    slopes = outlook.settings_covariance
    spread = math.sqrt(max(float(slopes[RAKE, RAKE] + slopes[VERTICAL, VERTICAL] - 2 * slopes[RAKE, VERTICAL]), 0.0))
    least, most = float(lower[RAKE] - upper[VERTICAL]), float(upper[RAKE] - lower[VERTICAL])
    digits = max(1, 1 - math.floor(math.log10(spread))) if spread > 0 else 1
    return (
        "Stylus rake angle and vertical tracking angle of this cartridge cannot both be in tolerance: they lie "
        f"{apart:.{digits}f}° ± {spread:.{digits}f}° apart, the arm's height moves both alike, and their tolerances "
        f"need {least:.1f}° to {most:.1f}°. That is a fault of the cartridge: report it, and set the angle that "
        "matters more."
    )


def _too_short(outlook: Outlook, plan: Plan, free: Plan, beyond: list[int], limits: HeadshellLimits) -> str:
    keys = [SETTING_KEYS[k] for k in beyond]
    stands = outlook.adjusted.as_array()
    held = [
        (name, stands[place] + free.amounts[place])
        for group in GROUPS
        if set(group.serves) & set(keys)
        for name, place in zip(group.adjusters, group.places, strict=True)
        if plan.bounded[place]
    ]
    titles = listed([SETTINGS[key].title.lower() for key in keys])
    verb = "stays" if len(keys) == 1 else "stay"
    lower, upper = plan.end.limits
    past = [
        setting_amount(SETTING_KEYS[k], max(lower[k] - plan.end.settings[k], plan.end.settings[k] - upper[k]))
        for k in beyond
    ]
    text = f"The {titles} {verb} {listed(past)} out of tolerance"
    if not held:
        return f"{text} within the limits of the adjusters."
    reasons = [
        f"{amount_text(name, needed)} from where it first stood is needed, and {ADJUSTER_TABLE[name].room} "
        f"{'end' if ADJUSTER_TABLE[name].room.startswith('the slots') else 'ends'} at "
        f"{amount_text(name, limits.ranges[name][0 if needed < 0 else 1])}"
        for name, needed in held
    ]
    return f"{text}: {listed(reasons)}, the hand's error kept clear."


def _nothing_moves(key: SettingKey, limits: HeadshellLimits) -> str:
    title = SETTINGS[key].title.lower()
    fixed = [
        ADJUSTER_TABLE[name].room
        for group in GROUPS
        if key in group.serves
        for name in group.adjusters
        if limits.is_fixed(name)
    ]
    why = f": {listed(fixed)} {'is' if len(fixed) == 1 else 'are'} given as none" if fixed else ""
    return f"Nothing that can be moved on this arm brings the {title} into its tolerance{why}."
