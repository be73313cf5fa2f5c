"""What the bench answers when it is asked what comes next."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any, Literal

from groovewright.bench.estimate.moves import Move
from groovewright.bench.estimate.setting_state import FurtherReading
from groovewright.bench.estimate.settings import SettingKey
from groovewright.tonearm.arm_state import ADJUSTERS, Adjustments

UNITS = {"mm": "mm", "deg": "deg", "mn": "mN"}
"""The unit that the name of an adjuster ends with, as printed."""

StepKind = Literal["move", "read first", "all in tolerance", "cannot be reached"]


@dataclass(frozen=True)
class Disturbance:
    """What a move does to a setting that it is not made for.

    Attributes
    ----------
    key : str
        Of `SETTING_KEYS`.
    change : float
        Expected, in the setting's unit.
    blur : float
        Standard uncertainty that the move adds to it, in the setting's unit.
    unit : str
    in_tolerances : float or None
        Change over half the width of its tolerance; None without two limits. [1]
    text : str
        For example ``"raises the tracking force by about 0.02 g"``.
    """

    key: SettingKey
    change: float
    blur: float
    unit: str
    in_tolerances: float | None
    text: str


@dataclass(frozen=True)
class ProposedMove:
    """One adjustment, to be made with one loosening of screws at most.

    Attributes
    ----------
    amounts : Adjustments
        How far to move each adjuster from where it stands.
    uncertainty : Adjustments
        Standard uncertainty of the amount that would be exactly right, by what is known of the deck.
    hand : Adjustments
        Standard uncertainty of what the hand will make of it.
    sentence : str
        In workshop terms.
    caution : str
        What to mind so that nothing breaks.
    serves : tuple of str
        Settings that it is made for.
    disturbs : tuple of Disturbance
        What it does to the others, where that is noticeable.
    spoils : tuple of str
        Settings that are good now and likely out of tolerance after it, until another move or setting anew mends that.
    read_again : tuple of str
        Settings to be read again after it.
    log_probability_before, log_probability_after : float
        Natural logarithms of the probability that all settings with a tolerance conform, now and after the move, the
        hand's error included; after those that must follow, too, where it is no gain by itself.
    followed_by : tuple of str
        Keys of the groups of adjusters whose moves must follow for that; empty where the move is a gain by itself.
    """

    amounts: Adjustments
    uncertainty: Adjustments
    hand: Adjustments
    sentence: str
    caution: str
    serves: tuple[SettingKey, ...]
    disturbs: tuple[Disturbance, ...]
    spoils: tuple[SettingKey, ...]
    read_again: tuple[SettingKey, ...]
    log_probability_before: float
    log_probability_after: float
    followed_by: tuple[str, ...] = ()

    def as_json(self) -> dict[str, Any]:
        """Return one object of plain JSON types; adjusters that are left alone are absent."""
        return {
            "sentence": self.sentence,
            "caution": self.caution,
            "adjusters": {name.rpartition("_")[0]: self._adjuster(name) for name in ADJUSTERS if self._moves(name)},
            "made_for": list(self.serves),
            "disturbs": {
                one.key: {"value": one.change, "unit": one.unit, "standard_uncertainty": one.blur}
                for one in self.disturbs
            },
            "spoils": list(self.spoils),
            "read_again": list(self.read_again),
            "followed_by": list(self.followed_by),
            "probability_before": math.exp(self.log_probability_before),
            "probability_after": math.exp(self.log_probability_after),
            "log_probability_before": _number(self.log_probability_before),
            "log_probability_after": _number(self.log_probability_after),
        }

    def _moves(self, name: str) -> bool:
        return bool(getattr(self.amounts, name))

    def _adjuster(self, name: str) -> dict[str, Any]:
        """Return how far to move one adjuster, and how finely a hand does that."""
        return {
            "value": getattr(self.amounts, name),
            "unit": UNITS[name.rpartition("_")[2]],
            "standard_uncertainty": getattr(self.uncertainty, name),
            "hand_standard_uncertainty": getattr(self.hand, name),
        }

    def made(self, *, order: int, label: str) -> Move:
        """Return the move as it enters the estimate once it was made as asked."""
        return Move(self.amounts, self.hand, order, label)


@dataclass(frozen=True)
class ReadFirst:
    """A reading that helps more than a move.

    Attributes
    ----------
    key : str
        The setting, of `SETTING_KEYS`.
    why : str
        One sentence.
    reading : FurtherReading or None
        Which kind would help most.
    """

    key: SettingKey
    why: str
    reading: FurtherReading | None

    def as_json(self) -> dict[str, Any]:
        """Return one object of plain JSON types."""
        reading = None if self.reading is None else self.reading.as_json()
        return {"setting": self.key, "why": self.why, "reading": reading}


@dataclass(frozen=True)
class NextStep:
    """What comes next.

    Attributes
    ----------
    kind : str
        "move", "read first", "all in tolerance" or "cannot be reached".
    sentence : str
        The whole answer in one or two sentences.
    move : ProposedMove or None
        With "move"; with "cannot be reached", what still brings the rest nearer.
    read : ReadFirst or None
        With "read first".
    faults : tuple of str
        What stands in the way, named rather than adjusted away.
    log_probability : float
        That all settings with a tolerance conform as things stand, as a natural logarithm.
    notes : tuple of str
        What to mind.
    """

    kind: StepKind
    sentence: str
    move: ProposedMove | None
    read: ReadFirst | None
    faults: tuple[str, ...]
    log_probability: float
    notes: tuple[str, ...] = ()

    def as_json(self) -> dict[str, Any]:
        """Return one object of plain JSON types: amounts and changes as quantities, what is not known as null."""
        return {
            "kind": self.kind,
            "sentence": self.sentence,
            "move": None if self.move is None else self.move.as_json(),
            "read_first": None if self.read is None else self.read.as_json(),
            "faults": list(self.faults),
            "probability": math.exp(self.log_probability),
            "log_probability": _number(self.log_probability),
            "notes": list(self.notes),
        }


def _number(logarithm: float) -> float | None:
    """Return a logarithm; None for that of an impossibility, which JSON cannot hold."""
    return logarithm if math.isfinite(logarithm) else None
