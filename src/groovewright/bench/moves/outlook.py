"""What is known of a deck as it stands, and what would be known of it after a move."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from groovewright.bench.estimate.carrying import carried_from
from groovewright.bench.estimate.deck_inputs import DeckInputs
from groovewright.bench.estimate.moves import Move
from groovewright.bench.estimate.settings import SETTING_KEYS, SettingTargets, settings_jacobian, settings_of
from groovewright.measurement.box_probability import box_probability
from groovewright.measurement.quantity import Quantity
from groovewright.tonearm.arm_build import ArmBuild
from groovewright.tonearm.arm_model import couplings
from groovewright.tonearm.arm_state import ADJUSTERS, STATE, Adjustments, ArmState


@dataclass(frozen=True, eq=False)
class Outlook:
    """How a deck stands, as a mean and a covariance of its state.

    Attributes
    ----------
    build : ArmBuild
    targets : SettingTargets
    adjusted : Adjustments
        All moves so far together.
    adjusted_variance : ndarray, shape (7,)
        How far the hands may have been off in them.
    mean : ndarray, shape (9,)
        In the order of `STATE`.
    covariance : ndarray, shape (9, 9)
    """

    build: ArmBuild
    targets: SettingTargets
    adjusted: Adjustments
    adjusted_variance: NDArray[np.float64]
    mean: NDArray[np.float64]
    covariance: NDArray[np.float64]

    @property
    def state(self) -> ArmState:
        """Best estimate of the state."""
        return ArmState.from_array(self.mean)

    @cached_property
    def settings(self) -> NDArray[np.float64]:
        """Best estimates of the seven settings, in the order of `SETTING_KEYS`."""
        return settings_of(self.state, self.targets)

    @cached_property
    def settings_covariance(self) -> NDArray[np.float64]:
        """Covariance of the seven settings, shape (7, 7)."""
        return np.asarray(self._jacobian @ self.covariance @ self._jacobian.T)

    @cached_property
    def _jacobian(self) -> NDArray[np.float64]:
        return settings_jacobian(self.state, self.targets)

    @cached_property
    def adjuster_slopes(self) -> NDArray[np.float64]:
        """How the settings move with the adjusters where they now stand, shape (7, 7)."""
        return np.asarray(self._jacobian @ self.couplings())

    @cached_property
    def limits(self) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Lower and upper limits of the seven; infinite where there is none."""
        tolerances = [self.targets.tolerances.get(key) for key in SETTING_KEYS]
        lower = [-math.inf if t is None or t.lower is None else t.lower for t in tolerances]
        upper = [math.inf if t is None or t.upper is None else t.upper for t in tolerances]
        return np.array(lower), np.array(upper)

    def couplings(self) -> NDArray[np.float64]:
        """Return how the state moves with the adjusters where they now stand, shape (9, 7)."""
        # As `carrying` does: the real counterweight may stand elsewhere than the build's.
        return couplings(self.build, replace(self.adjusted, counterweight_mm=0.0))

    def after(self, amounts: NDArray[np.float64], hand: NDArray[np.float64]) -> Outlook:
        """Return what would be known after a move and before anything is read again.

        Parameters
        ----------
        amounts, hand : ndarray, shape (7,)
            How far each adjuster is moved, and the standard uncertainty of that, in the order of `ADJUSTERS`.

        Raises
        ------
        ValueError
            If the arm cannot stand so.
        """
        move = Move(Adjustments.from_array(amounts), Adjustments.from_array(hand), 0, "next move")
        carried = carried_from(self.build, self.adjusted, move)
        return replace(
            self,
            adjusted=Adjustments.from_array(self.adjusted.as_array() + amounts),
            adjusted_variance=self.adjusted_variance + hand**2,
            mean=self.mean + carried.shift,
            covariance=self.covariance + carried.contributions @ carried.contributions.T,
        )

    def log_probability(self) -> float:
        """Return the logarithm of the probability that all settings with a tolerance conform."""
        lower, upper = self.limits
        limited = np.isfinite(lower) | np.isfinite(upper)
        within = self.settings_covariance[np.ix_(limited, limited)]
        return box_probability(self.settings[limited], within, lower=lower[limited], upper=upper[limited]).log


def outlook(inputs: DeckInputs, state: Mapping[str, Quantity]) -> Outlook:
    """Return the outlook of a deck.

    Parameters
    ----------
    inputs : DeckInputs
    state : mapping of str to Quantity
        By `STATE`, as the joint estimate gives it.

    Raises
    ------
    ValueError
        If the uncertainty of a part of the state is unknown.
    """
    sources: dict[object, int] = {}
    for name in STATE:
        components = state[name].components
        if components is None:
            raise ValueError(f"no next move: the uncertainty of {name} is unknown ({state[name].why_unknown})")
        for source in components:
            sources.setdefault(source, len(sources))
    parts = np.zeros((len(STATE), len(sources)))
    for row, name in enumerate(STATE):
        for source, contribution in (state[name].components or {}).items():
            parts[row, sources[source]] = contribution
    amounts, variance = np.zeros(len(ADJUSTERS)), np.zeros(len(ADJUSTERS))
    for move in sorted(inputs.moves, key=lambda move: move.order):
        amounts += move.amounts.as_array()
        lost = np.array([name in move.unknown for name in ADJUSTERS])
        # Where such an adjuster is after it nobody knows, so its limits count anew from there.
        variance = np.where(lost, 0.0, variance + move.uncertainty.as_array() ** 2)
    return Outlook(
        inputs.build,
        inputs.targets,
        Adjustments.from_array(amounts),
        variance,
        np.array([state[name].value for name in STATE]),
        parts @ parts.T,
    )
