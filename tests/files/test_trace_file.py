"""Trace files: what spreadsheets save is read, and what cannot be meant is refused with its line."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from groovewright.files.trace_file import load_trace_file, read_trace_file

ARC = "radius_mm,deviation_mm,deviation_uncertainty_mm\n60.325,0.10,0.1\n100,-0.25,0.15\n146.05,0,0.1\n"
BOTH = (
    "radius_mm,deviation_mm,deviation_uncertainty_mm,angle_deg,angle_uncertainty_deg\n"
    "60.325,0.10,0.1,,\n"
    "66,0.05,0.1,0.3,0.2\n"
    "121,,,-0.1,0.2\n"
)


def arc_rows(text):
    read = read_trace_file(text, name="deck.csv")
    return [(r.radius_mm, r.deviation.value, r.deviation.standard_uncertainty) for r in read.arc_readings]


ROWS = [(60.325, 0.1, 0.1), (100.0, -0.25, 0.15), (146.05, 0.0, 0.1)]


def test_a_plain_file_is_read():
    assert arc_rows(ARC) == ROWS
    assert read_trace_file(ARC, name="deck.csv").null_readings == ()


def test_angles_stand_in_the_same_rows_or_in_rows_of_their_own():
    read = read_trace_file(BOTH, name="deck.csv")
    assert [reading.radius_mm for reading in read.arc_readings] == [60.325, 66.0]
    assert [(n.radius_mm, n.angle.value, n.angle.unit) for n in read.null_readings] == [
        (66.0, 0.3, "deg"),
        (121.0, -0.1, "deg"),
    ]


def test_every_reading_has_a_source_of_its_own():
    read = read_trace_file(BOTH, name="deck.csv")
    quantities = [r.deviation for r in read.arc_readings] + [n.angle for n in read.null_readings]
    labels = [source.label for quantity in quantities for source in quantity.components]
    assert len(set(labels)) == len(labels) == 4
    assert labels[0] == "reading beside the arc, line 2 of deck.csv"


@pytest.mark.parametrize(
    "text",
    [
        ARC.replace(",", ";"),
        ARC.replace(",", ";").replace(".", ","),
        ARC.replace(",", "\t"),
        ARC.replace(",", "\t").replace(".", ","),
        ARC.replace("\n", "\r\n"),
        ARC.replace("\n", "\r"),
        ARC.replace("\n", "\n\n"),
        ARC.replace("\n", ",,\n"),
        ARC.upper(),
        ARC.replace(",", " , "),
        '"radius_mm","deviation_mm","deviation_uncertainty_mm"\n"60.325","0.10","0.1"\n100,-0.25,0.15\n146.05,0,0.1',
        "\n" + ARC + ",,\n",
        ARC.replace("-", "\N{MINUS SIGN}"),
    ],
    ids=[
        "semicolons",
        "semicolons and decimal commas",
        "tabs",
        "tabs and decimal commas",
        "carriage returns and line feeds",
        "carriage returns",
        "empty lines",
        "empty columns",
        "capitals",
        "blanks",
        "quotes",
        "empty lines at both ends",
        "a true minus sign",
    ],
)
def test_what_spreadsheets_make_of_it_is_read_the_same(text):
    assert arc_rows(text) == ROWS


def test_columns_stand_in_any_order():
    assert arc_rows("deviation_uncertainty_mm,radius_mm,deviation_mm\n0.1,60.325,0.10\n") == ROWS[:1]


def test_a_byte_order_mark_is_no_part_of_the_first_column(tmp_path):
    path = tmp_path / "deck.csv"
    path.write_bytes(b"\xef\xbb\xbf" + ARC.encode())
    assert len(load_trace_file(path).arc_readings) == 3


HEADER = "radius_mm,deviation_mm,deviation_uncertainty_mm\n"


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "the file is empty; its first line names the columns: radius_mm, deviation_mm"),
        (" \n\n", "the file is empty"),
        (HEADER, "a header but no readings; write one a line below line 1"),
        ("radius_mm,deviation_mm\n60,0.1\n", "line 1: the header lacks deviation_uncertainty_mm; it needs"),
        ("60.325,0.1,0.1\n", 'line 1: the header has "60.325"; it may have radius_mm'),
        ("radius,deviation_mm,deviation_uncertainty_mm\n", 'line 1: the header has "radius"; did you mean radius_mm?'),
        ("radius_mm,,deviation_mm,deviation_uncertainty_mm\n", "line 1: the header has a column without a name"),
        ("radius_mm,radius_mm,deviation_mm,deviation_uncertainty_mm\n", "line 1: the header has radius_mm twice"),
        (
            "radius_mm,deviation_mm,deviation_uncertainty_mm,angle_deg\n",
            "line 1: the header lacks angle_uncertainty_deg; angle_deg and angle_uncertainty_deg go together",
        ),
        (HEADER + "60,0.1,0.1\n75,about 0.1,0.1\n", "line 3, deviation_mm: .*does not have a number"),
        (HEADER + "60 mm,0.1,0.1\n", 'line 2, radius_mm: "60 mm" must be a plain number'),
        (HEADER + '"60,325",0.1,0.1\n', "line 2, radius_mm: .*can be 60.325 or 60325"),
        (HEADER + "60,325,0,1,0,1\n", "line 2 has 6 cells where the header has 3; .*semicolons"),
        (HEADER + "60,0,05\n", 'line 2, deviation_uncertainty_mm: "05" looks like the end of a number with a decimal'),
        (HEADER + "60,0.1\n", "line 2 has deviation_mm but no deviation_uncertainty_mm"),
        (HEADER + "60,,0.1\n", "line 2 has deviation_uncertainty_mm but no deviation_mm"),
        (HEADER + ",0.1,0.1\n", "line 2 has no radius_mm"),
        (HEADER + "60,,\n", "line 2 has neither deviation_mm nor angle_deg"),
        (HEADER + "-60,0.1,0.1\n", "line 2, radius_mm: -60 is no groove radius"),
        (HEADER + "6032.5,0.1,0.1\n", "line 2, radius_mm: 6032.5 is no groove radius"),
        (HEADER + "60,0.1,0\n", "line 2, deviation_uncertainty_mm: 0 must be above 0 and at most 5 mm"),
        (HEADER + "60,0.1,100\n", "line 2, deviation_uncertainty_mm: 100 must be above 0 and at most 5 mm"),
        (HEADER + "60,nan,0.1\n", "line 2, deviation_mm: .*does not have a number"),
        (HEADER + "\n\n60,0.1,x\n", "line 4, deviation_uncertainty_mm"),
        (HEADER + "60,0.1,0.1\n" * 201, "line 202: a trace has 200 readings at most"),
        (HEADER.replace(",", ";") + "60.5;1.234,5;0,1\n", "line 2, deviation_mm: .*point or comma too many"),
    ],
)
def test_what_cannot_be_meant_is_refused_with_its_line(text, words):
    with pytest.raises(ValueError, match=words):
        read_trace_file(text, name="deck.csv")


@pytest.mark.parametrize(
    ("content", "words"),
    [
        ("radius_mm\n".encode("utf-16"), "deck.csv is not a text file in UTF-8; a trace file is plain text"),
        (b"PK\x03\x04\xff\xfe", "deck.csv is not a text file in UTF-8"),
        (b"x" * 100_001, "deck.csv is larger than 100 kB"),
        (b"", "deck.csv: the file is empty"),
    ],
)
def test_a_file_of_another_kind_is_refused_by_name(tmp_path, content, words):
    path = tmp_path / "deck.csv"
    path.write_bytes(content)
    with pytest.raises(ValueError, match=words):
        load_trace_file(path)


def test_a_file_that_is_not_there_is_refused(tmp_path):
    with pytest.raises(ValueError, match=r"none\.csv cannot be read: no such file"):
        load_trace_file(tmp_path / "none.csv")


@settings(max_examples=150, deadline=None)
@given(
    st.one_of(st.text(max_size=80), st.text(alphabet='0123456789.,;\t\n\r"- emx\x00', max_size=80).map(HEADER.__add__))
)
def test_any_text_is_read_or_refused_in_one_sentence(text):
    try:
        read = read_trace_file(text, name="deck.csv")
    except ValueError:
        return
    assert read.arc_readings or read.null_readings
