"""Where a tone begins and ends in a recording, against recordings whose edges are known."""

import numpy as np
import pytest

from groovewright.simulate.deck import TrueDeck
from groovewright.simulate.recording import simulate_recording
from groovewright.testtone.capture.capture import analyse_capture
from groovewright.testtone.capture.recording import ArrayRecording
from groovewright.testtone.finding.band_edges import between_its_edges
from groovewright.testtone.finding.band_finder import LocatedBand
from groovewright.testtone.sheet.band_sheet import Band, BandSheet
from groovewright.tonearm.geometry import Geometry

RATE_HZ = 32_000
ARM = Geometry(222.0, 239.2961, 22.9855)


def recording(begins_s, ends_s, *, hz=1000.0, noise=1e-4, lasts_s=5.0, before=0.0):
    t = np.arange(round(lasts_s * RATE_HZ)) / RATE_HZ
    level = np.where((t >= begins_s) & (t < ends_s), 0.3, np.where(t < begins_s, before, 0.0))
    tone = level * np.cos(2 * np.pi * hz * t)
    rng = np.random.default_rng(1)
    return ArrayRecording(tone[:, None] + noise * rng.standard_normal((t.size, 2)), RATE_HZ)


def located(start_s, duration_s, *, hz=1000.0):
    band = Band("tone", "tone", "lateral", (hz,), 5.0, (100.0, 99.0), start_s, duration_s)
    return LocatedBand(band, start_s, duration_s, "from the sheet")


@pytest.mark.parametrize("hz", [300.0, 1000.0, 3150.0])
@pytest.mark.parametrize("early_s", [-0.2, 0.0, 0.15])
def test_a_band_off_by_tenths_of_a_second_gets_its_edges_to_the_millisecond(hz, early_s):
    # From 1.234 to 3.234 s the radius runs from 100 to 99 mm.
    found = between_its_edges(recording(1.234, 3.234, hz=hz), located(1.234 - early_s, 2.0, hz=hz))
    start_s, stop_s = found.start_s, found.start_s + found.duration_s
    assert start_s == pytest.approx(max(1.234, 1.234 - early_s), abs=0.001)
    assert stop_s == pytest.approx(min(3.234, 3.234 - early_s), abs=0.001)
    radii = [100 - (at - 1.234) / 2 for at in (start_s, stop_s)]
    assert found.band.radius_mm == pytest.approx(radii, abs=0.0006)


@pytest.mark.parametrize(
    ("made", "at"),
    [
        # The same tone goes on before or behind, nearly as loud, as on a ladder.
        (recording(1.0, 3.0, before=0.2), located(1.0, 2.0)),
        (recording(1.0, 5.0), located(1.0, 2.0)),
        # Nothing but noise, or a tone that noise hides.
        (recording(1.0, 1.0), located(1.0, 2.0)),
        (recording(1.0, 3.0, noise=1.0), located(1.0, 2.0)),
        # The recording begins with the tone.
        (recording(0.0, 2.0), located(0.0, 2.0)),
        # Half a second beside its place.
        (recording(1.6, 3.6), located(1.0, 2.0)),
    ],
)
def test_a_band_whose_edges_do_not_show_stays_as_it_is(made, at):
    assert between_its_edges(made, at) == at


def test_a_band_that_an_arm_meets_late_is_read_at_its_own_radius():
    # Near the label this arm has swung inward by 19 degrees since the first band, a tenth of a second of a turn.
    tones = [
        Band(f"at {r}", "tone", "lateral", (400.0,), 10.0, (r, r - 0.5), 0.5 + 2.5 * k, 2.0)
        for k, r in enumerate((142.0, 118.0, 92.0, 65.0))
    ]
    # Channels that hold the very same samples would be one channel.
    sheet, deck = BandSheet(True, 100 / 3, tuple(tones)), TrueDeck(geometry=ARM, recorder_noise_dbfs=-140.0)
    made = simulate_recording(sheet, deck, sample_rate_hz=RATE_HZ, seed=1)
    heard = ArrayRecording(made.read(0, made.frame_count), RATE_HZ)
    inner = between_its_edges(heard, located(8.0, 2.0, hz=400.0))
    assert inner.start_s == pytest.approx(8.094, abs=0.004)
    found = analyse_capture(
        heard, sheet, geometry=ARM, progress=lambda share, doing: None, level_standard_uncertainty_db=0.0
    ).quantities["tracking_error"]
    for entry in found:
        assert entry.quantity.value == pytest.approx(float(deck.tracking_error_deg(entry.at.value)), abs=0.0003)
