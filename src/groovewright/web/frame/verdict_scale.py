"""Where the marks of a verdict scale stand: the tolerance band and the measured value with its interval, to scale."""

from __future__ import annotations

from dataclasses import dataclass

from groovewright.measurement.conformity import Verdict

LEFT, RIGHT = 16.0, 404.0
COVERAGE_FACTOR_95 = 1.959964
MARGIN_SHARE = 0.12


@dataclass(frozen=True)
class VerdictScale:
    """Positions along the scale in drawing units; None where there is nothing to draw."""

    measured: float
    interval_start: float | None
    interval_end: float | None
    lower: float | None
    upper: float | None
    band_start: float
    band_width: float


def verdict_scale(verdict: Verdict) -> VerdictScale:
    """Return the marks of a verdict on a scale that shows the limits and the whole 95 % interval."""
    measured, lower, upper = verdict.measured, verdict.tolerance.lower, verdict.tolerance.upper
    u = measured.standard_uncertainty
    half = COVERAGE_FACTOR_95 * u if u else 0.0
    shown = [measured.value - half, measured.value + half, *(x for x in (lower, upper) if x is not None)]
    # A lone limit at the measured value would leave nothing to scale by.
    span = (max(shown) - min(shown)) or abs(measured.value) or 1.0
    start, end = min(shown) - MARGIN_SHARE * span, max(shown) + MARGIN_SHARE * span

    def place(value: float) -> float:
        return round(LEFT + (RIGHT - LEFT) * (value - start) / (end - start), 2)

    band_start = LEFT if lower is None else place(lower)
    band_end = RIGHT if upper is None else place(upper)
    return VerdictScale(
        measured=place(measured.value),
        interval_start=place(measured.value - half) if u else None,
        interval_end=place(measured.value + half) if u else None,
        lower=None if lower is None else place(lower),
        upper=None if upper is None else place(upper),
        band_start=band_start,
        band_width=round(band_end - band_start, 2),
    )
