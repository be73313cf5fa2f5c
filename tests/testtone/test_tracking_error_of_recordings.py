"""Tracking error and vertical tracking angle from whole recordings of decks that are known to the last digit."""

import pytest

from groovewright.simulate.deck import PlatterSine, SpeedSine, TrueDeck
from groovewright.simulate.groove import GAP_S, LEAD_IN_S
from groovewright.simulate.recording import simulate_recording
from groovewright.testtone.capture.capture import analyse_capture
from groovewright.testtone.finding.band_finder import LocatedBand
from groovewright.testtone.sheet.band_sheet import Band, BandSheet
from groovewright.testtone.tones.harmonics import signed_second_harmonic
from groovewright.testtone.tones.tone_fit import fit_tone
from groovewright.testtone.tracking.tracking_error_fit import fit_tracking_error
from groovewright.testtone.tracking.vertical_angle import fit_vertical_angle
from groovewright.tonearm.geometry import Geometry

TARGET = Geometry(222.0, 239.2961, 22.9855)
SPEED_RPM = 100 / 3
TONE_S = 2.0
SOURCES = {"noise_source": "noise", "level_source": "level", "level_standard_uncertainty_db": 0.0}
RUINED_BY_ALL = {
    "flutter": (SpeedSine(9.0, 0.05), SpeedSine(0.7, 0.08)),
    "platter_flutter": (PlatterSine(1, 0.05),),
    "eccentricity_mm": 0.2,
    "azimuth_rotation_deg": 1.5,
    "leak_db": -32.0,
    "channel_gains_db": (0.0, -1.2),
    "surface_noise_db": -60.0,
    "recorder_noise_dbfs": -90.0,
}


def sheet(*, equalised, cutting_angle_deg=None):
    radii_mm = {"lateral": (142.0, 122.0, 100.0, 82.0, 66.0), "vertical": (132.0, 90.0, 62.0)}
    cuts = sorted(((r, cut) for cut, those in radii_mm.items() for r in those), reverse=True)
    bands = tuple(
        Band(f"{cut} {r:g}", "tone", cut, (1000.0,), 10.0 if cut == "lateral" else 6.0, (r, r - 0.2), None, TONE_S)
        for r, cut in cuts
    )
    return BandSheet(
        equalised=equalised, speed_rpm=SPEED_RPM, bands=bands, vertical_cutting_angle_deg=cutting_angle_deg
    )


def heard(deck, *, equalised, seed):
    """Return the signed second harmonics of the lateral and of the vertical tones of a deck's recording."""
    record = sheet(equalised=equalised)
    recording = simulate_recording(record, deck, sample_rate_hz=32_000.0, seed=seed)
    harmonics = {"lateral": [], "vertical": []}
    for number, band in enumerate(record.bands):
        located = LocatedBand(band, LEAD_IN_S + number * (TONE_S + GAP_S) + 0.05, TONE_S - 0.1, "from the sheet")
        fit = fit_tone(recording, located, (1, 2))
        harmonics[band.cut].append(signed_second_harmonic(fit, equalised=equalised, speed_rpm=SPEED_RPM))
    return harmonics["lateral"], harmonics["vertical"]


@pytest.mark.parametrize("equalised", [False, True])
@pytest.mark.parametrize(
    "truth",
    [
        {"effective_length_error_mm": 1.4, "zenith_error_deg": -1.1, "vertical_tracking_angle_error_deg": 2.5},
        {"effective_length_error_mm": -2.0, "zenith_error_deg": 0.8, "vertical_tracking_angle_error_deg": -4.0},
        {"zenith_error_deg": 2.0, "polarity": (-1, -1), "second_harmonic_percent": 0.3},
        {"effective_length_error_mm": 2.0, "polarity": (1, -1), "second_harmonic_percent": -0.2},
    ],
    ids=["long", "short", "upside down", "swapped leads"],
)
def test_a_recording_gives_tracking_error_within_a_tenth_of_a_degree(truth, equalised):
    deck = TrueDeck(geometry=TARGET, **truth, **RUINED_BY_ALL)
    lateral, vertical = heard(deck, equalised=equalised, seed=3)
    found = fit_tracking_error(lateral, TARGET, speed_rpm=SPEED_RPM, **SOURCES)
    assert found.not_shown == ""
    assert found.polarity.sign == deck.polarity[0]
    for entry in found.tracking_errors:
        true_deg = float(deck.tracking_error_deg(entry.radius_mm))
        assert entry.angle_error.value == pytest.approx(true_deg, abs=0.1)
    length, zenith = found.effective_length_error, found.zenith_error
    assert abs(length.value - deck.effective_length_error_mm) < 4 * length.standard_uncertainty
    assert abs(zenith.value - deck.zenith_error_deg) < 4 * zenith.standard_uncertainty
    steep = fit_vertical_angle(vertical, speed_rpm=SPEED_RPM, polarity=found.polarity, cutting_source="cut", **SOURCES)
    error = steep.vertical_tracking_angle_error
    assert error.value == pytest.approx(deck.vertical_tracking_angle_error_deg, abs=0.1)


def test_a_capture_counts_the_vertical_angle_from_the_cut_that_its_sheet_states():
    # Counted from 20 degrees, the error would seem a fifth of a degree too large.
    record = sheet(equalised=False, cutting_angle_deg=25.0)
    deck = TrueDeck(geometry=TARGET, zenith_error_deg=1.0, vertical_tracking_angle_error_deg=3.0)
    recording = simulate_recording(record, deck, sample_rate_hz=32_000.0)
    result = analyse_capture(recording, record, geometry=TARGET, progress=lambda share, doing: None)
    error = result.quantities["vertical_tracking_angle_error"]
    assert error.value == pytest.approx(3.0, abs=0.1)
    assert any(source.label.startswith("vertical cutting angle of ") for source in error.components)
    assert any("at 25 degrees as its sheet states" in note for note in result.notes)
