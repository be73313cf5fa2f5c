"""What the page lists of a capture, from what the record keeps of it."""

from types import SimpleNamespace

from groovewright.jobbook.capture_record import result_from_record, result_record
from groovewright.measurement.quantity import Quantity
from groovewright.testtone.capture.capture_result import CaptureResult, ListedQuantity
from groovewright.web.captures.results import result_groups

RECORDING = SimpleNamespace(form="WAV", sample_rate_hz=48_000.0, channel_count=2, frame_count=96_000, peak=0.5)


def kept(**quantities):
    return result_from_record(result_record(RECORDING, CaptureResult(quantities, {}, (), ())))


def test_the_distortions_of_both_channels_of_a_band_are_told_apart():
    entries = tuple(
        ListedQuantity(Quantity.exact(value, "%"), Quantity.exact(119.5, "mm"), "Tone", side)
        for side, value in (("left", 0.3), ("right", 0.4))
    )
    (group,) = result_groups(kept(total_harmonic_distortion=entries))
    assert [row.where for row in group.rows] == ["at 119.5 mm, Tone, left", "at 119.5 mm, Tone, right"]


def test_what_is_of_no_channel_alone_names_none():
    entry = ListedQuantity(Quantity.exact(0.3, "deg"), Quantity.exact(119.5, "mm"), "Tone")
    (group,) = result_groups(kept(tracking_error=(entry,)))
    assert [row.where for row in group.rows] == ["at 119.5 mm, Tone"]


def test_a_record_of_an_earlier_version_without_channels_is_read():
    record = result_record(RECORDING, CaptureResult({}, {}, (), ()))
    quantity = Quantity.exact(0.3, "%").as_record()
    record["quantities"] = {"total_harmonic_distortion": [{"quantity": quantity, "at": quantity, "band": "Tone"}]}
    (entry,) = result_from_record(record).quantities["total_harmonic_distortion"]
    assert entry.channel == ""
