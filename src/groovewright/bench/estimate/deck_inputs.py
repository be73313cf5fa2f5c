"""Everything that the joint estimate of a deck starts from."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass, field

from groovewright.bench.estimate.job_facts import DEFAULT_RULE
from groovewright.bench.estimate.moves import Move
from groovewright.bench.estimate.observations import Observation
from groovewright.bench.estimate.settings import SettingTargets
from groovewright.measurement.conformity import DecisionRule
from groovewright.measurement.quantity import Quantity
from groovewright.tonearm.arm_build import ArmBuild


@dataclass(frozen=True)
class DeckInputs:
    """What is known of a deck at the bench.

    Parameters
    ----------
    targets : SettingTargets
        What the seven should be.
    build : ArmBuild
        The arm at zero adjustments: before the first move.
    observations : tuple of Observation
        In any order; each with a label of its own.
    moves : tuple of Move
        In any order; each with an order and a label of its own.
    rule : DecisionRule
        By which every verdict is given.
    priors : mapping of str to Quantity
        By `STATE`: what was known of the arm before the first reading, such as from its last visit. What is missing
        here is taken to be as usual, loosely.
    faults : tuple of str
        What is known to be broken, one sentence each.

    Raises
    ------
    ValueError
        In one sentence, if labels or orders do not tell readings and moves apart, or a prior is impossible.
    """

    targets: SettingTargets
    build: ArmBuild
    observations: tuple[Observation, ...] = ()
    moves: tuple[Move, ...] = ()
    rule: DecisionRule = DEFAULT_RULE
    priors: Mapping[str, Quantity] = field(default_factory=dict)
    faults: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        _refuse_twice([reading.label for reading in self.observations], "readings are labelled")
        _refuse_twice([move.label for move in self.moves], "moves are labelled")
        _refuse_twice([str(move.order) for move in self.moves], "moves have the order")
        at_moves = {move.order for move in self.moves}
        for reading in self.observations:
            if reading.order in at_moves:
                raise ValueError(
                    f"{reading.label} has the order {reading.order} of a move; a reading is taken before it or after"
                )


def _refuse_twice(names: list[str], what: str) -> None:
    twice = next((name for name, count in Counter(names).items() if count > 1), None)
    if twice is not None:
        raise ValueError(f"two {what} {twice!r}; tell them apart")
