"""Whether each band holds what its sheet says, where it says so; and what all bands together say of the sheet."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from groovewright.testtone.checks.doubts import Doubt
from groovewright.testtone.checks.served import CHANNELS, EVERYTHING, NOISE, RESONANCE, SPEED, served_by
from groovewright.testtone.finding.band_features import Features, Tuning, tuning_of
from groovewright.testtone.finding.band_finder import LocatedBand
from groovewright.testtone.sheet.band_sheet import Band, BandSheet
from groovewright.testtone.tones.equalisation import equalisation_level

WIDE_HZ = (150.0, 20_000.0)
"""Where a tone is looked for that is none of the sheet's: above rumble and hum. [Hz]"""

THERE = 0.5
"""Share of a frame's power at a band's frequency from which on the frame holds the band's tone, as for finding it."""

FAINTER_DB = 12.0
"""A frame this much below the band's own level holds its fade or a leak of the next groove. [dB]"""

LONGEST_GAP_S = 0.35
"""A gap this long does not end a band: clicks and dropouts are shorter, pauses between bands longer. [s]"""

LEAST_SHARE = 0.5
"""Of a band, that must hold its tone for the band to be used."""

ALLOWED_SHIFT_S = 0.17
"""By which a start may be off without a word: a tenth of a second, as the guide allows, and a frame and a half. [s]"""

LONE_SHIFT_S = 0.6
"""By which a single band may stand off its start and be used where it stands; beyond, it may be another band. [s]"""

OTHER_RATIOS = (0.7, 1.45)
"""Tone found over the band's own frequency, within which the sheet may be wrong or the speed: 33 for 45."""

SEARCHED_S = 15.0
"""How far beside its place a band is looked for. [s]"""

ONE_CHANNEL_DB = 6.0
"""Between channels, from which on a tone is that of one channel: a cartridge separates by 15 dB or more."""

DEAD_DB = 30.0
"""Between channels of a lateral or vertical tone: no balance is so far off."""

ALIKE, ALIKE_DB = 0.995, 1.0
"""Likeness and level of both channels from which on a tone of one channel is in both."""

LEVEL_OFF_DB = 3.0
"""Of one band against the others, beyond cut, equalisation and balance: half as high again."""

EQUALISED_BETTER_DB, EQUALISED_SPREAD_DB = 3.0, 2.0
"""By how much the levels of the bands must fit better, and how well, with the other word on the equalisation."""

PITCH_OFF = 0.006
"""Of one tone against the others: twice what a belt drifts and an off-centre record swings within a band."""

LONE_PITCH_OFF = 0.025
"""Of all tones, from which on a deck is far out: twice the pull of a speed control's range in common use."""

USUAL_TONES_HZ = (300.0, 315.0, 400.0, 440.0, 1000.0, 3000.0, 3150.0, 10_000.0)
"""Frequencies that test records hold, by the usual standards."""

USUAL_SPEEDS_RPM = (100 / 3, 45.0, 78.26)


@dataclass(frozen=True, eq=False)
class BandCheck:
    """What a recording holds of one band.

    Attributes
    ----------
    at : LocatedBand
        As its sheet says, or with ends cut off that hold nothing of it.
    reason : str
        Why it is not used, and what is there instead; empty where it is used.
    shift_s : float or None
        By how much the band stands later than its sheet says; None where that does not show. [s]
    level_db, balance_db, likeness : float
        Of its frames, as of `Evidence`. [dB] [dB] [1]
    other_hz : float or None
        A tone that stands where the band should, and is not its. [Hz]
    """

    at: LocatedBand
    reason: str = ""
    shift_s: float | None = None
    level_db: float = math.nan
    balance_db: float = math.nan
    likeness: float = math.nan
    other_hz: float | None = None


def wide_tuning(sample_rate_hz: float) -> Tuning:
    """Return the tuning by which a tone is found that is none of the sheet's."""
    return Tuning("sweep", (WIDE_HZ[0], min(WIDE_HZ[1], 0.45 * sample_rate_hz)))


def checked_bands(features: Features, wide: Tuning, bands: Sequence[LocatedBand]) -> tuple[BandCheck, ...]:
    """Return what the recording holds of every band.

    A tone must be there for most of its stretch; what its stretch holds beside it is cut off. Two tones must both
    stand out. A sweep must move. A silence must be quiet.
    """
    return tuple(_checked(features, wide, at) for at in bands)


def _checked(features: Features, wide: Tuning, at: LocatedBand) -> BandCheck:
    first, stop = _frames(features, at)
    if stop - first < 2:
        return BandCheck(at)
    if at.band.kind == "silence":
        return _checked_silence(features, wide, at, first, stop)
    if at.band.kind == "sweep":
        return _checked_sweep(features, at, first, stop)
    evidence = features.evidence[tuning_of(at.band)]
    there = evidence.share > THERE
    if not there[first:stop].any():
        return _elsewhere(features, wide, at, first, stop)
    usual_db = float(np.median(evidence.level_db[first:stop][there[first:stop]]))
    there &= evidence.level_db > usual_db - FAINTER_DB
    begin, end = _run(features, there, first, stop)
    inside = slice(max(begin, first), min(end, stop))
    count = inside.stop - inside.start
    shift_s = _shift_s(features, at, begin, end)
    if count < LEAST_SHARE * (stop - first):
        found = _elsewhere(features, wide, at, first, stop)
        return replace(found, shift_s=shift_s if shift_s is not None else found.shift_s)
    kept = there[inside]
    reason = ""
    if at.how == "from the sheet" and shift_s is not None and abs(shift_s) > LONE_SHIFT_S:
        reason = (
            f"band {at.band.name!r} does not stand where its sheet says: its tone stands {abs(shift_s):.1f} s "
            f"{'later' if shift_s > 0 else 'earlier'}; correct its start"
        )
    return BandCheck(
        _cut_off(features, at, inside) if at.how == "from the sheet" else at,
        reason,
        shift_s=shift_s if at.how == "from the sheet" else None,
        level_db=float(np.median(evidence.level_db[inside][kept])),
        balance_db=float(np.median(evidence.balance_db[inside][kept])),
        likeness=float(np.median(evidence.likeness[inside][kept])),
    )


def _frames(features: Features, at: LocatedBand) -> tuple[int, int]:
    """Return the frames that lie wholly in a band."""
    first = math.ceil(at.start_s / features.frame_s - 1e-6)
    stop = math.floor((at.start_s + at.duration_s) / features.frame_s + 1e-6)
    return max(0, first), min(features.frame_count, stop)


def _run(features: Features, there: NDArray[np.bool_], first: int, stop: int) -> tuple[int, int]:
    """Return the run of frames with the tone that shares most with a band; short gaps do not end it."""
    most = max(1, round(LONGEST_GAP_S / features.frame_s))
    edges = np.flatnonzero(np.diff(np.concatenate([[False], there, [False]]).astype(np.int8)))
    begins, ends = edges[::2].tolist(), edges[1::2].tolist()
    joined: list[tuple[int, int]] = []
    for begin, end in zip(begins, ends, strict=True):
        if joined and begin - joined[-1][1] <= most:
            joined[-1] = (joined[-1][0], end)
        else:
            joined.append((begin, end))
    return max(joined, key=lambda run: min(run[1], stop) - max(run[0], first))


def _shift_s(features: Features, at: LocatedBand, begin: int, end: int) -> float | None:
    """Return by how much a run stands later than the band, where it is as long as the band."""
    length_s = (end - begin) * features.frame_s
    if abs(length_s - at.duration_s) > 0.05 * at.duration_s + 3 * features.frame_s:
        return None
    middle_s = (begin + end) / 2 * features.frame_s
    return middle_s - (at.start_s + at.duration_s / 2)


def _cut_off(features: Features, at: LocatedBand, inside: slice) -> LocatedBand:
    """Return the band without ends that hold nothing of it, and the radii that go with what is left."""
    start_s = max(at.start_s, (inside.start - 1) * features.frame_s)
    stop_s = min(at.start_s + at.duration_s, (inside.stop + 1) * features.frame_s)
    if start_s - at.start_s < 2 * features.frame_s and at.start_s + at.duration_s - stop_s < 2 * features.frame_s:
        return at
    return part_of(at, start_s, stop_s)


def part_of(at: LocatedBand, start_s: float, stop_s: float) -> LocatedBand:
    """Return a part of a band, with the radii that go with it."""
    shares = (np.array([start_s, stop_s]) - at.start_s) / at.duration_s
    outer_mm, inner_mm = at.band.radius_mm
    from_mm, to_mm = (outer_mm + (inner_mm - outer_mm) * shares).tolist()
    return replace(at, band=replace(at.band, radius_mm=(from_mm, to_mm)), start_s=start_s, duration_s=stop_s - start_s)


def _elsewhere(features: Features, wide: Tuning, at: LocatedBand, first: int, stop: int) -> BandCheck:
    """Return why a tone's band is not used: what is in its place, and where its tone is."""
    hz = " and ".join(f"{one:g}" for one in at.band.frequency_hz)
    other = features.evidence[wide]
    pure = other.share[first:stop] > THERE
    other_hz = float(np.median(other.line_hz[first:stop][pure])) if np.mean(pure) > LEAST_SHARE else None
    instead = "no tone stands out" if other_hz is None else f"a tone of {other_hz:.0f} Hz stands there"
    shift_s = _found_near(features, at) if other_hz is None or not _is_near(other_hz, at) else None
    beside = (
        "" if shift_s is None else f"; its tone stands {abs(shift_s):.1f} s {'later' if shift_s > 0 else 'earlier'}"
    )
    reason = (
        f"band {at.band.name!r} does not hold its tone of {hz} Hz where its sheet says: {instead}{beside}; correct its "
        "start or its frequency"
    )
    return BandCheck(at, reason, shift_s=shift_s, other_hz=other_hz)


def _is_near(hz: float, at: LocatedBand) -> bool:
    return any(abs(hz / one - 1) < 0.04 for one in at.band.frequency_hz)


def _found_near(features: Features, at: LocatedBand) -> float | None:
    """Return by how much later a run as long as the band stands near it; None for none. [s]"""
    evidence = features.evidence[tuning_of(at.band)]
    there = evidence.share > THERE
    edges = np.flatnonzero(np.diff(np.concatenate([[False], there, [False]]).astype(np.int8)))
    shifts = [
        shift
        for begin, end in zip(edges[::2].tolist(), edges[1::2].tolist(), strict=True)
        if (shift := _shift_s(features, at, begin, end)) is not None and abs(shift) < SEARCHED_S
    ]
    return min(shifts, key=abs, default=None)


def _checked_sweep(features: Features, at: LocatedBand, first: int, stop: int) -> BandCheck:
    """Refuse a sweep in whose place one steady tone stands.

    What lies below a few lines of a frame's spectrum cannot be followed here; the fit of the resonance refuses what
    does not move as it should.
    """
    lowest_hz = 3 / features.frame_s
    if max(at.band.frequency_hz) < 2 * lowest_hz:
        return BandCheck(at)
    evidence = features.evidence[tuning_of(at.band)]
    pure = evidence.share[first:stop] > THERE
    if np.mean(pure) < LEAST_SHARE:
        return BandCheck(at, f"band {at.band.name!r} holds no sweep where its sheet says; correct its start")
    covered = np.ptp(np.log2(np.maximum(evidence.line_hz[first:stop][pure], lowest_hz)))
    expected = abs(math.log2(max(at.band.frequency_hz) / max(min(at.band.frequency_hz), lowest_hz)))
    if covered < LEAST_SHARE * expected:
        return BandCheck(at, f"band {at.band.name!r} holds a tone that does not move as its sweep should; correct it")
    return BandCheck(at)


def _checked_silence(features: Features, wide: Tuning, at: LocatedBand, first: int, stop: int) -> BandCheck:
    """Cut off ends of a silence that hold a tone, and refuse one that holds tones for long."""
    loud_db = float(np.percentile(features.level_db, 90))
    evidence = features.evidence[wide]
    loud = (evidence.share > 0.8) & (evidence.level_db > loud_db - 20)
    if not loud[first:stop].any():
        return BandCheck(at)
    quiet = ~loud
    begin, end = _run(features, quiet, first, stop) if quiet[first:stop].any() else (first, first)
    inside = slice(max(begin, first), min(end, stop))
    if inside.stop - inside.start < LEAST_SHARE * (stop - first):
        hz = float(np.median(evidence.line_hz[first:stop][loud[first:stop]]))
        reason = f"band {at.band.name!r} is not silent where its sheet says: a tone of {hz:.0f} Hz stands there"
        return BandCheck(at, reason)
    frame_s = features.frame_s
    if inside.start == first and inside.stop == stop:
        return BandCheck(at)
    return BandCheck(
        part_of(at, max(at.start_s, inside.start * frame_s), min(at.start_s + at.duration_s, inside.stop * frame_s))
    )


def doubts_of_starts(checks: Sequence[BandCheck]) -> list[Doubt]:
    """Return the doubt about all starts, where most bands stand later or earlier by one time."""
    shifts = np.array([check.shift_s for check in checks if check.shift_s is not None])
    if not shifts.size or abs(common := float(np.median(shifts))) <= ALLOWED_SHIFT_S:
        return []
    tones = [check for check in checks if check.at.band.kind == "tone" and check.at.how == "from the sheet"]
    agreeing = int(np.count_nonzero(np.abs(shifts - common) < ALLOWED_SHIFT_S))
    if agreeing < max(1, len(tones) / 2):
        return []
    way = "later" if common > 0 else "earlier"
    what = (
        f"The bands stand {abs(common):.2f} s {way} in the recording than their sheet says; shift all starts by that."
    )
    return [Doubt("starts", "", what, {"start_shift_s": round(common, 2)}, EVERYTHING)]


def doubts_of_pitch(checks: Sequence[BandCheck], played_hz: Mapping[str, float], sheet: BandSheet) -> list[Doubt]:
    """Return doubts about frequencies and the speed at which the record was played.

    Parameters
    ----------
    checks : sequence of BandCheck
    played_hz : mapping of str to float
        What each tone plays at, by name of band. [Hz]
    sheet : BandSheet
    """
    every = [check.at for check in checks]
    ratios = {
        check.at.band.name: ratio
        for check in checks
        if check.at.band.kind == "tone" and (ratio := _ratio(check, played_hz)) is not None
    }
    if not ratios:
        return []
    common = float(np.median(list(ratios.values())))
    together = [name for name, ratio in ratios.items() if abs(ratio / common - 1) < PITCH_OFF]
    if abs(common - 1) > LONE_PITCH_OFF:
        return [_far_out(every, ratios, common, sheet)]
    found: list[Doubt] = []
    if len(ratios) >= 3 and len(together) > len(ratios) / 2:
        for check in checks:
            name = check.at.band.name
            if name in ratios and name not in together:
                found.append(_wrong_frequency(check.at, every, ratios[name] / common))
    elif (
        len({round(1e3 * ratio) for ratio in ratios.values()}) > 1
        and max(ratios.values()) / min(ratios.values()) > 1 + 2 * PITCH_OFF
    ):
        spread = ", ".join(f"{name} {100 * (ratio - 1):+.1f} %" for name, ratio in ratios.items())
        found.append(
            Doubt("frequency", "", f"The tones play at different speeds by their sheet: {spread}.", {}, EVERYTHING)
        )
        return found
    return found


def _ratio(check: BandCheck, played_hz: Mapping[str, float]) -> float | None:
    """Return what a tone plays at over its frequency; None where its place does not tell."""
    stated_hz = check.at.band.frequency_hz[0]
    if not check.reason:
        hz = played_hz.get(check.at.band.name)
        return None if hz is None else hz / stated_hz
    if check.other_hz is None or check.shift_s is not None:
        return None
    ratio = check.other_hz / stated_hz
    return ratio if OTHER_RATIOS[0] < ratio < OTHER_RATIOS[1] else None


def _wrong_frequency(at: LocatedBand, every: Sequence[LocatedBand], ratio: float) -> Doubt:
    stated_hz = at.band.frequency_hz[0]
    right_hz = _usual_hz(stated_hz * ratio)
    what = (
        f"Band {at.band.name!r} plays {100 * (ratio - 1):+.1f} % beside the other tones by its sheet's "
        f"{stated_hz:g} Hz; {right_hz:g} Hz would agree with them."
    )
    return Doubt("frequency", at.band.name, what, {"frequency_hz": right_hz}, served_by(at, every))


def _usual_hz(hz: float) -> float:
    near = min(USUAL_TONES_HZ, key=lambda usual: abs(math.log(hz / usual)))
    return near if abs(hz / near - 1) < PITCH_OFF else float(f"{hz:.4g}")


def _far_out(every: Sequence[LocatedBand], ratios: Mapping[str, float], common: float, sheet: BandSheet) -> Doubt:
    """Return the doubt where all tones are far beside their frequency: a wrong figure, or a deck far out of speed."""
    percent = f"{100 * (common - 1):+.1f} %"
    for rpm in USUAL_SPEEDS_RPM:
        if abs(common * sheet.speed_rpm / rpm - 1) < LONE_PITCH_OFF and abs(rpm / sheet.speed_rpm - 1) > LONE_PITCH_OFF:
            what = (
                f"Every tone plays {percent} beside its frequency, as a record cut for {sheet.speed_rpm:.4g} rpm does "
                f"at {rpm:.4g} rpm; play it at {sheet.speed_rpm:.4g} rpm and record again."
            )
            return Doubt("played speed", "", what, {}, EVERYTHING)
    names = list(ratios)
    one = next(at for at in every if at.band.name == names[0])
    usual = _usual_hz(one.band.frequency_hz[0] * common)
    if len(names) == 1 and usual in USUAL_TONES_HZ and usual != one.band.frequency_hz[0]:
        what = (
            f"Band {one.band.name!r} plays {percent} beside its sheet's {one.band.frequency_hz[0]:g} Hz; {usual:g} Hz "
            "would be near. Either the sheet or the deck is far out."
        )
        return Doubt("frequency", one.band.name, what, {"frequency_hz": usual}, served_by(one, every))
    what = f"Every tone plays {percent} beside its frequency: the deck is far out of speed, or the sheet is wrong."
    return Doubt("played speed", "", what, {}, SPEED)


def doubts_of_levels(checks: Sequence[BandCheck], sheet: BandSheet) -> list[Doubt]:
    """Return doubts about the equalisation and about the levels of single bands."""
    every = [check.at for check in checks]
    held = [
        check
        for check in checks
        if not check.reason and check.at.band.kind == "tone" and check.at.band.peak_velocity_cm_s is not None
    ]
    if len(held) < 3:
        return []
    stated = 20 * np.log10([velocity for check in held for velocity in _velocities(check.at.band)])
    curve = equalisation_level([check.at.band.frequency_hz[0] for check in held])
    measured = np.array([check.level_db for check in held]) - stated
    as_stated, otherwise = (measured - curve, measured) if sheet.equalised else (measured, measured - curve)
    spread, other = (float(np.ptp(each)) for each in (as_stated, otherwise))
    if (
        float(np.ptp(curve)) > EQUALISED_BETTER_DB
        and other < EQUALISED_SPREAD_DB
        and spread - other > EQUALISED_BETTER_DB
    ):
        said = "through a phono stage" if sheet.equalised else "without a phono stage"
        what = (
            f"The sheet says that the recording went {said}; the levels of its bands then differ by {spread:.1f} dB, "
            f"and by {other:.1f} dB otherwise."
        )
        withheld = tuple(name for name in EVERYTHING if name not in (*SPEED, *CHANNELS))
        return [Doubt("equalised", "", what, {"equalised": not sheet.equalised}, withheld)]
    return [
        _wrong_level(check.at, every, float(off))
        for check, off in zip(held, as_stated - np.median(as_stated), strict=True)
        if abs(off) > LEVEL_OFF_DB
    ]


def _velocities(band: Band) -> tuple[float, ...]:
    given = band.peak_velocity_cm_s
    return () if given is None else given if isinstance(given, tuple) else (given,)


def _wrong_level(at: LocatedBand, every: Sequence[LocatedBand], off_db: float) -> Doubt:
    what = (
        f"Band {at.band.name!r} is {abs(off_db):.1f} dB {'louder' if off_db > 0 else 'fainter'} than its sheet says, "
        "measured by the other bands; correct its peak velocity."
    )
    withheld = tuple(name for name in served_by(at, every) if name not in SPEED)
    return Doubt("level", at.band.name, what, {}, withheld)


def doubts_of_channels(checks: Sequence[BandCheck], *, channels_alike: bool) -> list[Doubt]:
    """Return doubts about the wiring: swapped, inverted, dead, or one channel in both."""
    held = {
        cut: [c for c in checks if not c.reason and c.at.band.cut == cut and c.at.band.kind == "tone"] for cut in CUTS
    }
    both = [*held["lateral"], *held["vertical"]]
    of_channels = tuple(name for name in EVERYTHING if name not in SPEED)
    if both and all(abs(c.balance_db) > DEAD_DB for c in both):
        dead = "right" if both[0].balance_db > 0 else "left"
        what = f"The {dead} channel is dead in bands that both channels should hold; check its leads and record again."
        return [Doubt("channels", "", what, {}, of_channels)]
    single = [*held["left"], *held["right"]]
    mono = single and all(abs(c.balance_db) < ALIKE_DB and c.likeness > ALIKE for c in single)
    if channels_alike or mono:
        what = "Both channels hold the same; record left and right apart, not as mono."
        return [Doubt("channels", "", what, {}, of_channels)]
    found = []
    wrong = [c for c in held["left"] if c.balance_db < -ONE_CHANNEL_DB] + [
        c for c in held["right"] if c.balance_db > ONE_CHANNEL_DB
    ]
    if wrong and len(wrong) == len(single):
        what = "What is cut left comes out of the right channel, or right out of the left: the channels are swapped."
        found.append(Doubt("channels", "", what, {"wiring": "swapped"}, of_channels))
    else:
        found += [_wrong_cut(c, [check.at for check in checks]) for c in wrong]
        for c in single:
            if c not in wrong and abs(c.balance_db) < ONE_CHANNEL_DB:
                found.append(_wrong_cut(c, [check.at for check in checks]))
    signs = [c.likeness if c.at.band.cut == "lateral" else -c.likeness for c in both]
    if both and all(sign < -0.5 for sign in signs):
        what = "Lateral bands move the channels opposed, and vertical ones alike: the leads of one channel are swapped."
        withheld = (*RESONANCE, *NOISE)
        found.append(Doubt("channels", "", what, {"wiring": "right inverted"}, withheld))
    elif any(sign < -0.5 for sign in signs):
        found += [
            _wrong_cut(c, [check.at for check in checks]) for c, sign in zip(both, signs, strict=True) if sign < -0.5
        ]
    found += [_wrong_cut(c, [check.at for check in checks]) for c in both if abs(c.balance_db) > 2 * ONE_CHANNEL_DB]
    return found


CUTS = ("left", "right", "lateral", "vertical")


def _wrong_cut(check: BandCheck, every: Sequence[LocatedBand]) -> Doubt:
    at = check.at
    if abs(check.balance_db) > ONE_CHANNEL_DB:
        moves = "left only" if check.balance_db > 0 else "right only"
    else:
        moves = "lateral" if check.likeness > 0 else "vertical"
    what = f"Band {at.band.name!r} is cut {at.band.cut} by its sheet, and moves {moves}; correct its cut."
    withheld = tuple(name for name in served_by(at, every) if name not in SPEED)
    return Doubt("band", at.band.name, what, {}, withheld)
