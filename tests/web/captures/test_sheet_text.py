"""A sheet that is written out again says what it said."""

from groovewright.testtone.sheet.band_sheet import Band, BandSheet, read_band_sheet
from groovewright.web.captures.sheet_text import sheet_text


def test_every_entry_comes_back():
    bands = (
        Band('Tone, "outer" \u00e9', "tone", "left", (3150.0,), 5.0, (145.0, 141.0), 4.0, 40.0),
        Band("Two", "two-tone", "lateral", (60.0, 4000.0), (8.0, 2.0), (120.0, 119.0)),
        Band("Linear", "sweep", "vertical", (4.0, 25.0), None, (90.0, 87.0), None, 30.0, "hertz", True),
        Band("Quiet", "silence", "lateral", (), None, (80.0, 77.0), None, 30.0),
    )
    for angle_deg in (None, 22.5):
        sheet = BandSheet(True, 100 / 3, bands, angle_deg)
        assert read_band_sheet(sheet_text(sheet)) == sheet
