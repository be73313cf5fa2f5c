import json
import re

import ezdxf
import pytest
from click.testing import CliRunner
from pdfminer.high_level import extract_text
from pdfminer.pdfpage import PDFPage

from groovewright.cli.main import main
from groovewright.cli.output import probability_text
from groovewright.tonearm.resonance import resonance_frequency

SHEET = """
[scale]
name = "Scale 2"
resolution = "0.01 g"
[[weights]]
name = "2 g"
nominal = "2 g"
class = "M1"
[[weights]]
name = "1 g"
nominal = "1 g"
class = "M1"
[[check_before.loads]]
weights = []
indications = ["0.00 g", "0.00 g", "0.00 g"]
[[check_before.loads]]
weights = ["1 g"]
indications = ["1.00 g", "1.01 g", "1.00 g"]
[[check_before.loads]]
weights = ["2 g"]
indications = ["2.01 g", "2.01 g", "2.00 g"]
[[readings]]
place = "outer"
at_record_height = true
indications = ["1.82 g", "1.81 g", "1.81 g"]
[[readings]]
place = "inner"
at_record_height = true
indications = ["1.80 g", "1.80 g", "1.81 g"]
[maker]
minimum = "1.6 g"
maximum = "2.0 g"
"""


def run(*words):
    result = CliRunner().invoke(main, [str(word) for word in words])
    assert result.exit_code == 0, result.stderr
    assert result.stderr == ""
    return result.stdout


def plate(out, *words):
    return json.loads(run("plate", "--pivot-to-spindle", "222mm", "--out", out, "--json", *words))


def test_pdf_plate_is_one_page_of_the_paper_with_its_number(tmp_path):
    out = tmp_path / "plate.pdf"
    found = plate(out)
    with out.open("rb") as stream:
        (page,) = PDFPage.get_pages(stream)
    assert sorted(page.mediabox[2:]) == pytest.approx([210 / 25.4 * 72, 297 / 25.4 * 72], abs=0.01)
    assert found["number"] in extract_text(out)
    assert found["file"] == str(out)


def test_svg_and_dxf_plates_can_be_read(tmp_path):
    plate(tmp_path / "plate.svg")
    assert re.search(r'width="297(\.0)?mm"', (tmp_path / "plate.svg").read_text(encoding="utf-8"))
    plate(tmp_path / "cut.dxf", "--kind", "cut")
    drawing = ezdxf.readfile(tmp_path / "cut.dxf")
    assert not drawing.audit().has_errors
    assert len(drawing.modelspace()) > 0


def test_ending_and_paper_may_be_typed_in_either_case(tmp_path):
    assert plate(tmp_path / "PLATE.SVG", "--paper", "letter")["paper"] == "Letter"


def test_corrected_plate_has_a_new_number_and_both_factors(tmp_path):
    plain = plate(tmp_path / "a.pdf")
    corrected = plate(tmp_path / "b.pdf", "--scale-x", "1.0040", "--scale-y", "0,9970")
    assert (plain["scale_x"], plain["scale_y"]) == (1.0, 1.0)
    assert (corrected["scale_x"], corrected["scale_y"]) == (1.004, 0.997)
    assert corrected["number"] != plain["number"]
    assert plate(tmp_path / "c.pdf")["number"] == plain["number"]


def test_plate_replaces_an_older_file_and_leaves_nothing_beside_it(tmp_path):
    out = tmp_path / "plate.svg"
    out.write_text("old", encoding="utf-8")
    plate(out)
    assert "old" not in out.read_text(encoding="utf-8")[:20]
    assert list(tmp_path.iterdir()) == [out]


def test_cautions_go_with_the_plate(tmp_path):
    words = ("plate", "--pivot-to-spindle", "222mm", "--out")
    assert "blade or laser" in run(*words, tmp_path / "a.dxf", "--kind", "cut")
    assert "100 %" in run(*words, tmp_path / "a.pdf", "--kind", "two-null")


def test_force_gives_every_figure_of_the_sheet(tmp_path):
    sheet = tmp_path / "readings.toml"
    sheet.write_text(SHEET, encoding="utf-8")
    found = json.loads(run("force", sheet, "--json"))
    for name, unit in [
        ("scale_offset", "mN"),
        ("tracking_force", "mN"),
        ("outer_inner_difference", "mN"),
    ]:
        assert set(found[name]) == {"value", "unit", "standard_uncertainty"}
        assert found[name]["unit"] == unit
        assert found[name]["standard_uncertainty"] > 0
    assert found["scale_gain"]["value"] == pytest.approx(1.003, abs=0.003)
    # The mean of what was shown, less what the scale showed too much at 2 g, in proportion.
    assert found["tracking_force"]["value"] == pytest.approx(1.808 / 1.003 * 9.80665, abs=0.03)
    assert found["outer_inner_difference"]["value"] == pytest.approx(0.01 * 9.80665, abs=0.02)
    assert found["verdict"] == "in tolerance"
    assert 0.99 < found["probability_of_conformity"] <= 1
    assert "Guarded acceptance" in found["rule"]


def test_force_table_shows_grams_first(tmp_path):
    sheet = tmp_path / "readings.toml"
    sheet.write_text(SHEET, encoding="utf-8")
    table = run("force", sheet)
    assert re.search(r"tracking force +1\.80\d+ g ± 0\.00\d+ g \(17\.\d+ mN\)", table)
    assert re.search(r"verdict +in tolerance", table)


def test_force_without_a_range_has_no_verdict(tmp_path):
    sheet = tmp_path / "readings.toml"
    sheet.write_text(SHEET.partition("[maker]")[0], encoding="utf-8")
    found = json.loads(run("force", sheet, "--json"))
    assert found["verdict"] is None
    assert found["probability_of_conformity"] is None
    assert "no maker's range" in run("force", sheet)


def test_resonance_of_20_g_on_12_um_per_mn():
    found = json.loads(run("resonance", "--mass", "20 g +- 1 g", "--compliance", "12 um/mN +- 1 um/mN", "--json"))
    # f = 159.155 / sqrt(M C), so u(f) / f is half the root of the summed squares of the relative uncertainties.
    assert found["resonance_frequency"]["value"] == pytest.approx(10.27, abs=0.005)
    relative = 0.5 * ((1 / 20) ** 2 + (1 / 12) ** 2) ** 0.5
    assert found["resonance_frequency"]["standard_uncertainty"] == pytest.approx(10.27 * relative, rel=2e-3)
    assert found["verdict"] == "in tolerance"


def test_resonance_without_uncertainties_is_not_shown():
    found = json.loads(run("resonance", "--mass", "20g", "--compliance", "12um/mN", "--json"))
    assert found["resonance_frequency"]["standard_uncertainty"] is None
    assert found["verdict"] == "undecided"


def test_compliance_quoted_at_100_hz_is_never_taken_silently():
    words = ("resonance", "--mass", "20 g +- 1 g", "--compliance", "12 um/mN +- 1 um/mN", "--quoted-at", "100hz")
    found = json.loads(run(*words, "--json"))
    # Between 1.5 and 2 times the compliance: 1.75 in the middle.
    expected = resonance_frequency(mass_g=20, compliance_um_mn=12 * 1.75)
    assert found["resonance_frequency"]["value"] == pytest.approx(expected)
    assert any("100 Hz" in note for note in found["notes"])
    assert "100 Hz" in run(*words)


@pytest.mark.parametrize(
    ("probability", "text"),
    [(0.0, "under 0.1 %"), (0.0004, "under 0.1 %"), (0.6626, "66.3 %"), (0.99999, "over 99.9 %"), (1.0, "over 99.9 %")],
)
def test_probability_is_never_printed_as_certainty(probability, text):
    assert probability_text(probability) == text
