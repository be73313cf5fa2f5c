"""The one judgement of a deck: all readings in one estimate, and what that says of the seven settings."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from groovewright.bench.estimate.calculated import MIN_NOTICEABLE_CHANGE, Touched, half_width, touched_since_read
from groovewright.bench.estimate.carrying import CarriedMove, carried_moves
from groovewright.bench.estimate.deck_inputs import DeckInputs
from groovewright.bench.estimate.disagreement import Conflict, Disagreement, conflicts
from groovewright.bench.estimate.further_reading import TYPICAL_UNCERTAINTY, further_readings, further_sentence
from groovewright.bench.estimate.joint_estimate import Estimate, estimate, farthest_from_usual
from groovewright.bench.estimate.observations import KINDS_OF_READING, Observation
from groovewright.bench.estimate.priors import STATE_UNITS, complete_priors
from groovewright.bench.estimate.residuals import residuals_of
from groovewright.bench.estimate.setting_state import DeckState, FurtherReading, SettingState, Share
from groovewright.bench.estimate.settings import (
    SETTING_KEYS,
    SETTINGS,
    SettingKey,
    SettingTargets,
    settings_jacobian,
    settings_of,
)
from groovewright.measurement.box_probability import box_probability
from groovewright.measurement.conformity import IN_TOLERANCE, UNDECIDED, Verdict, decide
from groovewright.measurement.formatting import format_quantity
from groovewright.measurement.quantity import Quantity, Source
from groovewright.tonearm.arm_state import STATE, ArmState

MIN_READ_SHARE = 0.5
"""A setting counts as read when readings take away more than this share of its variance: our choice."""

MIN_SHARE = 0.01
"""Smaller shares are not worth a line."""

HOW = "joint estimate of all readings"


def deck_state(inputs: DeckInputs) -> DeckState:
    """Return the seven settings of a deck, by all its readings together.

    A reading taken before a move is carried over it; a setting that a move has touched since it was read is
    calculated, and never in tolerance. Readings of unknown uncertainty cannot be weighted: where they alone tell a
    setting, its value is given with the uncertainty unknown. Where readings disagree beyond chance a verdict holds only
    if it holds with either left out; one that the majority contradicts is left out.

    Raises
    ------
    ValueError
        If the arm cannot stand as the moves say, or if by the readings together the stylus does not reach the groove;
        the reading that is farthest from what is usual is named then.
    """
    deck = _Deck(inputs)
    weighted = tuple(reading for reading in inputs.observations if reading.quantity.components is not None)
    all_together = deck.by(weighted, name_suspect=True)
    found = conflicts(all_together.joint, lambda some: deck.by(some).joint, usual=deck.usual_labels())
    outvoted = {conflict.reading for conflict in found if conflict.is_outvoted}
    kept = all_together
    if outvoted:
        kept = deck.by(tuple(reading for k, reading in enumerate(weighted) if k not in outvoted))
    kept = kept.widened([weighted[conflict.reading].label for conflict in found if not conflict.is_outvoted])
    without_either = [deck.without_either(weighted, kept, conflict) for conflict in found]
    # What the majority contradicts is left out, so no verdict hangs on it any more.
    open_pairs = [pair for conflict, pair in zip(found, without_either, strict=True) if not conflict.is_outvoted]

    used = kept.joint.observations
    touched = touched_since_read(used, deck.moves, kept.slopes, inputs.targets)
    helpful = further_readings(kept.arm, kept.covariance, kept.slopes, inputs.targets)
    shares = _shares(kept.joint, kept.slopes)
    unweighted = deck.by_typical_uncertainties()
    settings = []
    for k, key in enumerate(SETTING_KEYS):
        one = _Setting(key, kept, inputs, touched[k], shares[k], helpful[k])
        if key in inputs.targets.inapplicable:
            reason = inputs.targets.inapplicable[key]
            settings.append(SettingState(key, "does not apply", None, None, None, None, reason))
        elif key in inputs.targets.not_counted:
            settings.append(SettingState(key, "not read", None, None, None, None, inputs.targets.not_counted[key]))
        elif kept.is_read[k] and not touched[k].by_unknown_amount:
            settings.append(one.read(_alternatives(k, open_pairs)))
        elif unweighted is not None and unweighted.is_read[k] and not kept.is_read[k] and not touched[k].reason:
            settings.append(one.of_unknown_uncertainty(unweighted))
        else:
            settings.append(one.not_read())
    probability, error = _all_conform(tuple(settings), kept, inputs.targets)
    return DeckState(
        settings=tuple(settings),
        state=kept.state_quantities(),
        probability_all_conform=probability,
        probability_error=error,
        disagreements=tuple(
            _disagreement(weighted, conflict, kept, pair, inputs.targets)
            for conflict, pair in zip(found, without_either, strict=True)
        ),
        residuals=residuals_of(all_together.joint),
        faults=inputs.faults,
        notes=_notes(all_together.joint, inputs),
    )


@dataclass(frozen=True, eq=False)
class _Result:
    """An estimate with the seven settings that follow from it."""

    joint: Estimate
    arm: ArmState
    values: NDArray[np.float64]
    slopes: NDArray[np.float64]
    sources: tuple[Source, ...]
    errors: NDArray[np.float64]

    @property
    def covariance(self) -> NDArray[np.float64]:
        return np.asarray(self.errors @ self.errors.T)

    @property
    def is_read(self) -> list[bool]:
        """Whether readings tell more of each setting than what is usual does."""
        before = ((self.slopes @ self.joint.prior_errors) ** 2).sum(axis=1)
        after = ((self.slopes @ self.joint.errors) ** 2).sum(axis=1)
        return [bool(left < (1 - MIN_READ_SHARE) * was) for left, was in zip(after, before, strict=True)]

    def quantity(self, k: int) -> Quantity:
        """Return one of the seven, by its place in `SETTING_KEYS`."""
        return self._quantity(self.values[k], self.slopes[k] @ self.errors, SETTINGS[SETTING_KEYS[k]].unit)

    def state_quantities(self) -> dict[str, Quantity]:
        """Return the state by `STATE`."""
        rows = zip(STATE, self.joint.state, self.errors, strict=True)
        return {name: self._quantity(value, row, STATE_UNITS[name]) for name, value, row in rows}

    def _quantity(self, value: float, row: NDArray[np.float64], unit: str) -> Quantity:
        parts = {self.sources[k]: float(row[k]) for k in np.flatnonzero(row)}
        return Quantity(float(value), unit, parts, how=HOW)

    def widened(self, labels: list[str]) -> _Result:
        """Return the result with how far each named reading, which disagrees, draws the state as a further error."""
        places = [k for k, reading in enumerate(self.joint.observations) if reading.label in labels]
        if not places:
            return self
        added = tuple(
            Source(f"disagreement of {self.joint.observations[k].label} with the other readings") for k in places
        )
        # Leaving a reading out moves the estimate by its gain times its residual against the rest.
        drawn = self.joint.gain[:, places] * self.joint.leave_one_out_residual[places]
        return replace(self, sources=(*self.sources, *added), errors=np.hstack([self.errors, drawn]))


class _Deck:
    """A deck of which estimates are made, by some or all of its readings."""

    def __init__(self, inputs: DeckInputs) -> None:
        self.inputs = inputs
        self.priors = complete_priors(inputs.priors, inputs.build)
        self.moves: tuple[CarriedMove, ...] = carried_moves(inputs.build, inputs.moves)

    def by(self, readings: tuple[Observation, ...], *, name_suspect: bool = False) -> _Result:
        """Return the result by these readings alone; ValueError if no arm fits them."""
        priors, targets = [self.priors[name] for name in STATE], self.inputs.targets
        try:
            joint = estimate(readings, self.moves, priors, targets)
            arm = ArmState.from_array(joint.state)
            values = settings_of(arm, targets)
        except ValueError as refusal:
            if not readings or not name_suspect:
                raise
            suspect = farthest_from_usual(readings, self.moves, priors, targets)
            raise ValueError(
                f"No arm fits the readings ({refusal}). The least likely of them is {suspect.label}, "
                f"{format_quantity(suspect.quantity)}: correct it if it was mistyped, or read it again."
            ) from refusal
        return _Result(joint, arm, values, settings_jacobian(arm, targets), joint.sources, joint.errors)

    def usual_labels(self) -> frozenset[str]:
        """Return the labels of the sources that stand for what is usual."""
        return frozenset(source.label for prior in self.priors.values() for source in prior.components or {})

    def without_either(
        self, weighted: tuple[Observation, ...], kept: _Result, conflict: Conflict
    ) -> tuple[_Result, ...]:
        """Return the results without the doubtful reading, and without the one that it disagrees with."""
        doubtful = weighted[conflict.reading]
        counted = kept.joint.observations
        results = [self.by(tuple(one for one in counted if one is not doubtful))]
        if conflict.partner is not None:
            other = weighted[conflict.partner]
            with_doubtful = counted if doubtful in counted else (*counted, doubtful)
            results.append(self.by(tuple(one for one in with_doubtful if one is not other)))
        return tuple(results)

    def by_typical_uncertainties(self) -> _Result | None:
        """Return the result with readings of unknown uncertainty taken as good as such readings usually are.

        Only its values are of use: how far they may be off nobody knows. None where every uncertainty is known.
        """
        observations = self.inputs.observations
        if all(reading.quantity.components is not None for reading in observations):
            return None
        try:
            return self.by(tuple(map(_as_good_as_usual, observations)))
        except ValueError:
            return None


def _as_good_as_usual(reading: Observation) -> Observation:
    if reading.quantity.components is not None:
        return reading
    usual = Quantity.measured(
        reading.quantity.value,
        reading.quantity.unit,
        standard_uncertainty=TYPICAL_UNCERTAINTY[reading.kind],
        source=f"as usual for {reading.label}",
    )
    return replace(reading, quantity=usual)


@dataclass(frozen=True, eq=False)
class _Setting:
    """What is at hand to say of one setting."""

    key: SettingKey
    result: _Result
    inputs: DeckInputs
    touched: Touched
    based_on: tuple[Share, ...]
    helpful: FurtherReading | None

    @property
    def _place(self) -> int:
        return SETTING_KEYS.index(self.key)

    def read(self, alternatives: list[_Alternative]) -> SettingState:
        """Return a setting that was read, or is calculated from what was read."""
        quantity = self.result.quantity(self._place)
        aim, tolerance = self.inputs.targets.aims.get(self.key), self.inputs.targets.tolerances.get(self.key)
        verdict, reason = None, self.touched.reason
        if tolerance is not None:
            verdict = decide(quantity, tolerance, self.inputs.rule)
            disputed = _disputed(verdict, alternatives, self.inputs)
            if reason and verdict.outcome == IN_TOLERANCE:
                verdict = replace(verdict, outcome=UNDECIDED, reason=reason)
            elif disputed:
                verdict = replace(verdict, outcome=UNDECIDED, reason=disputed)
                reason = f"{reason} {disputed}".strip()
        spread = quantity.standard_uncertainty or 0.0
        source, part = max((quantity.components or {}).items(), key=lambda item: abs(item[1]), default=(None, 0.0))
        return SettingState(
            self.key,
            "calculated" if self.touched.reason else "read",
            quantity,
            aim,
            tolerance,
            verdict,
            reason,
            based_on=self.based_on,
            dominated_by="" if source is None else source.label,
            dominating_share=(part / spread) ** 2 if spread else 0.0,
            helps_most=self._helps_most(),
            further=self.helpful,
        )

    def of_unknown_uncertainty(self, unweighted: _Result) -> SettingState:
        """Return a setting that only readings of unknown uncertainty tell."""
        blind = [one for one in self.inputs.observations if one.quantity.components is None]
        bearing = [one for one in blind if self.key in KINDS_OF_READING[one.kind].settles] or blind
        value = unweighted.quantity(self._place)
        quantity = Quantity.unknown_uncertainty(
            value.value, value.unit, why=f"{bearing[-1].label}: {bearing[-1].quantity.why_unknown}", how=HOW
        )
        tolerance = self.inputs.targets.tolerances.get(self.key)
        verdict = None if tolerance is None else decide(quantity, tolerance, self.inputs.rule)
        aim = self.inputs.targets.aims.get(self.key)
        return SettingState(
            self.key,
            "read",
            quantity,
            aim,
            tolerance,
            verdict,
            based_on=(Share(bearing[-1].label, 1.0),),
            helps_most=self._helps_most(),
            further=self.helpful,
        )

    def not_read(self) -> SettingState:
        """Return a setting of which nothing is known that holds now."""
        targets = self.inputs.targets
        return SettingState(
            self.key,
            "not read",
            None,
            targets.aims.get(self.key),
            targets.tolerances.get(self.key),
            None,
            self.touched.reason,
            helps_most=self._helps_most(),
            further=self.helpful,
        )

    def _helps_most(self) -> str:
        if self.helpful is None:
            return ""
        return further_sentence(self.key, self.result.quantity(self._place).standard_uncertainty or 0.0, self.helpful)


@dataclass(frozen=True, eq=False)
class _Alternative:
    """A setting with one of two disagreeing readings left out; None where it is not read then."""

    quantity: Quantity | None


def _alternatives(k: int, without_either: list[tuple[_Result, ...]]) -> list[_Alternative]:
    return [
        _Alternative(result.quantity(k) if result.is_read[k] else None) for pair in without_either for result in pair
    ]


def _disputed(verdict: Verdict, alternatives: list[_Alternative], inputs: DeckInputs) -> str:
    """Return why a verdict does not hold since readings disagree; empty where it holds with any of them left out."""
    if verdict.outcome == UNDECIDED:
        return ""
    for other in alternatives:
        if other.quantity is None or decide(other.quantity, verdict.tolerance, inputs.rule).outcome != verdict.outcome:
            return (
                f"Readings that bear on it disagree, and it is {verdict.outcome} only by some of them: read it again."
            )
    return ""


def _disagreement(
    weighted: tuple[Observation, ...],
    conflict: Conflict,
    kept: _Result,
    without_either: tuple[_Result, ...],
    targets: SettingTargets,
) -> Disagreement:
    named = [weighted[conflict.reading], *([] if conflict.partner is None else [weighted[conflict.partner]])]
    affected = []
    for k, key in enumerate(SETTING_KEYS):
        if key in targets.not_counted or key in targets.inapplicable:
            continue
        values = [kept.values[k], *(result.values[k] for result in without_either)]
        is_read = {kept.is_read[k], *(result.is_read[k] for result in without_either)}
        half = half_width(targets.tolerances.get(key), targets.aims.get(key))
        if len(is_read) > 1 or (True in is_read and max(values) - min(values) > MIN_NOTICEABLE_CHANGE * half):
            affected.append(key)
    return Disagreement(
        conflict.sentence,
        tuple(one.label for one in named),
        tuple(one.kind for one in named),
        tuple(affected),
        conflict.is_outvoted,
    )


def _shares(joint: Estimate, slopes: NDArray[np.float64]) -> list[tuple[Share, ...]]:
    """Return what each setting is based on: the variance that each reading takes away, and the usual for the rest."""
    weights = slopes @ joint.gain
    taken = np.clip(weights * (weights @ joint.reading_covariance), 0.0, None)
    prior = slopes @ joint.prior_errors
    left = ((slopes @ joint.errors) ** 2).sum(axis=1)
    return [
        _largest_first(joint, taken[k], float(left[k]), int(np.argmax(prior[k] ** 2)) if prior.size else None)
        for k in range(len(slopes))
    ]


def _largest_first(joint: Estimate, taken: NDArray[np.float64], left: float, usual: int | None) -> tuple[Share, ...]:
    whole = float(taken.sum()) + left
    if not whole > 0:
        return ()
    named = [Share(reading.label, float(part) / whole) for reading, part in zip(joint.observations, taken, strict=True)]
    if usual is not None:
        named.append(Share(joint.sources[usual].label, left / whole))
    return tuple(sorted((one for one in named if one.share >= MIN_SHARE), key=lambda one: -one.share))


def _all_conform(
    settings: tuple[SettingState, ...], result: _Result, targets: SettingTargets
) -> tuple[float | None, float | None]:
    """Return the probability that all seven keep their tolerances, and three standard errors of its computation."""
    each = [setting.verdict.probability_of_conformity for setting in settings if setting.verdict is not None]
    known = [probability for probability in each if probability is not None]
    if len(known) < len(settings):
        return None, None
    limits = [targets.tolerances[key] for key in SETTING_KEYS]
    errors = result.slopes @ result.errors
    together = box_probability(
        result.values,
        errors @ errors.T,
        lower=[-math.inf if limit.lower is None else limit.lower for limit in limits],
        upper=[math.inf if limit.upper is None else limit.upper for limit in limits],
    )
    # No whole is likelier than its parts, which know how many repeats are behind them.
    return min(together.value, *known), together.error


def _notes(joint: Estimate, inputs: DeckInputs) -> tuple[str, ...]:
    notes = [
        f"{reading.label} cannot be weighted, because nobody knows how far it may be off: "
        f"{reading.quantity.why_unknown}. State its uncertainty, so that the {KINDS_OF_READING[reading.kind].title} "
        "can count."
        for reading in inputs.observations
        if reading.quantity.components is None
    ]
    if not joint.is_settled:
        notes.append(
            "The readings contradict each other so much that no arm fits them all; nothing here can be trusted until "
            "the wrong one is found."
        )
    return tuple(notes)
