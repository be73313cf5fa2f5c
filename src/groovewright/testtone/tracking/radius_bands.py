"""The bands that a fit over radius rests on, as arrays, with what the generator and the level of the record add."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from groovewright.measurement.propagation import propagate
from groovewright.measurement.quantity import Quantity
from groovewright.testtone.sheet.band_sheet import Cut
from groovewright.testtone.tones.harmonics import SignedHarmonic, index_of_second_harmonic
from groovewright.testtone.tracking.second_harmonic_fit import Belief, LeastSquares, fitted_quantities, widening
from groovewright.tonearm.distortion import CM_TO_MM, groove_speed

REFERENCE_VELOCITY_CM_S = 10.0
"""Peak velocity at which a generator's second harmonic is stated."""

NEAREST_RADII_MM = 2.0
"""Radii closer than this count as one."""

EXACT_LEVEL_DB = 1e-9
"""A level that is taken as exact is held so firmly that nothing moves it."""

LEAST_NOISE = 2.5e-7
"""Of a ratio, beside its measured noise: what measuring a tone without any noise still leaves, most of it the place of
the band to a thousandth of a mm."""

SIMPSON = np.array([1.0, 4.0, 1.0]) / 6


@dataclass(frozen=True, eq=False)
class RadiusBands:
    """Bands of one cut, outermost first.

    Attributes
    ----------
    harmonics : tuple of SignedHarmonic
    radii_mm : ndarray, shape (bands, 3)
        At each band's start, middle and end. [mm]
    velocities_cm_s : ndarray, shape (bands,)
        Stated peak velocity. [cm/s]
    speed_rpm : float
        Of the cutting. [rpm]
    frequencies_hz : tuple of float
        The nominal ones, each once. [Hz]
    groups : ndarray, shape (bands,)
        Which of them each band has.
    band_level_db : float
        Standard uncertainty of each band's own level. [dB]
    """

    harmonics: tuple[SignedHarmonic, ...]
    radii_mm: NDArray[np.float64]
    velocities_cm_s: NDArray[np.float64]
    speed_rpm: float
    frequencies_hz: tuple[float, ...]
    groups: NDArray[np.intp]
    band_level_db: float = 0.0

    @property
    def names(self) -> tuple[str, ...]:
        """Names of the bands."""
        return tuple(harmonic.band.name for harmonic in self.harmonics)

    @property
    def middle_mm(self) -> NDArray[np.float64]:
        """Middle radius of each band. [mm]"""
        return self.radii_mm[:, 1]

    @property
    def places(self) -> str:
        """A sentence that says where the bands lie."""
        return f"The bands lie at {', '.join(f'{radius:.0f}' for radius in self.middle_mm)} mm."

    def in_phase(self, sign: int) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Return the part of each ratio that is in phase with a lean, and its standard uncertainty."""
        ratios = sign * np.array([harmonic.ratio.real for harmonic in self.harmonics])
        variance = np.array([harmonic.ratio_covariance[0, 0] + LEAST_NOISE**2 for harmonic in self.harmonics])
        # A second harmonic grows with the level of its band.
        own = self.band_level_db * np.log(10) / 20 * ratios
        return ratios, np.sqrt(variance + own**2)

    def network_shifts(self, sign: int) -> dict[str, NDArray[np.float64]]:
        """Return what each time constant of the playback equalisation changes in each in-phase part, by its source."""
        labels = dict.fromkeys(label for harmonic in self.harmonics for label in harmonic.network_shifts)
        return {
            label: sign * np.array([harmonic.network_shifts.get(label, 0.0).real for harmonic in self.harmonics])
            for label in labels
        }

    def quadrature(self, sign: int) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Return the part of each ratio that is not, and its standard uncertainty."""
        ratios = sign * np.array([harmonic.ratio.imag for harmonic in self.harmonics])
        return ratios, np.sqrt([harmonic.ratio_covariance[1, 1] + LEAST_NOISE**2 for harmonic in self.harmonics])

    def steepness(self) -> NDArray[np.float64]:
        """Return peak velocity over groove speed, shape of `radii_mm`."""
        return np.asarray(
            CM_TO_MM * self.velocities_cm_s[:, np.newaxis] / groove_speed(self.radii_mm, speed_rpm=self.speed_rpm)
        )

    def steepest_at(self, radius_mm: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return the loudest band's peak velocity over the groove speed at other radii, shape of `radius_mm`."""
        return np.asarray(CM_TO_MM * self.velocities_cm_s.max() / groove_speed(radius_mm, speed_rpm=self.speed_rpm))

    def band_mean(self, at_radii: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return the mean over each band of what is given at its three radii (Simpson's rule)."""
        return np.asarray(at_radii @ SIMPSON)

    def generator(self, ratios: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return what the generator adds to each band, from its ratios at 10 cm/s; both along the last axis."""
        return np.asarray(ratios[..., self.groups] * self.velocities_cm_s / REFERENCE_VELOCITY_CM_S)

    def generator_percent(self, ratios: Sequence[Quantity]) -> tuple[tuple[float, Quantity], ...]:
        """Return the generator's second harmonic at 10 cm/s by frequency. [Hz], [%]"""
        return tuple(
            (hz, propagate(lambda ratio: 100 * ratio, {"ratio": ratio}, unit="%", how=ratio.how))
            for hz, ratio in zip(self.frequencies_hz, ratios, strict=True)
        )

    def beliefs(
        self, level: int, *, level_db: float, level_source: str, generator_percent: float | None
    ) -> dict[int, Belief]:
        """Return what is known beforehand of the logarithm of the level, parameter `level`, and of the generator.

        Beside a generator that may do anything, the bands tell the level by the curvature of the series alone, far
        below what else a real cut distorts. So they are not let: it is held as stated, and `_level_ratio` says how
        much more uncertain it is.
        """
        held_db = EXACT_LEVEL_DB if generator_percent is None else max(level_db, EXACT_LEVEL_DB)
        beliefs = {level: Belief(0.0, float(held_db * np.log(10) / 20), level_source)}
        if generator_percent is None:
            return beliefs
        for number, hz in enumerate(self.frequencies_hz, start=level + 1):
            label = f"second harmonic of the generator at {hz:g} Hz, as assumed"
            beliefs[number] = Belief(0.0, generator_percent / 100, label)
        return beliefs

    def _level_ratio(self, *, level_db: float, generator_percent: float | None) -> float:
        """Return how many times as uncertain the level is as `beliefs` holds it."""
        return level_db / EXACT_LEVEL_DB if generator_percent is None else 1.0

    def angles(
        self, lean: NDArray[np.float64], noise: NDArray[np.float64], level: float
    ) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Return the angle that each band alone has and its standard uncertainty from noise; NaN beyond reach. [deg]"""
        tangent, uncertainty = self.tangents(lean, noise, level)
        return np.degrees(np.arctan(tangent)), np.degrees(uncertainty / (1 + tangent**2))

    def tangents(
        self, lean: NDArray[np.float64], noise: NDArray[np.float64], level: float
    ) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Return the tangent by which each band alone is skewed, as `angles` does the angle."""
        middle = level * self.steepness()[:, 1]
        within = np.abs(lean) < 0.75
        tangent = np.where(within, index_of_second_harmonic(np.where(within, lean, 0.0)) / middle, np.nan)
        return tangent, noise / middle

    def concluded(
        self,
        fit: LeastSquares,
        beliefs: dict[int, Belief],
        *,
        level: int,
        level_db: float,
        generator_percent: float | None,
        units: Sequence[str],
        noise_source: str,
        sign: int,
    ) -> tuple[list[Quantity], tuple[str, ...]]:
        """Return the parameters of a fit to these bands as quantities, with notes on reading them.

        Parameters
        ----------
        fit, beliefs
            From `least_squares`, with what `beliefs` of these bands returned among them.
        level : int
            Number of the parameter that is the logarithm of the level.
        level_db, generator_percent
            As given to `beliefs`.
        units : sequence of str
            Of the parameters before those of the generator.
        noise_source : str
            Label of the bands' noise.
        sign : int
            Of the polarity.
        """
        count, cut = len(self.harmonics), self.harmonics[0].band.cut
        degrees_of_freedom = count - (fit.parameters.size - len(beliefs))
        factor = widening(fit.chi_square, degrees_of_freedom)
        doubtful = fit.with_uncertainty(
            level, self._level_ratio(level_db=level_db, generator_percent=generator_percent)
        )
        quantities = fitted_quantities(
            doubtful,
            beliefs,
            units=[*units, *["1"] * len(self.frequencies_hz)],
            noise_source=noise_source,
            variance_factor=factor,
            how=f"fitted to the second harmonics of {count} {cut} tones",
            unseen=self.network_shifts(sign),
        )
        return quantities, self._fit_notes(degrees_of_freedom, factor, level_db)

    def _fit_notes(self, degrees_of_freedom: int, factor: float, level_db: float) -> tuple[str, ...]:
        cut = self.harmonics[0].band.cut
        notes = []
        if degrees_of_freedom == 0:
            notes.append(f"The fit rests on as few {cut} tones as can give it; one more would check the others.")
        if factor > 1:
            notes.append(
                f"The second harmonics of the {cut} tones scatter {np.sqrt(factor):.1f} times as much as their noise "
                "about the fit; its uncertainties were widened to that."
            )
        if level_db > 0:
            notes.append(
                f"The peak velocities of the {cut} tones are taken as known to {level_db:g} dB (one standard "
                "uncertainty, the same error for every band)."
            )
        return tuple(notes)


def radius_bands(
    harmonics: Sequence[SignedHarmonic], *, cut: Cut, speed_rpm: float, keep_lone: bool, band_level_db: float = 0.0
) -> tuple[RadiusBands, tuple[str, ...]]:
    """Return the bands in order, and notes on what was left out.

    Parameters
    ----------
    harmonics : sequence of SignedHarmonic
        In any order.
    cut : {"lateral", "vertical"}
        That all must have.
    speed_rpm : float
        Of the cutting. [rpm]
    keep_lone : bool
        Whether to keep a tone that is alone with its frequency. A generator may distort differently at each
        frequency, so such a tone tells something only where the generator is known.
    band_level_db : float
        Standard uncertainty of each band's own level. [dB]

    Raises
    ------
    ValueError
        If a band has another cut or states no peak velocity.
    """
    for harmonic in harmonics:
        if harmonic.band.cut != cut:
            raise ValueError(f"band {harmonic.band.name!r} is cut {harmonic.band.cut}; this fit needs {cut} tones")
    velocities = {harmonic.band.name: _stated_velocity_cm_s(harmonic) for harmonic in harmonics}
    nominal = [harmonic.band.frequency_hz[0] for harmonic in harmonics]
    kept = [h for h in harmonics if keep_lone or nominal.count(h.band.frequency_hz[0]) > 1]
    kept.sort(key=lambda h: -sum(h.band.radius_mm))
    frequencies = tuple(sorted({h.band.frequency_hz[0] for h in kept}))
    ends = np.array([h.band.radius_mm for h in kept], dtype=float).reshape(-1, 2)
    bands = RadiusBands(
        harmonics=tuple(kept),
        radii_mm=np.column_stack((ends[:, 0], ends.mean(axis=1), ends[:, 1])),
        velocities_cm_s=np.array([velocities[h.band.name] for h in kept]),
        speed_rpm=speed_rpm,
        frequencies_hz=frequencies,
        groups=np.array([frequencies.index(h.band.frequency_hz[0]) for h in kept], dtype=np.intp),
        band_level_db=band_level_db,
    )
    return bands, _notes(harmonics, kept, cut)


def _stated_velocity_cm_s(harmonic: SignedHarmonic) -> float:
    velocity = harmonic.band.peak_velocity_cm_s
    if velocity is None or isinstance(velocity, tuple):
        raise ValueError(f"band {harmonic.band.name!r} has no peak_velocity_cm_s on its sheet; write it there")
    return velocity


def _notes(harmonics: Sequence[SignedHarmonic], kept: Sequence[SignedHarmonic], cut: Cut) -> tuple[str, ...]:
    notes = []
    lone = [h.band.name for h in harmonics if h not in kept]
    if lone:
        notes.append(f"Not used, since no other {cut} tone has the same frequency: {', '.join(lone)}.")
    short = [h.band.name for h in kept if not h.turn_removed]
    if short:
        notes.append(
            f"Much shorter than a turn of the record: {', '.join(short)}; a record off centre by 0.2 mm may shift the "
            "angle error there by a tenth of a degree or two, which is not in its uncertainty."
        )
    wrong = [h.band.name for h in kept if len(h.channels_used) == 2 and h.channels_opposed != (cut == "vertical")]
    if wrong:
        notes.append(
            f"The channels are {'alike' if cut == 'vertical' else 'opposed'} in {', '.join(wrong)}, which should be "
            f"{cut}: the leads of one channel are swapped, or the band was cut otherwise."
        )
    return tuple(notes)


def distinct_radii(middle_mm: NDArray[np.float64]) -> int:
    """Return how many radii are far enough apart to count as several.

    >>> distinct_radii(np.array([140.0, 139.5, 100.0, 60.0]))
    3
    """
    if not middle_mm.size:
        return 0
    return 1 + int(np.sum(np.diff(np.sort(middle_mm)) > NEAREST_RADII_MM))
