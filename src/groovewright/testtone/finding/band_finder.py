"""Where the bands of a sheet stand in a recording: by the starts that the sheet gives, and found between them."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from groovewright.testtone.capture.recording import Recording, duration_s
from groovewright.testtone.finding.band_alignment import SHORTEST_FRAMES, Stretch, align, presence
from groovewright.testtone.finding.band_features import Features, signal_features, tuning_of
from groovewright.testtone.sheet.band_sheet import Band, BandSheet

SHORT_BY = 0.05
"""A last band may be this part shorter than the sheet says: a platter that runs fast, or a recording stopped early."""

MOST_INSET_FRAMES = 2
LEAST_OF_LENGTH = 0.5
UNLISTED_S = 1.0
UNLISTED_LOWEST_HZ = 200.0


@dataclass(frozen=True)
class LocatedBand:
    """A band and the stretch of the recording that it fills.

    Attributes
    ----------
    start_s, duration_s : float
        The stretch, wholly inside the band where it was found in the signal. [s]
    how : {"from the sheet", "found"}
        Whether the start was written in the sheet or found in the signal.
    """

    band: Band
    start_s: float
    duration_s: float
    how: Literal["from the sheet", "found"]


def locate_bands(
    recording: Recording, sheet: BandSheet, *, progress: Callable[[float], None] | None = None
) -> tuple[LocatedBand, ...]:
    """Return where every band of a sheet stands, in the sheet's order.

    A start that the sheet gives is kept as it is, and what lies between two such bands is looked for between them only.
    With every start and duration given the signal is not looked at. `progress` is told the part that was read, 0 to 1.

    Raises
    ------
    ValueError
        If a band lies outside the recording, cannot be found, or more bands of its kind are found than the sheet
        lists: one sentence that names the band and says what to write in the sheet.
    """
    located: dict[str, LocatedBand] = {band.name: _given(recording, band) for band in sheet.bands if _is_given(band)}
    runs = _runs_to_find(sheet.bands)
    if runs:
        tunings = {tuning_of(band) for band in sheet.bands if band.kind != "silence"}
        features = signal_features(recording, tunings, progress=progress)
        for first, stop in runs:
            after_s = _end_s(located[sheet.bands[first - 1].name]) if first > 0 else 0.0
            before_s = sheet.bands[stop].start_s if stop < len(sheet.bands) else None
            bands = sheet.bands[first:stop]
            for found in _found(recording, features, bands, after_s, before_s):
                located[found.band.name] = found
    return tuple(located[band.name] for band in sheet.bands)


def _is_given(band: Band) -> bool:
    return band.start_s is not None and band.duration_s is not None


def _runs_to_find(bands: Sequence[Band]) -> list[tuple[int, int]]:
    """Return the runs of bands to be looked for together: each ends where the next start is given."""
    runs: list[tuple[int, int]] = []
    for number, band in enumerate(bands):
        if _is_given(band):
            continue
        if band.start_s is None and runs and runs[-1][1] == number:
            runs[-1] = (runs[-1][0], number + 1)
        else:
            runs.append((number, number + 1))
    return runs


def _given(recording: Recording, band: Band) -> LocatedBand:
    start_s, length_s = band.start_s or 0.0, band.duration_s or 0.0
    lasts_s = duration_s(recording)
    if start_s + (1 - SHORT_BY) * length_s > lasts_s:
        raise ValueError(
            f"band {band.name!r} lies from {start_s:.2f} to {start_s + length_s:.2f} s by its sheet, and the recording "
            f"lasts {lasts_s:.2f} s; correct start_s or duration_s, or leave start_s out to have it found"
        )
    return LocatedBand(band, start_s, min(length_s, lasts_s - start_s), "from the sheet")


def _end_s(located: LocatedBand) -> float:
    return located.start_s + located.duration_s


def _found(
    recording: Recording, features: Features, bands: Sequence[Band], after_s: float, before_s: float | None
) -> list[LocatedBand]:
    lasts_s = duration_s(recording)
    first_s = bands[0].start_s
    start_s = after_s if first_s is None else first_s
    if start_s >= lasts_s:
        raise ValueError(
            f"band {bands[0].name!r} would start at {start_s:.2f} s, and the recording lasts {lasts_s:.2f} s; "
            f"correct the start_s of the sheet"
        )
    stop_s = lasts_s if before_s is None else min(before_s, lasts_s)
    zone = Stretch(
        min(round(start_s / features.frame_s), features.frame_count),
        min(round(stop_s / features.frame_s), features.frame_count),
    )
    stretches: list[Stretch | None] = [None] * len(bands)
    if zone.stop - zone.first >= SHORTEST_FRAMES:
        stretches = align(features, bands, zone, starts_at=None if first_s is None else zone.first)
    _refuse_missing(features, bands, stretches)
    found = [_inside(features, band, stretch) for band, stretch in zip(bands, stretches, strict=True) if stretch]
    _refuse_unlisted(features, bands, [stretch for stretch in stretches if stretch], zone)
    return found


def _inside(features: Features, band: Band, stretch: Stretch) -> LocatedBand:
    """Return the band without the frames at each end that may hold its edge; a sweep is kept whole."""
    inset = 0 if band.kind == "sweep" else min(MOST_INSET_FRAMES, (stretch.stop - stretch.first) // 8)
    start_s, stop_s = (stretch.first + inset) * features.frame_s, (stretch.stop - inset) * features.frame_s
    if band.start_s is None:
        return LocatedBand(band, start_s, stop_s - start_s, "found")
    return LocatedBand(band, band.start_s, stop_s - band.start_s, "from the sheet")


def _refuse_missing(features: Features, bands: Sequence[Band], stretches: Sequence[Stretch | None]) -> None:
    missing = [
        band
        for band, stretch in zip(bands, stretches, strict=True)
        if stretch is None or _too_short(features, band, stretch)
    ]
    if not missing:
        return
    named = ", ".join(repr(band.name) for band in missing[:3]) + (" and others" if len(missing) > 3 else "")
    if len(bands) == 1:
        said, order = f"band {named} was not found in the recording", ""
    else:
        counted = "none" if len(missing) == len(bands) else f"only {len(bands) - len(missing)}"
        said = f"{counted} of the {len(bands)} bands that were looked for were found in the recording, without {named}"
        order = "write the bands in the order in which they play, "
    raise ValueError(
        f"{said}; {order}give start_s and duration_s for what is missing, or take out of the sheet what was not "
        f"recorded"
    )


def _too_short(features: Features, band: Band, stretch: Stretch) -> bool:
    length_s = (stretch.stop - stretch.first) * features.frame_s
    return band.duration_s is not None and length_s < LEAST_OF_LENGTH * band.duration_s


def _refuse_unlisted(features: Features, bands: Sequence[Band], stretches: Sequence[Stretch], zone: Stretch) -> None:
    """Refuse a further stretch that looks like one of the bands: which of them is meant would be a guess."""
    free = np.zeros(features.frame_count, dtype=bool)
    free[zone.first : zone.stop] = True
    for stretch in stretches:
        free[max(0, stretch.first - 2) : stretch.stop + 2] = False
    for band in bands:
        if band.kind != "tone" or band.frequency_hz[0] < UNLISTED_LOWEST_HZ:
            continue
        alike = free & (presence(features, tuning_of(band)) > 0.8)
        edges = np.flatnonzero(np.diff(np.concatenate([[False], alike, [False]]).astype(np.int8)))
        for first, stop in zip(edges[::2], edges[1::2], strict=True):
            cut_off = (first <= zone.first > 0) or (stop >= zone.stop < features.frame_count)
            if cut_off or (stop - first) * features.frame_s < UNLISTED_S:
                continue
            raise ValueError(
                f"more bands were found than the sheet lists: from {first * features.frame_s:.1f} to "
                f"{stop * features.frame_s:.1f} s the recording looks like band {band.name!r} too; "
                f"list that band as well, or give start_s for the one that is meant"
            )
