"""Speed of a test tone: mean error, drift, and how far off centre the record turns."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from groovewright.measurement.quantity import Quantity, Source
from groovewright.testtone.capture.recording import Recording
from groovewright.testtone.speed.arm_path import on_a_radius, swing_lag_rad, swing_radius_mm, twice_per_turn_rad
from groovewright.testtone.speed.phase_fit import FEWEST_TURNS, PhaseFit, fit_phase
from groovewright.testtone.speed.phase_noise import FAINTEST_LINE_RAD
from groovewright.testtone.tones.demodulation import Baseband, demodulate
from groovewright.tonearm.geometry import Geometry

METHOD_PERCENT = 1e-6
METHOD_RELATIVE = 2e-5
"""Standard uncertainty of the method itself on speed and on a once-per-turn part: what filters and the finite fit leave
where there is no noise. On simulated decks without noise the error was 5e-9 % and 1.4e-5 of the part."""

FLUTTER_HALF_WIDTH_HZ = 250.0
"""Width that wow and flutter need: its band ends at 200 Hz and fades to here."""

TOO_SHORT = (
    "the stretch holds {turns:.2f} turns of the record; the once-per-turn part cannot be told from the mean below "
    f"{FEWEST_TURNS:g} turns"
)
REFERENCE = (
    "Speed is measured against the recorder's clock and the frequency cut into the test record; the usual doubt of "
    "both is in its uncertainty, and the band sheet may say how good they are."
)


@dataclass(frozen=True, eq=False)
class SpeedResult:
    """Speed of one tone.

    Attributes
    ----------
    speed_error : Quantity
        Mean speed over nominal speed, less 1. [%]
    drift : Quantity
        Slope of the speed over the stretch. [%/min]
    once_per_turn : Quantity or None
        Peak of the once-per-turn part of the speed; None if the stretch holds too few turns. [%]
    eccentricity : Quantity or None
        How far the record's grooves turn off centre, read from the once-per-turn part; None without a radius. [mm]
    mean_frequency_hz : float
        What the tone played at on average, the arm's own path taken off. [Hz]
    steady_flutter : tuple of (float, float)
        Frequency and peak of the steady flutters that stand out of the noise, strongest first. [Hz, %]
    baseband, fit : Baseband, PhaseFit
        What it was read from, the arm's own path taken off. The radius in the fit is the one that an eccentricity is
        to be divided by.
    notes, not_shown : tuple of str
        Sentences: what to know of the result, and what was left out and why.
    """

    speed_error: Quantity
    drift: Quantity
    once_per_turn: Quantity | None
    eccentricity: Quantity | None
    mean_frequency_hz: float
    steady_flutter: tuple[tuple[float, float], ...]
    baseband: Baseband
    fit: PhaseFit
    notes: tuple[str, ...]
    not_shown: tuple[str, ...]


def speed_baseband(
    recording: Recording, *, start_s: float, duration_s: float, mix: Sequence[float], nominal_hz: float
) -> Baseband:
    """Return a tone demodulated as widely as wow and flutter need."""
    return demodulate(
        recording,
        start_s=start_s,
        duration_s=duration_s,
        mix=mix,
        carrier_hz=nominal_hz,
        half_width_hz=min(FLUTTER_HALF_WIDTH_HZ, 0.8 * nominal_hz),
    )


def speed_of(
    baseband: Baseband,
    nominal_hz: float,
    speed_rpm: float,
    *,
    radius_mm: tuple[float, float] | None = None,
    geometry: Geometry | None = None,
    source: str = "noise on the speed tone",
) -> SpeedResult:
    """Return speed error, drift and eccentricity of a demodulated tone.

    Parameters
    ----------
    baseband : Baseband
        From `speed_baseband`.
    nominal_hz : float
        Frequency that the tone has at the nominal speed. [Hz]
    speed_rpm : float
        Nominal speed of the record; sets how long a turn is. [rpm]
    radius_mm : tuple of float, optional
        Groove radius where the stretch starts and where it ends; without it there is no eccentricity. [mm]
    geometry : Geometry, optional
        Of a pivoted arm, whose stylus goes along the groove as it moves outward or inward (see `arm_path`); without it
        the stylus is taken to move along a radius, as a tangential arm's does.
    source : str
        Label of the noise in the uncertainty. Give each stretch its own.

    Returns
    -------
    SpeedResult
        Mean, drift, once-per-turn part and every steady flutter are fitted together, so that wow over turns that
        are not whole does not pull the mean. The uncertainty is that of noise, in phase and in speed. A wow nearer
        to the turn's rate than three quarters of 1 over the length of the stretch counts as eccentricity.

    Raises
    ------
    ValueError
        If nominal frequency, speed or radius is not above 0, the tone is not within the baseband, or the arm cannot
        reach the radius.
    """
    _refuse(baseband, nominal_hz, speed_rpm, radius_mm)
    swing_mm, lag_rad = radius_mm, None
    if geometry is not None and radius_mm is not None:
        baseband = on_a_radius(
            baseband, nominal_hz=nominal_hz, speed_rpm=speed_rpm, radius_mm=radius_mm, geometry=geometry
        )
        first_mm, last_mm = swing_radius_mm(radius_mm, geometry).tolist()
        swing_mm = (first_mm, last_mm)
        lag_rad = swing_lag_rad(np.linspace(*radius_mm, baseband.samples.size), geometry)
    fit = fit_phase(baseband, nominal_hz=nominal_hz, speed_rpm=speed_rpm, radius_mm=swing_mm, lag_rad=lag_rad)
    if geometry is not None and radius_mm is not None and fit.has_turn:
        twice = _twice_per_turn(fit, radius_mm, geometry)
        if np.ptp(twice) / 2 > FAINTEST_LINE_RAD:
            baseband = replace(baseband, samples=baseband.samples * np.exp(-1j * twice))
            fit = fit_phase(baseband, nominal_hz=nominal_hz, speed_rpm=speed_rpm, radius_mm=swing_mm, lag_rad=lag_rad)
    notes = [REFERENCE, *_weak_signal(baseband)]
    once: Quantity | None = None
    eccentricity: Quantity | None = None
    not_shown: tuple[str, ...] = ()
    if fit.has_turn:
        once, eccentricity = _once_per_turn(fit, swing_mm, source)
        parts = _noise_parts(fit.covariance[:2, :2], source)
        noise = {s: 100 * c for s, c in parts[0].items()}
        method = Source(f"{source}, method of the speed")
        error = Quantity(100 * fit.speed_error, "%", noise | {method: METHOD_PERCENT}, how="phase of the tone")
        drift = Quantity(6000 * fit.drift_per_s, "%/min", {s: 6000 * c for s, c in parts[1].items()})
        if eccentricity is None:
            not_shown = ("The eccentricity is not shown: the groove radius of the tone is not given.",)
        else:
            notes.append("What the motor adds at exactly the rate of the turn counts as eccentricity here.")
    else:
        why = TOO_SHORT.format(turns=fit.turns)
        error = Quantity.unknown_uncertainty(100 * fit.speed_error, "%", why=why)
        drift = Quantity.unknown_uncertainty(6000 * fit.drift_per_s, "%/min", why=why)
        not_shown = (f"The eccentricity is not shown: {why}.",)
    return SpeedResult(
        speed_error=error,
        drift=drift,
        once_per_turn=once,
        eccentricity=eccentricity,
        mean_frequency_hz=nominal_hz * (1 + fit.speed_error),
        steady_flutter=tuple((line.frequency_hz, 100 * line.speed_peak(nominal_hz)) for line in fit.lines),
        baseband=baseband,
        fit=fit,
        notes=tuple(notes),
        not_shown=not_shown,
    )


def _refuse(baseband: Baseband, nominal_hz: float, speed_rpm: float, radius_mm: tuple[float, float] | None) -> None:
    if not (nominal_hz > 0 and speed_rpm > 0 and min(radius_mm or (1.0,)) > 0):
        raise ValueError(
            f"a nominal frequency of {nominal_hz:g} Hz, {speed_rpm:g} rpm and radii {radius_mm} must all be above 0"
        )
    # Pairs of neighbours give the mean frequency whatever the phase does between far samples.
    turn = np.angle(np.vdot(baseband.samples[:-1], baseband.samples[1:]))
    found_hz = baseband.carrier_hz + float(turn) * baseband.rate_hz / (2 * np.pi)
    if not np.any(baseband.samples):
        raise ValueError(f"the stretch is silent where a tone of {nominal_hz:g} Hz should be")
    if abs(found_hz - baseband.carrier_hz) > baseband.half_width_hz:
        raise ValueError(
            f"the tone was looked for within {baseband.half_width_hz:g} Hz of {baseband.carrier_hz:g} Hz and seems to "
            f"play at {found_hz:.0f} Hz; check the speed the record was played at and the frequency in the band sheet"
        )


def _twice_per_turn(fit: PhaseFit, radius_mm: tuple[float, float], geometry: Geometry) -> NDArray[np.float64]:
    """Return the phase of the tone that an off-centre record and a pivoted arm add twice a turn. [rad]"""
    along = np.linspace(*radius_mm, fit.times_s.size)
    return fit.nominal_hz / fit.turn_hz * twice_per_turn_rad(along, fit.angle_rad, fit.once_per_turn, geometry)


def _weak_signal(baseband: Baseband) -> list[str]:
    size = np.abs(baseband.samples)
    weak = float(np.mean(size < 0.3 * np.median(size)))
    if weak == 0:
        return []
    return [f"The tone drops below a third of its level for {100 * weak:.2g} % of the stretch; its speed is doubtful."]


def _noise_parts(covariance: NDArray[np.float64], source: str) -> list[dict[Source, float]]:
    """Return each parameter's share of independent sources, so that their covariance is kept."""
    scale = np.sqrt(np.diag(covariance))
    factor = scale[:, None] * np.linalg.cholesky(covariance / np.outer(scale, scale))
    sources = [Source(f"{source}, part {k + 1}") for k in range(scale.size)]
    return [dict(zip(sources, map(float, row), strict=True)) for row in factor]


def _once_per_turn(
    fit: PhaseFit, swing_mm: tuple[float, float] | None, source: str
) -> tuple[Quantity, Quantity | None]:
    size = float(np.hypot(*fit.once_per_turn))
    along = fit.once_per_turn / size if size > 0 else np.array([1.0, 0.0])
    parts = {
        Source(f"{source}, once per turn"): float(np.sqrt(along @ fit.covariance[2:, 2:] @ along)),
        Source(f"{source}, method of the once-per-turn part"): METHOD_RELATIVE * size,
    }
    percent = 100 / ((swing_mm[0] + swing_mm[1]) / 2 if swing_mm else 1.0)
    once = Quantity(percent * size, "%", {s: percent * c for s, c in parts.items()}, how="peak, at mid radius")
    if swing_mm is None:
        return once, None
    how = "once-per-turn part of the speed times the radius, and times the cosine of a pivoted arm's groove angle"
    return once, Quantity(size, "mm", parts, how=how)


def speed_trace(result: SpeedResult) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return time and speed error between neighbouring samples of the baseband, for a picture. [s, %]"""
    times = result.baseband.times_s
    turned = np.diff(result.fit.phase_rad) * result.baseband.rate_hz / (2 * np.pi)
    percent = 100 * ((result.baseband.carrier_hz + turned) / result.fit.nominal_hz - 1)
    return (times[:-1] + times[1:]) / 2, percent
