import pytest

from groovewright.jobbook.job_facts import facts_of
from groovewright.jobbook.job_record import job_record
from groovewright.jobbook.models import Arm, Cartridge, Deck, Intake, Job, Owner
from groovewright.measurement.quantity import Quantity
from groovewright.web.intake.initial_values import initial_values
from groovewright.web.intake.quantity_field import QuantityField, RangeField, typed_again

ENTRY = {
    "owner_name": "Ilse Marwitz",
    "owner_contact": "Kelvin 4",
    "deck_description": "Belt drive, walnut plinth",
    "complaint": "harsh at the end of a side",
    "arm_description": "Nine-inch arm",
    "arm_kind": "offset",
    "effective_mass": "12 g +- 0.5 g",
    "drawn_effective_length": "8 3/4 in",
    "length_limits": "215:230 mm",
    "cartridge_description": "Moving magnet",
    "force_range": "1.6:2.2 g",
    "compliance": "15 um/mN",
    "compliance_at": "100",
    "cartridge_mass": "6,5 g",
    "groove": "7 inch|IEC 98:1987",
    "speed": "33 1/3 rpm",
    "length_tolerance": "-0.4:0.6 mm",
    "decision_rule": "guarded rejection",
    "risk": "2.5 %",
}
AGAIN = {name: text for name, text in ENTRY.items() if not name.startswith("owner") and name != "complaint"}


def test_one_form_enters_owner_deck_arm_cartridge_and_facts(client, db):
    answer = client.post("/jobs/new/", ENTRY)
    job = Job.objects.get()
    assert answer["Location"] == f"/jobs/{job.number}/choose/"
    assert job.deck.owner.name == "Ilse Marwitz"
    inputs = facts_of(job_record(job))
    assert inputs.arm.effective_length_limits_mm == (215, 230)
    assert inputs.arm.effective_mass.standard_uncertainty == pytest.approx(0.5)
    assert inputs.cartridge.force_minimum.value == pytest.approx(1.6 * 9.80665)
    assert inputs.cartridge.compliance_quoted_at_hz == 100
    assert (inputs.length_tolerance.lower, inputs.length_tolerance.upper) == (-0.4, 0.6)
    assert inputs.rule.kind == "guarded rejection"
    # One-sided 2.5 % of the normal distribution, from any table of it.
    assert inputs.rule.guard_factor == pytest.approx(1.95996, abs=5e-6)
    assert inputs.rule.maximum_risk == pytest.approx(0.025)
    intake = job.intakes.get()
    assert (intake.innermost_mm, intake.outermost_mm, intake.speed_rpm) == (53.0, 84.15, pytest.approx(100 / 3))
    assert intake.arm.drawn_effective_length.value == pytest.approx(222.25)


@pytest.mark.parametrize(
    ("name", "text", "sentence"),
    [
        ("deck_description", "", "Say which deck it is."),
        ("effective_mass", "twelve", "write it like 12 g"),
        ("effective_mass", "12 mm", "a mass such as 12 g is needed here"),
        ("drawn_effective_length", "-222 mm", "outside what can be right here: 100 mm to 500 mm"),
        ("force_range", "1,600:2,200", "can be 1.600 or 1600"),
        ("force_range", "160:220", "outside what can be right here: 0.102 g to 10.2 g"),
        ("force_range", "2.2:1.6 g", "smaller end first"),
        ("force_range", "160:220 g", "outside what can be right here"),
        ("compliance", "1,200", "can be 1.200 or 1200"),
        ("speed", "0 rpm", "outside what can be right here"),
        ("length_tolerance", "0.5 mm", "is not a range"),
        ("risk", "80 %", "outside what can be right here"),
        ("stylus_hours", "many", "does not have a number where one is needed; write it like 300"),
        ("stylus_hours", "-1", "No stylus has played less than 0"),
        ("complaint", "x" * 5000, "at most 4000 characters"),
        ("arm_description", "y" * 301, "at most 300 characters"),
        ("record_thickness", "z" * 300, "at most 80 characters"),
    ],
)
def test_a_wrong_entry_keeps_all_that_was_typed(client, db, name, text, sentence):
    answer = client.post("/jobs/new/", ENTRY | {name: text})
    page = answer.content.decode()
    assert answer.status_code == 422
    assert sentence in page
    assert text in page
    for kept in (typed for other, typed in ENTRY.items() if other != name):
        assert kept in page
    assert not Job.objects.exists()
    assert not Owner.objects.exists()


def test_own_radii_and_a_fixed_length_need_their_values(client, db):
    entry = ENTRY | {"groove": "own", "length_fixed": "on", "drawn_effective_length": "", "length_limits": ""}
    page = client.post("/jobs/new/", entry).content.decode()
    assert "Own radii were chosen; write them like 60.325:146.05 mm." in page
    assert "was said to be fixed at the maker" in page


def test_text_of_the_owner_is_never_markup(client, db):
    entry = ENTRY | {"owner_name": '"><script>alert(1)</script>', "complaint": "</textarea><b>x"}
    page = client.post("/jobs/new/", entry | {"risk": "?"}).content.decode()
    assert "<script>alert(1)" not in page
    assert "</textarea><b>x" not in page


def test_a_bare_speed_is_in_rpm(client, db):
    assert client.post("/jobs/new/", ENTRY | {"speed": "33 1/3"}).status_code == 302
    assert Intake.objects.get().speed_rpm == pytest.approx(100 / 3)


def test_an_empty_form_marks_what_is_needed(client, db):
    answer = client.post("/jobs/new/", {})
    assert answer.status_code == 422
    assert set(answer.context["form"].errors) == {"deck_description", "arm_kind"}


def test_a_further_deck_of_an_owner(client, bench):
    answer = client.post(f"/jobs/new/owner/{bench.owner.number}/", ENTRY)
    assert answer.status_code == 302
    assert Owner.objects.count() == 1
    assert Deck.objects.count() == 2


def test_a_deck_that_comes_back_starts_from_its_last_facts(client, bench):
    page = client.get(f"/jobs/new/deck/{bench.deck.number}/").content.decode()
    for known in ("Nine-inch arm", "12 g +- 0.5 g", "1.6:2.2 g", "1.9 mm +- 0.1 mm"):
        assert known in page


def test_what_is_typed_unchanged_adds_no_second_arm(client, bench):
    last = bench.job.intakes.get()
    entry = initial_values(bench.deck, last) | {"complaint": "again"}
    entry = {name: text for name, text in entry.items() if text not in (False, "", None)}
    assert client.post(f"/jobs/new/deck/{bench.deck.number}/", entry).status_code == 302
    assert (Arm.objects.count(), Cartridge.objects.count(), Deck.objects.count()) == (1, 1, 1)
    first, second = Intake.objects.order_by("pk")
    facts = ("arm_id", "cartridge_id", "innermost_mm", "outermost_mm", "speed_rpm", "decision_rule")
    assert [getattr(first, name) for name in facts] == [getattr(second, name) for name in facts]
    assert second.guard_factor == pytest.approx(first.guard_factor, abs=1e-9)
    assert second.maximum_risk == pytest.approx(first.maximum_risk, abs=1e-9)


def test_a_changed_arm_corrects_the_old_one_and_another_cartridge_is_a_new_one(client, bench):
    assert client.post(f"/jobs/{bench.job.number}/take-in/", AGAIN).status_code == 302
    old, new = Arm.objects.order_by("pk")
    assert new.corrects == old
    assert list(Cartridge.objects.values_list("corrects", flat=True)) == [None, None]
    assert list(bench.job.intakes.values_list("version", flat=True)) == [1, 2]


def test_a_complaint_is_put_anew_where_the_job_was_taken_in(client, bench):
    take_in = f"/jobs/{bench.job.number}/take-in/"
    assert "harsh at the end of a side</textarea>" in client.get(take_in).content.decode()
    assert client.post(take_in, AGAIN | {"complaint": "harsh at the end of a side\r\n"}).status_code == 302
    assert not bench.job.complaint_corrections.exists()
    assert client.post(take_in, AGAIN | {"complaint": "harsh on both sides"}).status_code == 302
    assert bench.job.complaint_corrections.get().text == "harsh on both sides"
    assert "harsh on both sides</textarea>" in client.get(take_in).content.decode()


def test_take_in_again_keeps_what_was_typed_on_an_error(client, bench):
    answer = client.post(f"/jobs/{bench.job.number}/take-in/", AGAIN | {"force_range": "1.6:2.2 mm"})
    assert answer.status_code == 422
    assert "1.6:2.2 mm" in answer.content.decode()
    assert bench.job.intakes.count() == 1


def test_owners_and_decks_are_found_while_typing(client, bench):
    page = client.get("/jobs/new/find/", {"sought": "ilse"}).content.decode()
    assert f"/jobs/new/deck/{bench.deck.number}/" in page
    assert f"/jobs/new/owner/{bench.owner.number}/" in page
    assert "No owner and no deck" in client.get("/jobs/new/find/", {"sought": "zzz"}).content.decode()
    assert "/jobs/new/" not in client.get("/jobs/new/find/", {"sought": " "}).content.decode()


def test_the_rule_is_said_in_a_sentence_while_it_is_typed(client, db):
    rule = {"length_tolerance": "-0.5:0.5 mm", "decision_rule": "guarded acceptance", "risk": "5 %"}
    assert "1.64 standard uncertainties" in client.post("/jobs/new/rule/", rule).content.decode()
    answer = client.post("/jobs/new/rule/", rule | {"risk": "never"})
    assert answer.status_code == 422
    assert "does not have a number" in answer.content.decode()


@pytest.mark.parametrize("address", ["/jobs/99/take-in/", "/jobs/new/owner/99/", "/jobs/new/deck/99/"])
def test_what_is_unknown_is_not_found(client, db, address):
    assert client.get(address).status_code == 404
    assert client.post(address, ENTRY).status_code == 404


@pytest.mark.parametrize(
    ("address", "method"),
    [
        ("/jobs/new/", "put"),
        ("/jobs/1/take-in/", "delete"),
        ("/jobs/new/owner/1/", "put"),
        ("/jobs/new/deck/1/", "put"),
        ("/jobs/new/find/", "post"),
        ("/jobs/new/rule/", "get"),
    ],
)
def test_wrong_methods_are_refused(client, bench, address, method):
    assert getattr(client, method)(address).status_code == 405


def test_a_get_writes_nothing(client, bench):
    for address in ("/jobs/new/", "/jobs/1/take-in/", "/jobs/new/deck/1/", "/jobs/new/owner/1/"):
        assert client.get(address).status_code == 200
    assert (Job.objects.count(), Intake.objects.count(), Owner.objects.count()) == (1, 1, 1)


@pytest.mark.parametrize("text", ["222 mm +- 0.3 mm", "8 3/4 in", "222 ± 0,6 mm (k=2)"])
def test_a_quantity_is_typed_again_as_it_was_typed(text):
    field = QuantityField("length", source="rule", example="222 mm")
    first = field.clean(text)
    assert typed_again(first) == text
    assert field.clean(typed_again(first)) == first


def test_whole_hours_on_the_stylus_stand_without_a_decimal_point(client, bench):
    assert 'name="stylus_hours" value="120"' in client.get(f"/jobs/{bench.job.number}/take-in/").content.decode()


def test_a_quantity_that_was_never_typed_reads_back_as_itself():
    force = Quantity.measured(18.142, "mN", standard_uncertainty=0.098, source="scale")
    back = QuantityField("force", source="scale", example="1.85 g").clean(typed_again(force))
    assert back.value == pytest.approx(force.value, rel=1e-9)
    assert back.standard_uncertainty == pytest.approx(0.098, rel=1e-5)


def test_an_empty_optional_field_is_unknown_and_not_zero():
    assert QuantityField("mass", source="m", example="6 g", required=False).clean("  ") is None
    assert RangeField("length", example="1:2", lowest=0, highest=9, required=False).clean("") is None
