"""All readings of a deck in one weighted estimate of how the arm stands, with every source of error kept."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from groovewright.bench.estimate.carrying import CarriedMove
from groovewright.bench.estimate.observations import Observation, Prediction, predict
from groovewright.bench.estimate.settings import SettingTargets
from groovewright.measurement.quantity import Quantity, Source
from groovewright.tonearm.arm_state import STATE, ArmState

MAX_STEPS = 30
"""Of Gauss and Newton at most; readings that fit an arm at all are done in four."""

STEP_TOLERANCE = 1e-7
"""Change of a step, in standard uncertainties, below which the estimate is done."""

MIN_OWN_SHARE = 1e-6
"""Of a reading's error that is its own: less is as good as none for the shorter way, which divides by it."""

DEPENDENCE_TOLERANCE = 1e-11
"""Readings whose equations differ by less than this, relative to themselves, say the same thing twice."""


@dataclass(frozen=True, eq=False)
class Estimate:
    """How the arm stands after the last move.

    Each error is a sum over independent sources of unit variance; the columns of every array of errors are those of
    `sources`, the rows their signed standard uncertainties.

    Attributes
    ----------
    observations : tuple of Observation
        Those that could be weighted, m of them, in the order given.
    sources : tuple of Source
    state : ndarray, shape (9,)
        In the order and units of `STATE`.
    errors : ndarray, shape (9, sources)
        Of `state`.
    prior_errors : ndarray, shape (9, sources)
        That it would have without any reading.
    gain : ndarray, shape (9, m)
        How far the state follows each reading.
    reading_covariance : ndarray, shape (m, m)
        Of the readings before they were made: their own errors and what was not known of the arm.
    fitted : ndarray, shape (m,)
        What each reading would show by the estimate, at its time.
    leave_one_out_residual : ndarray, shape (m,)
        Reading less what all others say of it.
    leave_one_out_errors, reading_errors : ndarray, shape (m, sources)
        Of that difference, and of the reading itself.
    precision : ndarray, shape (m, m)
        Inverse of `reading_covariance`, on what the readings do not say twice.
    missing : ndarray, shape (m,)
        Reading less what would be expected of it before any reading, along the slopes at the estimate.
    is_settled : bool
        False where the readings contradict each other so much that no arm fits them.
    contradicting : tuple of int
        Readings without uncertainty that cannot all be true.
    """

    observations: tuple[Observation, ...]
    sources: tuple[Source, ...]
    state: NDArray[np.float64]
    errors: NDArray[np.float64]
    prior_errors: NDArray[np.float64]
    gain: NDArray[np.float64]
    reading_covariance: NDArray[np.float64]
    fitted: NDArray[np.float64]
    leave_one_out_residual: NDArray[np.float64]
    leave_one_out_errors: NDArray[np.float64]
    reading_errors: NDArray[np.float64]
    precision: NDArray[np.float64]
    missing: NDArray[np.float64]
    is_settled: bool
    contradicting: tuple[int, ...]

    def quantity(self, value: float, errors: NDArray[np.float64], unit: str, *, how: str = "") -> Quantity:
        """Return a quantity of these errors, shape (sources,)."""
        return Quantity(value, unit, self.components(errors), how=how)

    def without_both(self, reading: int, other: int) -> tuple[float, float]:
        """Return how far a reading is from what all but it and another say, and the standard uncertainty of that.

        By the block of the precision matrix that belongs to both, as readings are left out of a linear fit.
        """
        both = [reading, other]
        block = np.linalg.pinv(self.precision[np.ix_(both, both)], hermitian=True)
        residual = block @ (self.precision[both] @ self.missing)
        return float(residual[0]), float(np.sqrt(max(block[0, 0], 0.0)))

    def components(self, errors: NDArray[np.float64]) -> dict[Source, float]:
        """Return errors, shape (sources,), by source; what is 0 is left out."""
        return {self.sources[k]: float(errors[k]) for k in np.flatnonzero(errors)}


def estimate(
    observations: Sequence[Observation],
    moves: Sequence[CarriedMove],
    priors: Sequence[Quantity],
    targets: SettingTargets,
) -> Estimate:
    """Return the state that is nearest to all readings and priors, by the errors that they would then have.

    Unknowns are the errors themselves, one for every source: that of a gauge counts once, whatever was read with it.
    Sought are the smallest that explain all readings, which is generalised least squares without inverting any
    covariance, so that exact readings and readings with no error of their own are as good as others.

    Parameters
    ----------
    observations : sequence of Observation
        Each of known uncertainty.
    moves : sequence of CarriedMove
        In their order; a reading holds for the state at its time and is carried over the moves that followed.
    priors : sequence of Quantity
        Of `STATE`, before the first move.
    targets : SettingTargets
        From which errors are counted.

    Raises
    ------
    ValueError
        If on the way to the estimate the stylus cannot reach a radius that was read at.

    References
    ----------
    .. [1] JCGM 102:2011, clause 6 (multivariate models); C. C. Paige, "Fast numerically stable computations for
       generalized linear least squares problems", SIAM J. Numer. Anal. 16, 165 (1979).
    """
    column = _columns(observations, moves, priors)
    reading_errors = _errors([reading.quantity for reading in observations], column)
    starts, start_errors = _course(moves, priors, column)
    since = _moves_before(observations, moves)
    read = np.array([reading.quantity.value for reading in observations])

    errors_now = np.zeros(len(column))
    settled = False
    for _ in range(MAX_STEPS):
        fitted, slopes = _predictions(observations, (starts - start_errors @ errors_now)[since], targets)
        # A reading is what it should show at this state and its own errors on top.
        rows = reading_errors - _through(slopes, start_errors, since)
        missing = read - fitted - reading_errors @ errors_now + rows @ errors_now
        inverse = _pseudo_inverse(rows)
        step = inverse @ missing
        moved, errors_now = float(np.abs(step - errors_now).max(initial=0.0)), step
        if moved <= STEP_TOLERANCE:
            settled = True
            break

    gain = -start_errors[-1] @ inverse
    precision = inverse.T @ inverse
    own = np.diag(precision)
    safe = np.where(own > 0, own, 1.0)
    unexplained = np.abs(missing - rows @ errors_now) > 1e-7 * (1 + np.abs(read))
    return Estimate(
        observations=tuple(observations),
        sources=tuple(column),
        state=starts[-1] - start_errors[-1] @ errors_now,
        errors=start_errors[-1] + gain @ rows,
        prior_errors=start_errors[-1],
        gain=gain,
        reading_covariance=rows @ rows.T,
        fitted=fitted,
        leave_one_out_residual=(precision @ missing) / safe,
        leave_one_out_errors=inverse.T / safe[:, None],
        reading_errors=reading_errors,
        precision=precision,
        missing=missing,
        is_settled=settled,
        contradicting=tuple(map(int, np.flatnonzero(unexplained))),
    )


def farthest_from_usual(
    observations: Sequence[Observation],
    moves: Sequence[CarriedMove],
    priors: Sequence[Quantity],
    targets: SettingTargets,
) -> Observation:
    """Return the reading that is farthest from what it should show by the priors alone, in standard uncertainties."""
    column = _columns(observations, moves, priors)
    starts, start_errors = _course(moves, priors, column)
    since = _moves_before(observations, moves)
    fitted, slopes = _predictions(observations, starts[since], targets)
    rows = _errors([reading.quantity for reading in observations], column) - _through(slopes, start_errors, since)
    off = np.abs([reading.quantity.value for reading in observations] - fitted)
    return observations[int(np.argmax(off / np.linalg.norm(rows, axis=1)))]


def _moves_before(observations: Sequence[Observation], moves: Sequence[CarriedMove]) -> NDArray[np.int_]:
    return np.array([sum(move.move.order < reading.order for move in moves) for reading in observations], dtype=int)


def _columns(
    observations: Sequence[Observation], moves: Sequence[CarriedMove], priors: Sequence[Quantity]
) -> dict[Source, int]:
    """Return the column of every source, each once however often it is named."""
    named = [source for prior in priors for source in prior.components or {}]
    named += [source for move in moves for source in move.sources]
    named += [source for reading in observations for source in reading.quantity.components or {}]
    column: dict[Source, int] = {}
    for source in named:
        column.setdefault(source, len(column))
    return column


def _errors(quantities: Sequence[Quantity], column: dict[Source, int]) -> NDArray[np.float64]:
    rows = np.zeros((len(quantities), len(column)))
    for row, quantity in zip(rows, quantities, strict=True):
        for source, contribution in (quantity.components or {}).items():
            row[column[source]] = contribution
    return rows


def _course(
    moves: Sequence[CarriedMove], priors: Sequence[Quantity], column: dict[Source, int]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return the expected state before and after each move, shape (moves + 1, 9), and its errors."""
    states = [np.array([prior.value for prior in priors])]
    errors = [_errors(priors, column)]
    for move in moves:
        after = errors[-1].copy()
        after[:, [column[source] for source in move.sources]] += move.contributions
        states.append(states[-1] + move.shift)
        errors.append(after)
    return np.array(states), np.array(errors)


def _predictions(
    observations: Sequence[Observation], states: NDArray[np.float64], targets: SettingTargets
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return what each reading should show in its state, and its slopes, shape (m, 9)."""
    values, slopes = np.zeros(len(observations)), np.zeros((len(observations), len(STATE)))
    # Repeats of one kind, place and time should all show the same.
    known: dict[object, Prediction] = {}
    for k, reading in enumerate(observations):
        same = (reading.kind, reading.radius_mm, states[k].tobytes())
        if same not in known:
            known[same] = predict(reading.kind, ArmState.from_array(states[k]), targets, radius_mm=reading.radius_mm)
        values[k], slopes[k] = known[same].value, known[same].slopes
    return values, slopes


def _through(
    slopes: NDArray[np.float64], start_errors: NDArray[np.float64], since: NDArray[np.int_]
) -> NDArray[np.float64]:
    """Return how the errors of the state at its time bear on each reading, shape (m, sources)."""
    rows = np.zeros((len(slopes), start_errors.shape[2]))
    for time in np.unique(since):
        rows[since == time] = slopes[since == time] @ start_errors[time]
    return rows


def _pseudo_inverse(rows: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the matrix that turns what is to be explained into the smallest errors, shape (sources, m)."""
    own = _own_columns(rows)
    own_variance = (rows[:, own] ** 2).sum(axis=1)
    if rows.size and (own_variance > MIN_OWN_SHARE**2 * (rows**2).sum(axis=1)).all():
        return _by_own_errors(rows, own, own_variance)
    return _by_singular_values(rows)


def _own_columns(rows: NDArray[np.float64]) -> NDArray[np.bool_]:
    """Return which sources bear on one reading alone, shape (sources,)."""
    return np.asarray(np.count_nonzero(rows, axis=0) == 1)


def _by_own_errors(
    rows: NDArray[np.float64], own: NDArray[np.bool_], own_variance: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Return it where every reading has an error of its own, in time that grows with the readings and not their cube.

    What the readings share is then an ordinary least squares problem of few unknowns, each held by its own spread.
    """
    spread = np.sqrt(own_variance)
    shared = rows[:, ~own]
    stacked = np.vstack([shared / spread[:, None], np.eye(shared.shape[1])])
    orthogonal, triangular = np.linalg.qr(stacked)
    of_shared = np.linalg.solve(triangular, orthogonal[: len(rows)].T) / spread
    left = (np.eye(len(rows)) - shared @ of_shared) / own_variance[:, None]
    columns = np.flatnonzero(own)
    row_of_column = np.argmax(np.abs(rows[:, columns]), axis=0)
    inverse = np.zeros(rows.shape[::-1])
    inverse[~own] = of_shared
    inverse[columns] = rows[row_of_column, columns][:, None] * left[row_of_column]
    return inverse


def _by_singular_values(rows: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return it where some readings have no error of their own, or say the same thing twice."""
    if not rows.size:
        return np.zeros(rows.shape[::-1])
    sizes = np.linalg.norm(rows, axis=1)
    # Each reading in its own uncertainty, so that units do not matter.
    scaled = rows / np.where(sizes > 0, sizes, 1.0)[:, None]
    left, strength, right = np.linalg.svd(scaled, full_matrices=False)
    kept = strength > DEPENDENCE_TOLERANCE * max(strength.max(initial=0.0), 1.0)
    with np.errstate(divide="ignore"):
        inverted = np.where(kept, 1 / strength, 0.0)
    return np.asarray((right.T * inverted) @ left.T / np.where(sizes > 0, sizes, 1.0))
