"""The parts that pages are put together from, rendered in one page."""

import re
from pathlib import Path

import pytest
from django import forms
from django.template import engines

from groovewright.measurement.conformity import DecisionRule, Tolerance, decide
from groovewright.measurement.quantity import Quantity
from groovewright.web.frame.icons import ICONS, icon_svg
from groovewright.web.frame.verdict_scale import verdict_scale

RULE = DecisionRule("guarded acceptance")
LIMITS = Tolerance(-0.5, 0.5, "mm")
REFUSAL = "1.85 kg is not a force here; write 1.85 g or 18.1 mN."


def length(value_mm, uncertainty_mm):
    return Quantity.measured(value_mm, "mm", standard_uncertainty=uncertainty_mm, source="rule")


class SampleForm(forms.Form):
    distance = forms.CharField(label="Pivot-to-spindle distance")
    force = forms.CharField(label="Tracking force")
    criterion = forms.ChoiceField(label="Criterion", choices=[("minimax", "Minimax")])

    def clean_force(self):
        raise forms.ValidationError(REFUSAL)


@pytest.fixture
def sample(rf):
    template = engines["django"].from_string((Path(__file__).parent / "sample.html").read_text())
    context = {
        "form": SampleForm({"distance": "222 mm <b>", "force": "1.85 kg", "criterion": "minimax"}),
        "length": length(239.2961, 0.31),
        "unknown": Quantity.unknown_uncertainty(17.3, "mm", why="no uncertainty was given"),
        "verdicts": [decide(length(*pair), LIMITS, RULE) for pair in ((0.0, 0.1), (0.9, 0.1), (0.45, 0.2))],
    }
    return template.render(context, rf.get("/"))


def test_a_wrong_entry_stays_in_the_field_with_what_would_be_right_beside_it(sample):
    field = sample[sample.index('id="field-id_force"') :]
    assert field.index('value="1.85 kg"') < field.index(REFUSAL)
    assert 'aria-invalid="true"' in field
    assert 'aria-describedby="id_force_error"' in field
    assert 'id="id_force_error"' in field


def test_what_was_typed_is_escaped(sample):
    assert "222 mm &lt;b&gt;" in sample


def test_a_quantity_shows_value_uncertainty_and_unit(sample):
    shown = re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", sample))
    assert "239.30 ± 0.31 mm" in shown
    assert "uncertainty not known" in shown


@pytest.mark.parametrize("outcome", ["in tolerance", "out of tolerance", "undecided"])
def test_each_verdict_has_its_word_and_its_own_shape(sample, outcome):
    assert f'data-icon="{outcome}"></svg>' not in sample
    assert icon_svg(outcome) + outcome in sample
    assert sum(ICONS[outcome] == drawing for drawing in ICONS.values()) == 1


def test_a_calculated_setting_has_a_shape_of_its_own():
    assert sum(ICONS["calculated"] == drawing for drawing in ICONS.values()) == 1


def test_no_script_is_inline(sample):
    assert all("src=" in tag for tag in re.findall(r"<script[^>]*>", sample))


def test_a_verdict_scale_is_true_to_scale():
    scale = verdict_scale(decide(length(0.25, 0.1), LIMITS, RULE))
    per_mm = scale.upper - scale.lower
    assert scale.measured - scale.lower == pytest.approx(0.75 * per_mm, abs=0.02)
    # 1.959964 standard uncertainties to either side hold 95 % of a normal distribution.
    assert scale.interval_end - scale.interval_start == pytest.approx(2 * 1.959964 * 0.1 * per_mm, abs=0.02)
    assert (scale.band_start, scale.band_width) == (scale.lower, pytest.approx(per_mm, abs=0.02))


def test_a_verdict_scale_with_one_limit_is_open_on_the_other_side():
    scale = verdict_scale(decide(length(0.25, 0.1), Tolerance(None, 0.5, "mm"), RULE))
    assert scale.lower is None
    assert scale.band_start < scale.interval_start < scale.measured < scale.upper


def test_a_verdict_scale_without_an_uncertainty_has_no_interval():
    unknown = Quantity.unknown_uncertainty(0.5, "mm", why="no uncertainty was given")
    scale = verdict_scale(decide(unknown, Tolerance(None, 0.5, "mm"), RULE))
    assert scale.interval_start is None
    assert scale.measured == scale.upper


def test_a_sentence_of_ours_has_the_minus_of_its_numbers_and_a_number_of_a_plate_its_hyphen(rf):
    verdict = decide(length(-2.92, 0.15), LIMITS, RULE)
    template = engines["django"].from_string(
        '{% include "frame/verdict.html" with brief=False %}{% include "frame/note.html" with text=note %}'
    )
    text = template.render({"verdict": verdict, "note": "Plate 47-2, 2031-03-02: at -0.5 mm."}, rf.get("/"))
    assert "−2.92 mm ± 0.15 mm lies outside −0.5 to 0.5 mm" in text
    assert "Plate 47-2, 2031-03-02: at −0.5 mm." in text
    assert not re.search(r"[\s>(]-\d", re.sub(r"<svg.*?</svg>", "", text, flags=re.DOTALL))
