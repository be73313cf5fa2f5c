"""Which bands of a sheet serve which analysis."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from groovewright.testtone.finding.band_finder import LocatedBand
from groovewright.testtone.sheet.band_sheet import Band

FEWEST_STEPS = 3
"""Tones of one frequency and rising level that make a ladder."""

FLUTTER_TONE_HZ = (2500.0, 3600.0)
"""Tones of 3150 or 3000 Hz, which were cut for speed, wow and flutter."""

LOWEST_SPEED_TONE_HZ = 300.0
"""Speed is taken from a tone above this where the sheet has none for it."""

LOW_SWEEP_HZ = 60.0
"""A sweep that starts or ends below this and stays below `HIGHEST_RESONANCE_SWEEP_HZ` looks for the arm's resonance."""

HIGHEST_RESONANCE_SWEEP_HZ = 250.0


@dataclass(frozen=True)
class ChannelPair:
    """A tone cut in the left channel only and one of the same frequency in the right only."""

    left: LocatedBand
    right: LocatedBand

    @property
    def frequency_hz(self) -> float:
        """Nominal frequency of both. [Hz]"""
        return self.left.band.frequency_hz[0]


def tones(bands: Sequence[LocatedBand], *cuts: str) -> tuple[LocatedBand, ...]:
    """Return the bands of one tone with one of these cuts, or with any where none is named."""
    return tuple(at for at in bands if at.band.kind == "tone" and (not cuts or at.band.cut in cuts))


def ladders(bands: Sequence[LocatedBand]) -> tuple[tuple[LocatedBand, ...], ...]:
    """Return every run of neighbouring tones of one frequency and one cut whose levels rise."""
    found: list[tuple[LocatedBand, ...]] = []
    run: list[LocatedBand] = []
    for at in bands:
        if run and not _one_step_up(run[-1].band, at.band):
            found.append(tuple(run))
            run = []
        run.append(at)
    found.append(tuple(run))
    return tuple(steps for steps in found if len(steps) >= FEWEST_STEPS)


def off_the_ladders(bands: Sequence[LocatedBand], *cuts: str) -> tuple[LocatedBand, ...]:
    """Return the tones of these cuts, without those of a ladder, whose upper steps are cut to be mistracked."""
    on_a_ladder = {at.band.name for steps in ladders(bands) for at in steps}
    return tuple(at for at in tones(bands, *cuts) if at.band.name not in on_a_ladder)


def _one_step_up(below: Band, above: Band) -> bool:
    return (
        below.kind == above.kind == "tone"
        and below.cut == above.cut
        and below.frequency_hz == above.frequency_hz
        and isinstance(below.peak_velocity_cm_s, float | int)
        and isinstance(above.peak_velocity_cm_s, float | int)
        and above.peak_velocity_cm_s > below.peak_velocity_cm_s
    )


def speed_bands(bands: Sequence[LocatedBand]) -> tuple[LocatedBand, ...]:
    """Return the bands that tell the speed, the longest first.

    Those cut for wow and flutter if there are any, otherwise the longest tone that will do.
    """
    usable = [at for at in tones(bands) if at.band.frequency_hz[0] >= LOWEST_SPEED_TONE_HZ]
    longest_first = sorted(usable, key=lambda at: -at.duration_s)
    lowest_hz, highest_hz = FLUTTER_TONE_HZ
    meant = tuple(at for at in longest_first if lowest_hz <= at.band.frequency_hz[0] <= highest_hz)
    return meant or tuple(longest_first[:1])


def channel_pairs(bands: Sequence[LocatedBand]) -> tuple[ChannelPair, ...]:
    """Return left-only and right-only tones of one frequency, the pair nearest to 1 kHz first."""
    rights = {at.band.frequency_hz: at for at in reversed(tones(bands, "right"))}
    lefts = {at.band.frequency_hz: at for at in reversed(tones(bands, "left"))}
    pairs = [ChannelPair(left, rights[hz]) for hz, left in lefts.items() if hz in rights]
    return tuple(sorted(pairs, key=lambda pair: abs(pair.frequency_hz / 1000 - 1)))


def middle_of(at: LocatedBand, longest_s: float) -> LocatedBand:
    """Return a band, or its middle if it is longer than this, with the radii that go with it."""
    if at.duration_s <= longest_s:
        return at
    left_off = (1 - longest_s / at.duration_s) / 2
    start_mm, end_mm = at.band.radius_mm
    inward_mm = (end_mm - start_mm) * left_off
    band = replace(at.band, radius_mm=(start_mm + inward_mm, end_mm - inward_mm))
    return replace(at, band=band, start_s=at.start_s + left_off * at.duration_s, duration_s=longest_s)


def resonance_sweeps(bands: Sequence[LocatedBand], cut: str) -> tuple[LocatedBand, ...]:
    """Return the low sweeps of one direction."""
    return tuple(
        at
        for at in bands
        if at.band.kind == "sweep"
        and at.band.cut == cut
        and min(at.band.frequency_hz) < LOW_SWEEP_HZ
        and max(at.band.frequency_hz) <= HIGHEST_RESONANCE_SWEEP_HZ
    )


def response_sweeps(bands: Sequence[LocatedBand]) -> tuple[LocatedBand, ...]:
    """Return the sweeps that go up into the range that is heard."""
    return tuple(
        at for at in bands if at.band.kind == "sweep" and max(at.band.frequency_hz) > HIGHEST_RESONANCE_SWEEP_HZ
    )


def of_kind(bands: Sequence[LocatedBand], kind: str) -> tuple[LocatedBand, ...]:
    """Return the bands of a kind, the longest first."""
    return tuple(sorted((at for at in bands if at.band.kind == kind), key=lambda at: -at.duration_s))
