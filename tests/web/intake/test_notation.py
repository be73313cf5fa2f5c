"""One notation on every page: a bare number has the unit that its field shows, and a decimal comma will do."""

import pytest
from django import forms

from groovewright.jobbook.models import Reading, ScaleCheck
from groovewright.measurement.units import GRAM_FORCE_MN, printed_unit
from groovewright.web.bench.kinds import KINDS
from groovewright.web.bench.move_form import MoveForm
from groovewright.web.bench.reading_form import ReadingForm, field_of
from groovewright.web.bench.scale_check_form import ScaleCheckForm, read_indications
from groovewright.web.bench.trace_form import TraceForm
from groovewright.web.choose.forms import ChooseForm
from groovewright.web.gauges_page.forms import ComparisonForms, starting_entries
from groovewright.web.intake.forms import NewOwnerJobForm
from groovewright.web.intake.limits_field import LimitsField, ReachField, ValueField, typed_reach
from groovewright.web.intake.quantity_field import NumberField, QuantityField, RangeField, typed_again
from groovewright.web.plates_page.forms import PlateForm, PrintCheckForm
from groovewright.web.workshop.forms import GaugeForm, ScaleForm

FORMS = (NewOwnerJobForm, ChooseForm, PlateForm, PrintCheckForm, ScaleForm, GaugeForm)


def quantity_fields():
    for form in FORMS:
        yield from ((f"{form.__name__}.{name}", field) for name, field in form.base_fields.items())
    for form in (ReadingForm, TraceForm):
        yield from ((f"{form.__name__}.{name}", field) for name, field in form.base_fields.items())
    yield from ((f"MoveForm.{name}", field) for name, field in MoveForm().fields.items())
    yield from ((f"reading of {kind}", field_of(of, "reading")) for kind, of in KINDS.items())
    for form in ComparisonForms(starting_entries()).all:
        yield from form.fields.items()


FIELDS = [(name, field) for name, field in quantity_fields() if isinstance(field, QuantityField | RangeField)]


@pytest.mark.parametrize(("name", "field"), FIELDS, ids=[name for name, _ in FIELDS])
def test_an_empty_field_shows_the_unit_of_a_bare_number_and_reads_its_own_example(name, field):
    shown = field.widget.attrs["placeholder"]
    assert shown.endswith((field.show_unit, printed_unit(field.show_unit))), name
    assert field.clean(shown) is not None
    bare = shown.removesuffix(printed_unit(field.show_unit)).removesuffix(field.show_unit).strip()
    assert without_words(field.clean(bare)) == without_words(field.clean(shown)), name
    # 60,325 could be sixty thousand and is refused; with one digit less it could not.
    text = bare.replace("60.325", "60.32")
    assert without_words(field.clean(text.replace(".", ","))) == without_words(field.clean(text)), name


def without_words(read):
    return (read.value, read.unit, read.standard_uncertainty) if hasattr(read, "unit") else read


def test_fields_were_found():
    assert len(FIELDS) > 70


@pytest.mark.parametrize(
    ("typed", "kept", "grams"),
    [("1,95", "1,95 g", 1.95), ("1.95 +- 0.01", "1.95 +- 0.01 g", 1.95), ("19 mN", "19 mN", 19 / GRAM_FORCE_MN)],
)
def test_a_reading_is_kept_with_the_unit_that_its_field_showed(client, bench, typed, kept, grams):
    entry = {"kind": "tracking_force", "stage": "as left", "place": "outer", "scale": bench.scale.pk, "entry": typed}
    assert client.post(f"/jobs/{bench.job.number}/bench/readings/", entry).status_code == 302
    reading = Reading.objects.latest("pk")
    assert (reading.text, reading.quantity.value) == (kept, pytest.approx(grams * GRAM_FORCE_MN))
    page = client.get(f"/jobs/{bench.job.number}/bench/?corrects={reading.pk}").content.decode()
    assert f'value="{kept}"' in page


@pytest.mark.parametrize(
    ("kind", "typed", "kept"),
    [
        ("azimuth_rotation", "-0,6 ± 0,2", "-0,6 ± 0,2 deg"),
        ("azimuth_rotation", "0.4 within 0.3", "0.4 within 0.3 deg"),
        ("compensation_force", "1,4(0,2)", "1,4(0,2) mN"),
        ("friction_coefficient", "0,3 ± 0,05", "0,3 ± 0,05"),
    ],
)
def test_so_is_a_reading_at_the_bench(client, bench, kind, typed, kept):
    entry = {"kind": kind, "stage": "as left", "entry": typed, "radius": ""}
    assert client.post(f"/jobs/{bench.job.number}/bench/readings/", entry).status_code == 302
    assert Reading.objects.latest("pk").text == kept


def test_a_list_of_indications_is_in_grams_unless_it_says_otherwise():
    assert [value for _, value in read_indications("2,01; 2,02")] == pytest.approx(
        [2.01 * GRAM_FORCE_MN, 2.02 * GRAM_FORCE_MN]
    )
    assert read_indications("19,6; 19,7 mN") == [("19,6 mN", 19.6), ("19,7 mN", 19.7)]


def test_a_scale_is_checked_with_decimal_commas(client, bench):
    check = {"scale": bench.scale.pk, "when": "before", "accuracy_class": "M1", "load_1": "empty", "shown_1": "0; 0,00"}
    check |= {"load_2": "2", "shown_2": "2,01; 2,00", "load_3": "1 + 0,5", "shown_3": "1,50 1,51"}
    answer = client.post(f"/jobs/{bench.job.number}/bench/scale-check/", check)
    assert answer.status_code == 302
    texts = [load["text"] for load in ScaleCheck.objects.latest("pk").readings]
    assert texts == ["0 g", "0,00 g", "2,01 g", "2,00 g", "1,50 g", "1,51 g"]


def test_every_load_of_a_scale_check_shows_its_unit():
    form = ScaleCheckForm()
    for load, shown in form.rows:
        assert load.field.widget.attrs["placeholder"].endswith(" g")
        assert shown.field.widget.attrs["placeholder"].endswith(" g")


def test_limits_and_ways_take_every_notation_of_a_range():
    limits = LimitsField("angle", example="-0.5:0.5 deg", lowest=-9, highest=9)
    assert limits.clean("±0,5") == limits.clean("-0.5 to 0.5 deg") == (-0.5, 0.5)
    assert limits.clean(":0,5") == (None, 0.5)
    assert limits.clean("-0,5:") == (-0.5, None)
    way = ReachField("force", example="-1:1 mN", lowest=-50, highest=50, show_unit="mN")
    assert way.clean("-0,5:1") == (-0.5, 1.0)
    assert way.clean(typed_reach((-0.5, 1.0), "force", unit="mN")) == (-0.5, 1.0)
    assert ValueField("force", example="1.9 g").clean("2") == pytest.approx(2 * GRAM_FORCE_MN)


def test_a_bare_entry_is_typed_again_with_its_unit():
    in_grams = QuantityField("force", source="hand", example="1 g")
    in_mn = QuantityField("force", source="hand", example="1 mN", show_unit="mN")
    first = in_grams.clean("2,0 ± 0,1 (k=2)")
    assert typed_again(first) == "2,0 ± 0,1 g (k=2)"
    assert in_mn.clean(typed_again(first)) == first


def test_a_plain_number_takes_a_comma_and_the_unit_beside_it():
    hours = NumberField(label="Hours", example="300", lowest=0, highest=999, outside="No.", unit_beside="h")
    assert hours.clean("12,5") == hours.clean("12.5 h") == 12.5
    whole = NumberField(label="Places", example="8", lowest=3, highest=50, outside="A whole number.", whole=True)
    assert whole.clean("8,0") == 8
    for field, text in ((hours, "1000"), (hours, "1,234"), (hours, "12 s"), (whole, "8,5"), (whole, "eight")):
        with pytest.raises(forms.ValidationError):
            field.clean(text)
