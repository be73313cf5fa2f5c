"""What the uncertainty of the pivot-to-spindle distance does to what a capture tells against the target."""

import pytest

from groovewright.bench.targets.capture_target import target_shift
from groovewright.bench.targets.targets import TargetRequest, choose_targets
from groovewright.measurement.quantity import Quantity
from groovewright.simulate.deck import TrueDeck
from groovewright.simulate.recording import simulate_recording
from groovewright.testtone.capture.capture import analyse_capture
from groovewright.testtone.capture.recording import ArrayRecording
from groovewright.testtone.sheet.band_sheet import Band, BandSheet
from groovewright.tonearm.geometry import geometry_from_nulls

ARM = geometry_from_nulls(pivot_to_spindle_mm=222.0, null_radii_mm=(65.998, 120.891))
SHEET = BandSheet(
    False,
    100 / 3,
    tuple(
        Band(f"{radius_mm}", "tone", "lateral", (400.0,), 10.0, (radius_mm, radius_mm - 0.5), 0.5 + 1.5 * k, 1.0)
        for k, radius_mm in enumerate((138.0, 112.0, 88.0, 65.0))
    ),
)


@pytest.fixture(scope="module")
def recording():
    deck = TrueDeck(geometry=ARM, surface_noise_db=-60.0, level_dbfs=-20.0)
    made = simulate_recording(SHEET, deck, sample_rate_hz=32_000, seed=1)
    return ArrayRecording(made.read(0, made.frame_count), 32_000)


def analysed_at(distance, recording):
    request = TargetRequest(distance, "minimax", 60.325, 146.05)
    return analyse_capture(
        recording,
        SHEET,
        geometry=choose_targets(request).geometry,
        target_shift=target_shift(request),
        progress=lambda share, doing: None,
        level_standard_uncertainty_db=0.0,
    )


def test_distance_enters_by_what_it_moves_the_errors(recording):
    def errors_at(distance):
        return analysed_at(distance, recording).quantities

    reading = Quantity.measured(222.0, "mm", standard_uncertainty=2.0, source="rule")
    found = errors_at(reading)
    nearer, farther = (errors_at(Quantity.exact(mm, "mm")) for mm in (221.5, 222.5))
    for name in ("effective_length_error", "zenith_error"):
        (part,) = [c for source, c in found[name].components.items() if source.label == "rule"]
        # Half a millimetre to either side: the slope that the distance's own error of 2 mm goes by.
        assert part == pytest.approx(2.0 * (farther[name].value - nearer[name].value), rel=0.05)
    rim = found["tracking_error"][0].quantity
    assert any(source.label == "rule" for source in rim.components)


def test_distance_of_unknown_uncertainty_is_said_in_a_note(recording):
    unknown = Quantity.unknown_uncertainty(222.0, "mm", why="none was stated")
    result = analysed_at(unknown, recording)
    (note,) = [note for note in result.notes if "pivot-to-spindle distance is not known" in note]
    assert "the effective length error by 0.07" in note
    assert result.quantities["zenith_error"].standard_uncertainty > 0


def test_arm_without_a_pivot_has_no_shift():
    assert target_shift(TargetRequest(None, "minimax", 60.325, 146.05, arm_kind="tangential")) is None
