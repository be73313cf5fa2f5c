"""The adjusters of an arm: their names, which way is positive, how far they go, how finely a hand sets them."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Adjuster:
    """One adjuster.

    Parameters
    ----------
    key : str
        Its name in `Adjustments`; amounts are in `unit`.
    title : str
        For a field or a row, with its positive direction.
    gerund : str
        What the hand does, such as ``"sliding the cartridge"``.
    positive : str
        What a positive amount of it has done, such as ``"cartridge slid forward"``.
    sense : str
        Which way is positive, as a hint beside a field.
    unit : str
        mm, deg or mN.
    usual_range : tuple of float
        Lowest and highest from where it stood before the first move; (0, 0) where it is usually screwed down. Rule of
        thumb. [unit]
    max_travel : float
        No adjuster of this kind goes farther either way: rule of thumb. [unit]
    repeatability : float
        Standard uncertainty of a small move made with care: rule of thumb. [unit]
    room : str
        What bounds it, as a sentence has it.
    caution : str
        What to do before it is moved, without its full stop.
    """

    key: str
    title: str
    gerund: str
    positive: str
    sense: str
    unit: str
    usual_range: tuple[float, float]
    max_travel: float
    repeatability: float
    room: str
    caution: str


_STYLUS = "Lift the stylus off the record and guard it first"
_LOCKED = f"{_STYLUS}, and lock the arm to its rest"
_SCREWS = f"{_STYLUS}; loosen the screws only as far as the cartridge still holds"

ADJUSTER_TABLE: dict[str, Adjuster] = {
    adjuster.key: adjuster
    for adjuster in (
        Adjuster(
            "slide_mm",
            title="Cartridge, forward",
            gerund="sliding the cartridge",
            positive="cartridge slid forward",
            sense="Forward is +",
            unit="mm",
            usual_range=(-6.0, 6.0),
            max_travel=50.0,
            repeatability=0.10,
            room="the slots of the headshell",
            caution=_SCREWS,
        ),
        Adjuster(
            "turn_deg",
            title="Cartridge, turned inward",
            gerund="turning the cartridge",
            positive="cartridge turned inward",
            sense="Inward is +",
            unit="deg",
            usual_range=(-6.0, 6.0),
            max_travel=45.0,
            repeatability=0.15,
            room="the headshell's room for turning",
            caution=_SCREWS,
        ),
        Adjuster(
            "base_position_mm",
            title="Arm base, from the spindle",
            gerund="moving the arm base",
            positive="arm base moved from the spindle",
            sense="Away from the spindle is +",
            unit="mm",
            usual_range=(0.0, 0.0),
            max_travel=100.0,
            repeatability=0.15,
            room="the room of the arm's base",
            caution=_LOCKED,
        ),
        Adjuster(
            "arm_height_mm",
            title="Arm, up",
            gerund="changing the arm's height",
            positive="arm raised",
            sense="Up is +",
            unit="mm",
            usual_range=(-10.0, 10.0),
            max_travel=60.0,
            repeatability=0.10,
            room="the range of the arm's height",
            caution=f"{_LOCKED}; an arm that drops in its base breaks a stylus",
        ),
        Adjuster(
            "counterweight_mm",
            title="Counterweight, to the pivot",
            gerund="moving the counterweight",
            positive="counterweight moved toward the pivot",
            sense="Toward the pivot is +: more force",
            unit="mm",
            usual_range=(-15.0, 15.0),
            max_travel=100.0,
            repeatability=0.05,
            room="the counterweight's range",
            caution=f"{_STYLUS}; hold the arm while the weight moves",
        ),
        Adjuster(
            "compensation_mn",
            title="Compensation, more",
            gerund="changing the compensation",
            positive="compensation raised",
            sense="More is +",
            unit="mN",
            usual_range=(-6.0, 6.0),
            max_travel=50.0,
            repeatability=0.15,
            room="the range of the side-force compensation",
            caution=_STYLUS,
        ),
        Adjuster(
            "roll_deg",
            title="Cartridge or tube, rolled",
            gerund="rolling the cartridge",
            positive="cartridge rolled",
            sense="Clockwise seen from the front is +",
            unit="deg",
            usual_range=(-4.0, 4.0),
            max_travel=45.0,
            repeatability=0.15,
            room="the range for rolling",
            caution=_STYLUS,
        ),
    )
}
"""By the names of `Adjustments`, in their order."""
