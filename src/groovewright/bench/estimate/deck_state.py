"""The joint estimate: all readings of a deck in one, what they say of the seven settings, and what would help."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from groovewright.bench.estimate.calculated import why_stale
from groovewright.bench.estimate.carrying import carried_moves
from groovewright.bench.estimate.deck_inputs import BenchInputs
from groovewright.bench.estimate.disagreement import Disagreement, contradiction, disagreements, residuals_of
from groovewright.bench.estimate.further_reading import further_readings, further_sentence
from groovewright.bench.estimate.joint_estimate import Estimate, estimate, farthest_from_usual
from groovewright.bench.estimate.observations import KINDS_OF_READING, Observation
from groovewright.bench.estimate.priors import STATE_UNITS, complete_priors
from groovewright.bench.estimate.setting_state import BenchState, FurtherReading, Residual, SettingState, Share
from groovewright.bench.estimate.settings import (
    SETTING_KEYS,
    SETTINGS,
    SettingKey,
    SettingTargets,
    settings_jacobian,
    settings_of,
)
from groovewright.measurement.box_probability import box_probability
from groovewright.measurement.conformity import decide
from groovewright.measurement.formatting import format_quantity
from groovewright.measurement.quantity import Quantity, Source
from groovewright.tonearm.arm_state import STATE, ArmState

__all__ = [
    "BenchInputs",
    "BenchState",
    "FurtherReading",
    "Residual",
    "SettingState",
    "Share",
    "bench_state",
]

READ = 0.5
"""A setting counts as read when readings take away more than this share of its variance: our choice."""

SMALLEST_SHARE = 0.01
"""Smaller shares are not worth a line."""

HOW = "joint estimate of all readings"


def bench_state(inputs: BenchInputs) -> BenchState:
    """Return how a deck stands, by all its readings together.

    Readings of unknown uncertainty cannot be weighted and are left out, with a note. A reading taken before a move is
    carried over it, the hand's error being shared by all that is.

    Raises
    ------
    ValueError
        If the arm cannot stand as the moves say, or if by the readings together the stylus does not reach the groove;
        the reading that is farthest from what is usual is named then.
    """
    priors = complete_priors(inputs.priors, inputs.build)
    moves = carried_moves(inputs.build, inputs.moves)
    weighted = tuple(reading for reading in inputs.observations if reading.quantity.components is not None)

    def by(readings: tuple[Observation, ...]) -> Estimate:
        return estimate(readings, moves, [priors[name] for name in STATE], inputs.targets)

    try:
        joint, values = _at_reach(by(weighted), inputs.targets)
    except ValueError as refusal:
        if not weighted:
            raise
        suspect = farthest_from_usual(weighted, moves, [priors[name] for name in STATE], inputs.targets)
        raise ValueError(_no_such_arm(suspect, refusal)) from refusal
    usual = frozenset(source.label for prior in priors.values() for source in prior.components or {})
    apart = disagreements(joint, by, usual=usual)
    sources, errors = _with_disagreements(joint, apart)
    at = ArmState.from_array(joint.state)
    slopes = settings_jacobian(at, inputs.targets)
    quantities = _quantities(values, slopes @ errors, sources, [SETTINGS[key].unit for key in SETTING_KEYS])

    is_read = _is_read(joint, slopes)
    helpful = further_readings(at, errors @ errors.T, slopes, inputs.targets)
    stale = why_stale(weighted, moves, slopes, inputs.targets)
    shares = _shares(joint, slopes)
    settings = tuple(
        _setting(
            key,
            quantities[k],
            inputs,
            is_read=is_read[k],
            rests_on=shares[k],
            stale=stale[k],
            helpful=helpful[k],
        )
        for k, key in enumerate(SETTING_KEYS)
    )
    probability, error = _all_conform(settings, values, slopes @ errors, inputs.targets)
    state = _quantities(joint.state, errors, sources, [STATE_UNITS[name] for name in STATE])
    return BenchState(
        settings=settings,
        state=dict(zip(STATE, state, strict=True)),
        probability_all_conform=probability,
        probability_error=error,
        outliers=_outliers(joint, apart, inputs),
        residuals=residuals_of(joint),
        notes=_notes(joint, inputs),
    )


def _at_reach(joint: Estimate, targets: SettingTargets) -> tuple[Estimate, NDArray[np.float64]]:
    """Return the estimate and its settings; ValueError if the stylus cannot reach the groove with it."""
    return joint, settings_of(ArmState.from_array(joint.state), targets)


def _no_such_arm(suspect: Observation, refusal: ValueError) -> str:
    return (
        f"No arm fits the readings ({refusal}). The least likely of them is {suspect.label}, "
        f"{format_quantity(suspect.quantity)}: correct it if it was mistyped, or read it again."
    )


def _with_disagreements(
    joint: Estimate, apart: tuple[Disagreement, ...]
) -> tuple[tuple[Source, ...], NDArray[np.float64]]:
    """Return the sources and the state's errors, with how far each reading that disagrees has drawn the state."""
    if not apart:
        return joint.sources, joint.errors
    labels = [joint.observations[one.place].label for one in apart]
    added = tuple(Source(f"disagreement of {label} with the rest") for label in labels)
    drawn = np.array([one.gain * one.from_the_rest for one in apart]).T
    return (*joint.sources, *added), np.hstack([joint.errors, drawn])


def _quantities(
    values: NDArray[np.float64], errors: NDArray[np.float64], sources: tuple[Source, ...], units: list[str]
) -> list[Quantity]:
    return [
        Quantity(float(value), unit, {sources[k]: float(row[k]) for k in np.flatnonzero(row)}, how=HOW)
        for value, row, unit in zip(values, errors, units, strict=True)
    ]


def _is_read(joint: Estimate, slopes: NDArray[np.float64]) -> list[bool]:
    """Return for each setting whether readings tell more of it than what is usual does."""
    before = ((slopes @ joint.prior_errors) ** 2).sum(axis=1)
    after = ((slopes @ joint.errors) ** 2).sum(axis=1)
    return [bool(left < (1 - READ) * was) for left, was in zip(after, before, strict=True)]


def _shares(joint: Estimate, slopes: NDArray[np.float64]) -> list[tuple[Share, ...]]:
    """Return what each setting rests on: the variance that each reading takes away, and what is usual for the rest."""
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
    return tuple(sorted((one for one in named if one.share >= SMALLEST_SHARE), key=lambda one: -one.share))


def _setting(
    key: SettingKey,
    quantity: Quantity,
    inputs: BenchInputs,
    *,
    is_read: bool,
    rests_on: tuple[Share, ...],
    stale: str,
    helpful: FurtherReading | None,
) -> SettingState:
    aim, tolerance = inputs.targets.aims.get(key), inputs.targets.tolerances.get(key)
    spread = quantity.standard_uncertainty or 0.0
    helps = "" if helpful is None else further_sentence(key, spread, helpful)
    if not is_read:
        return SettingState(key, None, aim, tolerance, None, rests_on=rests_on, helps_most=helps, further=helpful)
    source, part = max((quantity.components or {}).items(), key=lambda item: abs(item[1]), default=(None, 0.0))
    return SettingState(
        key,
        quantity,
        aim,
        tolerance,
        None if tolerance is None else decide(quantity, tolerance, inputs.rule),
        rests_on=rests_on,
        dominated_by="" if source is None else source.label,
        dominating_share=(part / spread) ** 2 if spread else 0.0,
        stale=bool(stale),
        why_stale=stale,
        helps_most=helps,
        further=helpful,
    )


def _all_conform(
    settings: tuple[SettingState, ...],
    values: NDArray[np.float64],
    errors: NDArray[np.float64],
    targets: SettingTargets,
) -> tuple[float | None, float | None]:
    """Return the probability that all seven keep their tolerances, and three standard errors of its computation."""
    each = [setting.verdict.probability_of_conformity for setting in settings if setting.verdict is not None]
    known = [probability for probability in each if probability is not None]
    if len(known) < len(settings):
        return None, None
    limits = [targets.tolerances[key] for key in SETTING_KEYS]
    together = box_probability(
        values,
        errors @ errors.T,
        lower=[-math.inf if limit.lower is None else limit.lower for limit in limits],
        upper=[math.inf if limit.upper is None else limit.upper for limit in limits],
    )
    # No whole is likelier than its parts, which know how many repeats stand behind them.
    return min(together.value, *known), together.error


def _outliers(joint: Estimate, apart: tuple[Disagreement, ...], inputs: BenchInputs) -> tuple[str, ...]:
    found = [one.sentence for one in apart]
    found += [sentence for sentence in (contradiction(joint),) if sentence]
    drift = inputs.scale_drift
    if drift is not None and drift.shown:
        found.append(f"The scale check after the job disagrees with the one before. {drift.sentence}")
    return tuple(found)


def _notes(joint: Estimate, inputs: BenchInputs) -> tuple[str, ...]:
    notes = [
        f"{reading.label} is left out, because nobody knows how far it may be off: {reading.quantity.why_unknown}. "
        f"State its uncertainty, so that the {KINDS_OF_READING[reading.kind].title} can count."
        for reading in inputs.observations
        if reading.quantity.components is None
    ]
    if not joint.is_settled:
        notes.append(
            "The readings contradict each other so much that no arm fits them all; nothing here can be trusted until "
            "the wrong one is found."
        )
    return tuple(notes)
