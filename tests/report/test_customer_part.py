"""The customer's part: two pages, the joint state and nothing else, plain words."""

from __future__ import annotations

import datetime
import re
from dataclasses import replace

import pytest

from groovewright.bench.estimate.settings import SETTINGS
from groovewright.measurement.conformity import UNDECIDED
from groovewright.measurement.formatting import split_quantity
from groovewright.report.customer import (
    NOT_LEFT,
    answer,
    come_back,
    done,
    setting_rows,
    still_open,
    to_the_ear,
)
from groovewright.report.layout import lay_out, picture_files, with_short_texts
from groovewright.report.parts import HandOver, Photo
from groovewright.report.pdf import TEMPLATES, customer_pages, report_pdf, template_source
from groovewright.report.pictures import printable_photo

pytestmark = pytest.mark.django_db

CUSTOMER = HandOver(
    part="customer",
    done=("Cleaned the stylus.",),
    parts_fitted=("Belt, 590 mm",),
    time_spent="2 h 30 min",
    come_back_hours=500,
    come_back_on=datetime.date(2032, 5, 4),
)
DEMO_JOBS = range(1, 11)
JARGON = re.compile(
    r"standard uncertaint|typical error|95 %|probability|interval|variance|read it again|read again|measure better|"
    r"do not adjust|report it|calibrat",
    re.IGNORECASE,
)


def pages_of(contents):
    from io import BytesIO

    from pdfminer.pdfpage import PDFPage

    return len(list(PDFPage.get_pages(BytesIO(report_pdf(contents)))))


def of_customer(contents, **more):
    return replace(contents, words=replace(CUSTOMER, **more))


@pytest.mark.parametrize("number", DEMO_JOBS)
@pytest.mark.parametrize("paper", ["a4", "us-letter"])
def test_it_has_two_pages_at_most_and_says_all_on_the_first(demo, number, paper):
    contents = of_customer(demo.contents[number], paper=paper)
    files = {name: template_source(name) for name in TEMPLATES}
    assert pages_of(contents) == 1
    drawn, said, ends = customer_pages(lay_out(contents), files)
    assert drawn <= said <= ends <= 2


@pytest.mark.parametrize("number", DEMO_JOBS)
def test_its_values_and_verdicts_are_those_of_the_job_state(demo, number, words_of):
    contents = of_customer(demo.contents[number])
    words = words_of(report_pdf(contents))
    state = contents.state
    for deck in (state.as_found, state.as_left):
        for setting in () if deck is None else deck.settings:
            assert SETTINGS[setting.key].title in words
            if setting.quantity is None:
                assert setting.basis in words
                continue
            value, _, unit = split_quantity(setting.quantity, "g" if setting.key == "tracking_force" else None)
            assert f"{value}{'' if unit == '°' else ' '}{unit}".replace("-", "−") in words
            assert setting.outcome in words
    assert (NOT_LEFT in words) is (state.as_left is None)
    if state.as_left is None:
        assert "As left:" not in words


@pytest.mark.parametrize("number", DEMO_JOBS)
def test_each_row_shows_both_stages_of_one_setting(demo, number):
    state = demo.contents[number].state
    for k, row in enumerate(setting_rows(demo.contents[number])):
        found = state.as_found.settings[k]
        assert row["title"] == SETTINGS[found.key].title
        assert row["found"]["verdict"] == ("" if found.verdict is None else found.verdict.outcome)
        if state.as_left is None:
            assert row["left"] is None
        else:
            left = state.as_left.settings[k]
            assert row["left"]["verdict"] == ("" if left.verdict is None else left.verdict.outcome)
            assert row["left"]["basis"] == ("calculated" if left.basis == "calculated" else "")


@pytest.mark.parametrize("number", DEMO_JOBS)
def test_it_speaks_plainly_and_asks_nothing_of_a_bench(demo, number, words_of):
    words = words_of(report_pdf(of_customer(demo.contents[number])))
    assert JARGON.search(words) is None


def test_what_is_calculated_is_shown_as_such_and_never_as_in_tolerance(demo):
    contents = demo.contents[10]
    rows = {row["title"]: row["left"] for row in setting_rows(contents)}
    assert rows["Tracking force"]["basis"] == "calculated"
    assert rows["Tracking force"]["verdict"] == UNDECIDED
    assert "Tracking force: calculated after an adjustment, not measured again since." in still_open(contents)


def test_it_tells_the_ear_with_a_figure_before_and_after(demo):
    said = to_the_ear(demo.full)
    found, left = (demo.full.grooves[stage].peak_distortion for stage in ("as found", "as left"))
    assert f"was {found.value:.1f} % ({found.low:.1f} to {found.high:.1f} %) as the player came in" in said
    assert f"is {left.value:.1f} % ({left.low:.1f} to {left.high:.1f} %) now" in said
    assert said.count(".") - len(re.findall(r"\d\.\d", said)) == 1
    assert to_the_ear(demo.empty) == ""
    assert "is taken to be right" in to_the_ear(demo.contents[2])


def test_what_is_undecided_is_told_with_its_reason(demo):
    sentences = still_open(demo.contents[9])
    assert sentences == ["Azimuth: too near a limit to tell with the gauges used."]
    assert "Side force, zenith, azimuth, stylus rake angle and vertical tracking angle: not measured." in still_open(
        demo.contents[2]
    )
    assert still_open(demo.empty) == [
        "Effective length, side force and zenith: no targets were chosen to judge it by.",
        "Tracking force, azimuth, stylus rake angle and vertical tracking angle: not measured.",
    ]


def test_readings_that_disagree_are_both_named(demo):
    from groovewright.bench.estimate.disagreement import Disagreement

    contents = demo.contents[9]
    conflict = Disagreement(
        "They disagree.", ("side-view gauge, reading 1", "capture 2"), ("azimuth_rotation",) * 2, ("azimuth",), False
    )
    state = replace(contents.state, as_found=replace(contents.state.as_found, disagreements=(conflict,)))
    assert still_open(replace(contents, state=state)) == [
        "Azimuth: side-view gauge, reading 1 and capture 2 do not agree."
    ]


def test_the_answer_and_the_work_are_in_one_line_each(demo):
    assert answer(demo.full) == "As left: all seven in tolerance."
    assert done(replace(demo.full, words=CUSTOMER))[0] == "Cleaned the stylus."
    assert done(demo.full)[-1].startswith("Adjusted: the place of the cartridge in the headshell, ")


def test_a_fault_is_told_without_what_it_asks_of_the_bench(demo):
    by_hand, shown = demo.contents[2].faults
    assert by_hand == "The arm cable is stiff and pulls on the arm near the centre."
    assert shown.startswith("The tracking force is 0.16")
    assert shown.count(". ") == 0
    # The scale is the workshop's own.
    assert demo.contents[3].state.now.faults != ()
    assert demo.contents[3].faults == ()


@pytest.mark.parametrize(
    ("hours", "on", "expected"),
    [
        (None, None, ""),
        (500, None, "Come back after 500 more hours of playing (the stylus will then have played 820 hours)."),
        (None, datetime.date(2032, 5, 4), "Come back by 4 May 2032."),
    ],
)
def test_when_to_come_back_is_by_hours_or_by_a_day(demo, hours, on, expected):
    assert come_back(replace(demo.full, words=HandOver(come_back_hours=hours, come_back_on=on))) == expected


def test_what_was_typed_is_printed(demo, words_of):
    words = words_of(report_pdf(of_customer(demo.full)))
    for expected in (
        "Tern Lane Record Bench",
        "14 Tern Lane",
        "Cleaned the stylus.",
        "Belt, 590 mm",
        "2 h 30 min",
        "or by 4 May 2032, whichever is sooner.",
    ):
        assert expected in words, expected


LONG = "Voices spit on the last two tracks of nearly every side, worse on the right. " * 25


@pytest.mark.parametrize("paper", ["a4", "us-letter"])
def test_long_words_many_faults_and_photos_stay_on_two_pages(demo, picture, paper, words_of):
    photos = tuple(Photo(printable_photo(picture(400, 300 + 100 * k), "p"), LONG[:150]) for k in range(6))
    worst = replace(
        of_customer(demo.contents[10], done=(LONG[:300],) * 12, paper=paper, part="both"),
        complaint=LONG,
        owner="x" * 300,
        faults=(LONG[:300],) * 9,
        photos=photos,
    )
    document = report_pdf(worst)
    assert "Technical part" in words_of(document, 2)
    first = words_of(document, 0)
    assert "Vertical tracking angle" in first
    assert "in full in the technical part" in first
    assert LONG.strip() in words_of(document, 2, 3)


def test_a_long_complaint_is_cut_between_words_and_says_where_it_is_whole(demo):
    tree = lay_out(of_customer(replace(demo.full, complaint=LONG)))
    short = with_short_texts(tree, max_length=100, max_items=3)["customer"]["complaint"]
    assert short.endswith("… (in full in the job's record)")
    assert LONG.startswith(short.removesuffix("… (in full in the job's record)"))


def test_photos_that_were_chosen_appear_with_their_captions(demo, picture, words_of):
    from io import BytesIO

    from pdfminer.high_level import extract_pages
    from pdfminer.layout import LTContainer, LTImage

    def images(item):
        if isinstance(item, LTImage):
            return [item]
        return [one for child in item for one in images(child)] if isinstance(item, LTContainer) else []

    photos = tuple(Photo(printable_photo(picture(), "p.jpg"), f"Caption {k}") for k in range(2))
    contents = replace(of_customer(demo.full), photos=photos)
    document = report_pdf(contents)
    assert sum(len(images(page)) for page in extract_pages(BytesIO(document))) == 2
    assert "Caption 1" in words_of(document)
    assert set(picture_files(contents)) == {"photo-1.jpg", "photo-2.jpg"}
