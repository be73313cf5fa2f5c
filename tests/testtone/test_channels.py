import math
from dataclasses import replace

import numpy as np
import pytest

from groovewright.simulate.deck import HumLine, TrueDeck
from groovewright.simulate.recording import simulate_recording
from groovewright.testtone.channels.channels import channel_matrix, channel_polarity
from groovewright.testtone.finding.band_finder import LocatedBand
from groovewright.testtone.sheet.band_sheet import Band, BandSheet
from groovewright.testtone.tones.tone_fit import ToneFit, fit_tone

QUANTITIES = (
    "azimuth_rotation",
    "channel_balance",
    "crosstalk_left_into_right",
    "crosstalk_right_into_left",
    "crosstalk_leak",
    "crosstalk_at_best_azimuth",
)


def band(cut, *, velocity=5.0, frequency_hz=1000.0):
    return Band(f"{cut} {frequency_hz:g}", "tone", cut, (frequency_hz,), velocity, (140.0, 139.0))


def tone(cut, fundamental, *, sigma=1e-9, rng=None, velocity=5.0, frequency_hz=1000.0) -> ToneFit:
    """A fit of a fundamental with white noise; its phase counted from the louder channel, as a fit does."""
    fundamental = np.array(fundamental, dtype=complex)
    if rng is not None:
        fundamental = fundamental + sigma * (rng.standard_normal(2) + 1j * rng.standard_normal(2))
    reference = int(np.argmax(np.abs(fundamental)))
    turned = fundamental * np.exp(-1j * np.angle(fundamental[reference]))
    covariance = np.array([2 * sigma**2 * np.eye(2)], dtype=complex)
    return ToneFit(
        band=band(cut, velocity=velocity, frequency_hz=frequency_hz),
        start_s=0.0,
        duration_s=1.0,
        frequency_hz=frequency_hz,
        harmonics=(1,),
        amplitudes=turned[:, np.newaxis],
        covariance=covariance,
        noise_density=np.full((1, 2), sigma**2),
        degrees_of_freedom=np.array([500.0]),
        reference_channel=reference,
        course_s=np.array([0.5]),
        course=turned[np.newaxis, :, np.newaxis],
        course_covariance=covariance,
        excluded_share=0.0,
    )


def generator(*, turn_deg=0.0, leak=0.0, gains=(1.0, 1.0)):
    turn = math.radians(turn_deg)
    turned = np.array([[math.cos(turn), math.sin(turn)], [-math.sin(turn), math.cos(turn)]])
    return np.diag(gains) @ np.array([[1, leak], [leak, 1]]) @ turned


def fits_of(matrix, *, sigma=1e-9, rng=None, reference="lateral"):
    pair = [
        tone("left", 0.3 * matrix[:, 0], sigma=sigma, rng=rng),
        tone("right", 0.3 * matrix[:, 1], sigma=sigma, rng=rng),
    ]
    if reference:
        both = 0.2 * matrix @ np.array([1, 1 if reference == "lateral" else -1])
        pair.append(tone(reference, both, sigma=sigma, rng=rng))
    return pair


def truths(*, turn_deg, leak, gains):
    turn, bend = math.radians(turn_deg), math.atan(abs(leak))
    sign = 1 if leak >= 0 else -1
    return {
        "azimuth_rotation": turn_deg,
        "channel_balance": 20 * math.log10(abs(gains[0] / gains[1])),
        "crosstalk_right_into_left": 20 * math.log10(abs(math.tan(turn + sign * bend))),
        "crosstalk_left_into_right": 20 * math.log10(abs(math.tan(sign * bend - turn))),
        "crosstalk_leak": 20 * math.log10(abs(leak)),
        "crosstalk_at_best_azimuth": 20 * math.log10(abs(leak)),
    }


def test_minus_30_db_of_pure_rotation_is_1_81_degrees():
    turn_deg = math.degrees(math.atan(10 ** (-30 / 20)))
    found = channel_matrix(*fits_of(generator(turn_deg=turn_deg)))
    assert found.azimuth_rotation.value == pytest.approx(1.81, abs=0.005)
    assert found.crosstalk_left_into_right.value == pytest.approx(-30, abs=1e-6)
    assert found.crosstalk_right_into_left.value == pytest.approx(-30, abs=1e-6)


@pytest.mark.parametrize("reference", ["lateral", "vertical"])
@pytest.mark.parametrize("gains", [(1.0, 1.0), (1.2, 0.9), (1.0, -0.8), (-1.0, 1.1 * np.exp(0.3j))])
@pytest.mark.parametrize(("turn_deg", "leak"), [(1.5, 0.02), (-3.0, 0.01), (4.0, -0.05)])
def test_turn_and_leak_are_told_apart_whatever_the_gains(turn_deg, leak, gains, reference):
    found = channel_matrix(*fits_of(generator(turn_deg=turn_deg, leak=leak, gains=gains), reference=reference))
    for name, truth in truths(turn_deg=turn_deg, leak=leak, gains=gains).items():
        assert getattr(found, name).value == pytest.approx(truth, abs=1e-5), name
    assert found.polarity == (1 if (gains[0] * gains[1]).real > 0 else -1)
    assert found.notes == ()


def test_the_pair_alone_gives_the_same_where_polarities_are_alike_and_says_what_it_took():
    matrix = generator(turn_deg=2.0, leak=0.02, gains=(1.2, 0.9))
    left = tone("left", 0.3 * matrix[:, 0])
    right = tone("right", 0.6 * matrix[:, 1], velocity=10.0)
    found = channel_matrix(left, right)
    for name, truth in truths(turn_deg=2.0, leak=0.02, gains=(1.2, 0.9)).items():
        assert getattr(found, name).value == pytest.approx(truth, abs=1e-6), name
    assert found.polarity is None
    assert any("polarity" in note for note in found.notes)
    assert any("as high as the sheet says" in note for note in found.notes)


def test_a_lateral_band_of_another_frequency_still_tells_the_polarity():
    matrix = generator(turn_deg=2.0, leak=0.02, gains=(1.0, -1.0))
    left, right = fits_of(matrix, reference=None)
    found = channel_matrix(left, right, tone("lateral", 0.3 * matrix @ [1, 1], frequency_hz=3150.0))
    assert found.azimuth_rotation.value == pytest.approx(2.0, abs=1e-6)
    assert found.polarity == -1
    assert len(found.notes) == 1


def test_an_imaginary_leak_is_not_taken_for_a_turn():
    found = channel_matrix(*fits_of(generator(turn_deg=1.0, leak=0.01j)))
    assert found.azimuth_rotation.value == pytest.approx(1.0, abs=1e-3)
    assert found.crosstalk_leak.value == pytest.approx(-40, abs=0.01)
    assert found.crosstalk_at_best_azimuth.value == pytest.approx(-40, abs=0.01)


def test_one_way_leak_is_half_a_turn_and_half_left_over():
    matrix = np.array([[1.0, 0.02], [0.0, 1.0]])
    found = channel_matrix(*fits_of(matrix, sigma=1e-6))
    assert found.azimuth_rotation.value == pytest.approx(math.degrees(0.01), abs=1e-4)
    assert found.crosstalk_leak.value == pytest.approx(-40, abs=0.01)
    assert "below" in found.crosstalk_left_into_right.why_unknown


def test_what_the_noise_hides_is_an_upper_bound_that_holds():
    rng = np.random.default_rng(1)
    truth, held = 20 * math.log10(2e-4), []
    for _ in range(300):
        found = channel_matrix(*fits_of(generator(turn_deg=2.0, leak=2e-4), sigma=1e-4, rng=rng))
        assert found.crosstalk_leak.standard_uncertainty is None
        assert "the noise hides it" in found.crosstalk_leak.why_unknown
        held.append(found.crosstalk_leak.value > truth)
    assert np.mean(held) >= 0.93


@pytest.mark.parametrize("reference", ["lateral", None])
def test_stated_uncertainties_hold_the_truth(reference):
    rng = np.random.default_rng(2)
    inside: dict[str, list[bool]] = {name: [] for name in QUANTITIES}
    for _ in range(600):
        case = {
            "turn_deg": rng.uniform(-4, 4),
            "leak": 10 ** rng.uniform(-2.2, -1.2),
            "gains": (rng.uniform(0.8, 1.25), rng.uniform(0.8, 1.25)),
        }
        found = channel_matrix(
            *fits_of(generator(**case), sigma=10 ** rng.uniform(-5, -4), rng=rng, reference=reference)
        )
        for name, truth in truths(**case).items():
            quantity = getattr(found, name)
            if quantity.standard_uncertainty is not None:
                inside[name].append(abs(quantity.value - truth) < 1.96 * quantity.standard_uncertainty)
    for name, held in inside.items():
        # 600 cases scatter by 0.9 %.
        assert len(held) > 500
        assert 0.93 <= np.mean(held) <= 0.975, name


SHEET = BandSheet(
    False,
    100 / 3,
    (
        replace(band("left"), start_s=0.0, duration_s=0.8),
        replace(band("right"), start_s=0.9, duration_s=0.8),
        replace(band("lateral"), start_s=1.8, duration_s=0.8),
    ),
)


def analysed(deck, seed):
    recording = simulate_recording(SHEET, deck, sample_rate_hz=32_000.0, seed=seed)
    return channel_matrix(
        *(
            fit_tone(recording, LocatedBand(each, each.start_s + 0.03, each.duration_s - 0.06, "from the sheet"), (1,))
            for each in SHEET.bands
        )
    )


def test_a_simulated_deck_is_read_within_its_uncertainties_at_60_db():
    scaled = []
    for seed in range(20):
        rng = np.random.default_rng(seed)
        truth = {
            "turn_deg": rng.uniform(-3, 3),
            "leak": 10 ** rng.uniform(-2, -1.5),
            "gains": 10 ** (rng.uniform(-1, 1, 2) / 20),
        }
        deck = TrueDeck(
            azimuth_rotation_deg=truth["turn_deg"],
            leak_db=20 * math.log10(truth["leak"]),
            channel_gains_db=tuple(20 * np.log10(truth["gains"])),
            recorder_noise_dbfs=-74.0,
            eccentricity_mm=0.2,
            speed_error_percent=0.3,
            hum=(HumLine(50.0, -50.0), HumLine(1050.0, -70.0)),
        )
        found = analysed(deck, seed)
        assert found.azimuth_rotation.value == pytest.approx(truth["turn_deg"], abs=0.05)
        for name, wanted in truths(**truth).items():
            quantity = getattr(found, name)
            scaled.append((quantity.value - wanted) / quantity.standard_uncertainty)
    assert np.mean(np.abs(scaled) < 1.96) > 0.88
    assert np.sqrt(np.mean(np.square(scaled))) == pytest.approx(1.0, abs=0.25)


def test_swapped_leads_of_one_channel_are_seen_and_turn_no_sign():
    deck = TrueDeck(azimuth_rotation_deg=2.0, leak_db=-40.0, polarity=(1, -1), recorder_noise_dbfs=-74.0)
    found = analysed(deck, 1)
    assert found.polarity == -1
    assert found.azimuth_rotation.value == pytest.approx(2.0, abs=0.05)


def test_swapped_channels_are_refused():
    left, right = fits_of(generator(), reference=None)
    with pytest.raises(ValueError, match="band 'left 1000' is cut left, yet the other output is the louder"):
        channel_matrix(
            replace(left, amplitudes=left.amplitudes[::-1] + 1e-3), replace(right, amplitudes=right.amplitudes[::-1])
        )


@pytest.mark.parametrize(
    ("change", "message"),
    [
        ({"frequency_hz": 3000.0}, r"1000\.0 and 3000\.0 Hz; crosstalk both ways needs one frequency"),
        ({"amplitudes": np.ones((1, 1), complex)}, "has one channel"),
        ({"band": band("lateral")}, "is cut lateral; the right column needs one cut right"),
    ],
)
def test_what_is_no_pair_is_refused(change, message):
    left, right = fits_of(generator(), reference=None)
    with pytest.raises(ValueError, match=message):
        channel_matrix(left, replace(right, **change))


def test_a_band_that_cannot_tell_polarity_is_refused():
    with pytest.raises(ValueError, match="a lateral or vertical one tells polarity"):
        channel_polarity(tone("left", [1.0, 0.01]))
    with pytest.raises(ValueError, match=r"differ by -40\.0 dB"):
        channel_polarity(tone("lateral", [1.0, 0.01]))
