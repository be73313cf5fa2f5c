"""What each file format promises beside its curves: page, fonts, layers, units, equal bytes."""

import io
import xml.etree.ElementTree as ET

import ezdxf
import numpy as np
import pytest
from pdfminer.high_level import extract_text
from pdfminer.pdfdocument import PDFDocument
from pdfminer.pdfpage import PDFPage
from pdfminer.pdfparser import PDFParser
from pdfminer.pdftypes import resolve1

from groovewright.plates.dxf import scene_to_dxf
from groovewright.plates.pdf import scene_to_pdf
from groovewright.plates.plate import draw_plate
from groovewright.plates.scene import Arc, Circle, Line, Placement, Polyline, Scene, Stroke, Text
from groovewright.plates.svg import scene_to_svg

THIN = Stroke(0.1)


@pytest.fixture
def everything():
    """Each kind of shape, an arc beyond half a turn among them, on scales that make ellipses of circles."""
    shapes = (
        Line((10, 10), (110, 10), "A", THIN),
        Polyline(((10, 20), (20, 30), (30, 20)), "A", THIN, closed=True),
        Arc((60, 60), 25, 30, 300, "B", THIN),
        Arc((0, 222), 239.3, -75, -53, "B", THIN),
        Circle((100, 50), 3.645, "B", THIN),
        Text((40, 90), "Löfgren 22.99° & <µm>", 4, "C"),
    )
    return Scene(150, 100, shapes, "Everything", Placement((7.0, 3.0), 1.004, 0.997))


def test_every_shape_is_found_within_a_micrometre(read, everything):
    true = [(curve.points - [7.0, 3.0]) * [1.004, 0.997] for curve in read(everything)]
    line, triangle, wide, long, hole = true
    np.testing.assert_allclose(line[[0, -1]], [(10, 10), (110, 10)], rtol=0, atol=1e-3)
    for corner in ((10, 20), (20, 30), (30, 20)):
        assert np.hypot(*(triangle - corner).T).min() < 1e-3
    for points, centre, radius, first, last in ((wide, (60, 60), 25, 30, 300), (long, (0, 222), 239.3, -75, -53)):
        bearings = np.degrees(np.unwrap(np.arctan2(*(points - centre).T[::-1])))
        np.testing.assert_allclose(np.hypot(*(points - centre).T), radius, rtol=0, atol=1e-3)
        sweep = abs(bearings[-1] - bearings[0])
        assert sweep == pytest.approx(last - first, abs=1e-3)
        assert min(bearings[0] % 360, bearings[-1] % 360) == pytest.approx(min(first % 360, last % 360), abs=1e-3)
    np.testing.assert_allclose(np.hypot(*(hole - (100, 50)).T), 3.645, rtol=0, atol=1e-3)


@pytest.mark.parametrize("write", [scene_to_pdf, scene_to_svg, scene_to_dxf])
def test_the_same_request_gives_the_same_bytes(plate_for, write):
    assert write(draw_plate(plate_for("cut"))) == write(draw_plate(plate_for("cut")))


@pytest.mark.parametrize(("paper", "width_mm", "height_mm"), [("A4", 297, 210), ("Letter", 279.4, 215.9)])
def test_the_page_is_the_paper_whatever_the_scales(plate_for, paper, width_mm, height_mm):
    scene = draw_plate(plate_for(paper=paper, scale_x=1.004, scale_y=1.01))
    document = PDFDocument(PDFParser(io.BytesIO(scene_to_pdf(scene))))
    (page,) = PDFPage.create_pages(document)
    np.testing.assert_allclose(page.mediabox, [0, 0, width_mm / 25.4 * 72, height_mm / 25.4 * 72], rtol=0, atol=1e-3)
    root = ET.fromstring(scene_to_svg(scene))
    assert (root.get("width"), root.get("height")) == (f"{width_mm:g}mm", f"{height_mm:g}mm")
    assert root.get("viewBox") == f"0 0 {width_mm:g} {height_mm:g}"


def test_the_pdf_asks_for_no_scaling_and_embeds_every_font(plate_for):
    pdf = scene_to_pdf(draw_plate(plate_for("cut")))
    document = PDFDocument(PDFParser(io.BytesIO(pdf)))
    assert resolve1(document.catalog["ViewerPreferences"])["PrintScaling"].name == "None"
    (page,) = PDFPage.create_pages(document)
    fonts = [resolve1(font) for font in resolve1(page.resources["Font"]).values()]
    assert {font["BaseFont"].name.split("+")[-1] for font in fonts} == {
        "SourceSansPro-Regular",
        "SourceSansPro-Semibold",
    }
    for font in fonts:
        assert len(resolve1(resolve1(font["FontDescriptor"])["FontFile2"]).get_data()) > 1000


def test_an_arc_bends_at_most_15_degrees_per_bezier():
    scene = Scene(100, 100, (Arc((50, 50), 40, 0, 46, "A", THIN),), "Arc")
    document = PDFDocument(PDFParser(io.BytesIO(scene_to_pdf(scene))))
    (page,) = PDFPage.create_pages(document)
    content = b"".join(resolve1(stream).get_data() for stream in page.contents)
    assert content.split().count(b"c") == 4


def test_the_words_tell_the_target_and_the_correction(plate_for):
    request = plate_for(scale_x=1.004, scale_y=0.997, number="GW-0042")
    text = extract_text(io.BytesIO(scene_to_pdf(draw_plate(request))))
    for words in (
        "Plate GW-0042",
        "Least peak of error over radius",
        "60.325 to 146.05 mm",
        "222.00 mm",
        "239.30 mm",
        "17.30 mm",
        "22.99°",
        "65.998 and 120.891 mm",
        "7.29 mm",
        "1.0040, 0.9970",
        "corrected",
        "check both bars",
    ):
        assert words in text


def test_only_the_cutting_plate_warns_of_blades_and_laser_light(plate_for):
    words = {
        kind: extract_text(io.BytesIO(scene_to_pdf(draw_plate(plate_for(kind))))) for kind in ("arc", "two-null", "cut")
    }
    assert "laser" in words["cut"]
    assert "laser" not in words["arc"] + words["two-null"]
    assert all("Mute the amplifier" in text for text in words.values())


def test_the_cutting_file_is_clean_and_keeps_what_is_cut_etched_and_drilled_apart(plate_for):
    document = ezdxf.read(io.StringIO(scene_to_dxf(draw_plate(plate_for("cut", spindle_clearance_mm=0.08))).decode()))
    assert document.dxfversion == "AC1024"
    assert document.units == ezdxf.units.MM
    assert not document.audit().has_errors
    on = {layer: document.modelspace().query(f'*[layer=="{layer}"]') for layer in ("CUT", "ETCH", "DRILL")}
    assert sum(map(len, on.values())) == len(document.modelspace())
    (hole,) = on["DRILL"]
    assert hole.dxftype() == "CIRCLE"
    assert 2 * hole.dxf.radius == pytest.approx(7.32, abs=1e-9)
    assert sorted(entity.dxftype() for entity in on["CUT"]) == ["ARC"] * 4 + ["LINE"] * 4
    assert {"ARC", "LINE", "TEXT"} <= {entity.dxftype() for entity in on["ETCH"]}


def test_the_edge_to_cut_is_one_closed_loop(plate_for):
    document = ezdxf.read(io.StringIO(scene_to_dxf(draw_plate(plate_for("cut"))).decode()))
    ends = []
    for entity in document.modelspace().query('*[layer=="CUT"]'):
        pair = (
            (entity.dxf.start, entity.dxf.end) if entity.dxftype() == "LINE" else (entity.start_point, entity.end_point)
        )
        ends += [(round(point.x, 6), round(point.y, 6)) for point in pair]
    assert len(ends) == 16
    assert all(ends.count(end) == 2 for end in ends)


def test_unequal_scales_make_true_ellipses_in_the_cutting_file(plate_for):
    scene = draw_plate(plate_for("cut", scale_x=1.004, scale_y=0.997))
    document = ezdxf.read(io.StringIO(scene_to_dxf(scene).decode()))
    (hole,) = document.modelspace().query('*[layer=="DRILL"]')
    assert hole.dxftype() == "ELLIPSE"
    assert hole.dxf.major_axis.magnitude == pytest.approx(7.29 / 2 / 0.997, abs=1e-9)
    assert hole.dxf.ratio == pytest.approx(0.997 / 1.004, abs=1e-9)


def test_the_svg_escapes_words_and_reaches_for_nothing_outside(everything):
    svg = scene_to_svg(everything)
    root = ET.fromstring(svg)
    assert "Löfgren 22.99° & <µm>" in [element.text for element in root.iter()]
    assert "href" not in svg
    assert svg.count("http") == 1, "only the namespace"
    assert [group.get("id") for group in root if group.tag.endswith("}g")] == ["A", "B", "C"]
