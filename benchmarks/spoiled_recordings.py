"""Forty spoiled recordings and sheets, mild and strong: each value right, withheld with its cause, or refused.

    .venv/bin/python benchmarks/spoiled_recordings.py [--only skip]

One record on one deck, whose truth is known, is spoiled in forty ways: what happens to a recording and what is wrong
with a sheet. Every value that is shown must hold the truth within four standard uncertainties; what is not shown must
say why. Printed are the values that are wrong without a word (there should be none), how many are shown, and the first
cause that is named.
"""

from __future__ import annotations

import argparse
from dataclasses import dataclass, replace

import numpy as np

from groovewright.simulate.deck import Resonance, Rumble, SpeedSine, TrueDeck
from groovewright.simulate.recording import simulate_recording
from groovewright.simulate.rough import Event, Rough
from groovewright.testtone.capture.capture import analyse_capture
from groovewright.testtone.capture.capture_result import CaptureResult
from groovewright.testtone.capture.recording import ArrayRecording
from groovewright.testtone.sheet.band_sheet import Band, BandSheet
from groovewright.testtone.speed.flutter_weighting import weighting_gain
from groovewright.tonearm.geometry import geometry_from_nulls

RPM, RATE_HZ = 100 / 3, 44_100
ARM = geometry_from_nulls(pivot_to_spindle_mm=222.0, null_radii_mm=(65.998, 120.891))
FLUTTER = SpeedSine(4.3, 0.05, 20.0)
ALLOWED = 4.0
"""Standard uncertainties by which a value that is shown may be off."""

ROUGH = Rough(
    equalisation_left_percent=(2.0, -1.5, 1.0),
    equalisation_right_percent=(-1.0, 2.0, -2.0),
    tip_radius_um=8.0,
    cut_azimuth_deg=0.2,
    unsteady_flutter_percent=0.01,
    clock_error_ppm=15.0,
)
DECK = TrueDeck(
    geometry=ARM,
    effective_length_error_mm=0.6,
    zenith_error_deg=-0.5,
    vertical_tracking_angle_error_deg=3.0,
    azimuth_rotation_deg=2.5,
    channel_gains_db=(0.0, -0.4),
    speed_error_percent=0.12,
    flutter=(FLUTTER,),
    eccentricity_mm=0.15,
    resonance_lateral=Resonance(9.4, 2.6),
    resonance_vertical=Resonance(10.8, 2.2),
    rumble=Rumble(-64.0, -62.0),
    surface_noise_db=-56.0,
    recorder_noise_dbfs=-92.0,
    level_dbfs=-28.0,
    rough=ROUGH,
)


def tone(name, cut, hz, velocity, *, radius_mm, seconds):
    return Band(name, "tone", cut, (hz,), velocity, (radius_mm, radius_mm - 0.5), None, seconds)


def record():
    bands = [
        tone("3150 Hz", "lateral", 3150.0, 5.0, radius_mm=143.0, seconds=10.0),
        tone("1 kHz left", "left", 1000.0, 5.0, radius_mm=140.0, seconds=3.0),
        tone("1 kHz right", "right", 1000.0, 5.0, radius_mm=139.0, seconds=3.0),
        *(tone(f"lateral {r}", "lateral", 400.0, 8.0, radius_mm=float(r), seconds=3.0) for r in (138, 114, 90, 65)),
        *(tone(f"vertical {r}", "vertical", 400.0, 4.0, radius_mm=float(r), seconds=3.0) for r in (136, 63)),
        Band("sweep lateral", "sweep", "lateral", (28.0, 4.0), 1.0, (112.0, 111.0), None, 10.0),
        Band("silence", "silence", "lateral", (), None, (88.0, 86.0), None, 6.0),
    ]
    start_s, placed = 1.5, []
    for band in sorted(bands, key=lambda one: -one.radius_mm[0]):
        placed.append(replace(band, start_s=start_s))
        start_s += band.duration_s + 1.0
    return BandSheet(True, RPM, tuple(placed))


SHEET = record()


def truth():
    flutter = 0.9969 * FLUTTER.peak_percent * float(weighting_gain(FLUTTER.frequency_hz))
    return {
        "speed_error": 0.12,
        "eccentricity": 0.15,
        "wow_flutter_weighted_2sigma_without_eccentricity": float(np.hypot(flutter, 1.96 * 0.008)),
        "azimuth_rotation": 2.5,
        "channel_balance": 0.4,
        "effective_length_error": 0.6,
        "zenith_error": -0.5,
        "vertical_tracking_angle_error": 3.0,
        "resonance_lateral": 9.4,
        "resonance_lateral_q": 2.6,
    }


TRUTH = truth()


def start_of(name):
    return next(band.start_s for band in SHEET.bands if band.name == name)


def with_band(name, **changes):
    return replace(SHEET, bands=tuple(replace(b, **changes) if b.name == name else b for b in SHEET.bands))


def shifted(seconds):
    return replace(SHEET, bands=tuple(replace(b, start_s=max(0.0, b.start_s + seconds)) for b in SHEET.bands))


def no_starts():
    return replace(SHEET, bands=tuple(replace(b, start_s=None) for b in SHEET.bands))


@dataclass(frozen=True)
class Spoiled:
    """One way to spoil: a rough deck, and the sheet by which it is measured."""

    name: str
    rough: Rough = ROUGH
    sheet: BandSheet = SHEET
    deck: TrueDeck = DECK


def of_rough(name, **changes):
    return Spoiled(name, replace(ROUGH, **changes))


def of_event(name, *events):
    return of_rough(name, events=events)


AT_SPEED, AT_LATERAL = start_of("3150 Hz") + 6.0, start_of("lateral 114") + 1.2
SPOILED = (
    Spoiled("nothing wrong"),
    Spoiled("starts 0.08 s early", sheet=shifted(-0.08)),
    Spoiled("starts 0.25 s early", sheet=shifted(-0.25)),
    Spoiled("starts 0.6 s late", sheet=shifted(0.6)),
    Spoiled("starts 5 s late", sheet=shifted(5.0)),
    Spoiled("one start 0.4 s early", sheet=with_band("lateral 114", start_s=start_of("lateral 114") - 0.4)),
    Spoiled("one start 2 s late", sheet=with_band("vertical 63", start_s=start_of("vertical 63") + 2.0)),
    Spoiled("3000 for 3150 Hz", sheet=with_band("3150 Hz", frequency_hz=(3000.0,))),
    Spoiled("3190 for 3150 Hz", sheet=with_band("3150 Hz", frequency_hz=(3190.0,))),
    Spoiled("315 for 400 Hz in one band", sheet=with_band("lateral 90", frequency_hz=(315.0,))),
    Spoiled("45 rpm on the sheet", sheet=replace(SHEET, speed_rpm=45.0)),
    Spoiled("78 rpm on the sheet", sheet=replace(SHEET, speed_rpm=78.26)),
    Spoiled("played at 45 rpm", deck=replace(DECK, speed_error_percent=35.0)),
    Spoiled("equalised wrong", sheet=replace(SHEET, equalised=False)),
    Spoiled("level of one band 4 dB wrong", sheet=with_band("lateral 90", peak_velocity_cm_s=5.05)),
    Spoiled("level of one band 8 dB wrong", sheet=with_band("lateral 90", peak_velocity_cm_s=3.2)),
    Spoiled("lateral and vertical mixed up", sheet=with_band("vertical 63", cut="lateral")),
    Spoiled("left and right mixed up in one band", sheet=with_band("1 kHz left", cut="right")),
    of_rough("channels swapped", wiring="swapped"),
    of_rough("left inverted", wiring="left inverted"),
    of_rough("right inverted", wiring="right inverted"),
    of_rough("left dead", wiring="left dead"),
    of_rough("right dead", wiring="right dead"),
    of_rough("mono", wiring="mono"),
    of_event("dropout of 10 ms", Event("dropout", AT_SPEED, 0.0, 0.01)),
    of_event("dropout of 50 ms", Event("dropout", AT_SPEED, 0.05, 0.05)),
    of_event("dropout of 0.5 s", Event("dropout", AT_SPEED, 0.0, 0.5)),
    of_event("skip of one turn ahead", Event("skip", AT_SPEED, 1.0)),
    of_event("skip of one turn back", Event("skip", AT_SPEED, -1.0)),
    of_event("skip in a short band", Event("skip", AT_LATERAL, 1.0)),
    of_event("locked groove of three turns", Event("locked groove", AT_SPEED - 3.0, 3.0)),
    of_event("needle drop in the first band", Event("needle drop", start_of("3150 Hz") + 0.8, 0.6)),
    of_event("tick burst", Event("tick burst", AT_SPEED, 0.2, 0.4)),
    of_event("tick burst in a short band", Event("tick burst", AT_LATERAL, 0.2, 0.3)),
    of_event("light thump", Event("thump", start_of("sweep lateral") + 4.0, 0.02, 0.5)),
    of_event("heavy thump", Event("thump", start_of("sweep lateral") + 4.0, 0.3, 0.8)),
    of_rough("clipped at the recorder", clip_at=0.05),
    of_rough("clipped, then turned down", clip_at=0.05, gain_after_db=-9.3),
    of_rough("clipped hard, then turned up", clip_at=0.02, gain_after_db=6.0),
    of_rough("subsonic filter", subsonic_hz=18.0, subsonic_order=2),
    Spoiled("no starts", sheet=no_starts()),
)


def measured(spoiled: Spoiled) -> CaptureResult | str:
    """Return what was found, or why all was refused."""
    made = simulate_recording(SHEET, replace(spoiled.deck, rough=spoiled.rough), sample_rate_hz=RATE_HZ, seed=5)
    samples = made.read(0, made.frame_count)
    # After the last band the stylus runs on in silence.
    silence = 1e-5 * np.random.default_rng(1).standard_normal((20 * RATE_HZ, 2))
    recording = ArrayRecording(np.concatenate([samples, silence]), RATE_HZ)
    try:
        return analyse_capture(recording, spoiled.sheet, geometry=ARM, progress=lambda share, doing: None)
    except ValueError as refusal:
        return str(refusal)


def wrong_values(spoiled: Spoiled, found: CaptureResult) -> list[str]:
    """Return the values that are shown and off by more than is allowed, in words."""
    wrong = []
    for name, true in (TRUTH | {"speed_error": spoiled.deck.speed_error_percent}).items():
        quantity = found.quantities.get(name)
        if quantity is not None and quantity.standard_uncertainty:
            sigmas = (quantity.value - true) / quantity.standard_uncertainty
            if abs(sigmas) > ALLOWED:
                wrong.append(f"{name} {quantity.value:.4g} ± {quantity.standard_uncertainty:.2g} for {true:.4g}")
    return wrong


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--only", default="")
    given = parser.parse_args()
    failed = 0
    for spoiled in SPOILED:
        if given.only not in spoiled.name:
            continue
        found = measured(spoiled)
        if isinstance(found, str):
            print(f"{spoiled.name:38s} refused: {found[:140]}", flush=True)
            continue
        wrong = wrong_values(spoiled, found)
        failed += bool(wrong)
        shown = sum(name in found.quantities for name in TRUTH)
        causes = [doubt.what for doubt in found.doubts] + [f"{e.kind} at {e.start_s:.2f} s" for e in found.events]
        causes = causes or [why for name, why in found.not_shown.items() if name in TRUTH]
        print(
            f"{spoiled.name:38s} {shown:2d} of {len(TRUTH)} shown, {len(wrong)} wrong; {' | '.join(causes)[:230]}",
            flush=True,
        )
        for words in wrong:
            print(f"      WRONG: {words}", flush=True)
    print(f"{failed} of {len(SPOILED)} with a value that is wrong without a word")


if __name__ == "__main__":
    main()
