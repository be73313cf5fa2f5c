import re

import pytest

from groovewright.jobbook.models import Fault
from groovewright.measurement.conformity import DecisionRule, Tolerance, decide
from groovewright.measurement.quantity import Quantity
from groovewright.web.verdicts.what_would_show import what_would_show


def test_each_verdict_has_word_interval_chance_and_rule(client, bench):
    page = client.get("/jobs/1/verdicts/").content.decode()
    for words in (
        "out of tolerance",
        "in tolerance",
        "95 % interval",
        "Probability of conformity",
        "Guarded acceptance: in tolerance only if inside the limits by 1.64 standard uncertainties",
        'class="scale"',
    ):
        assert words in page


def test_what_the_length_does_is_said_for_its_stage(client, bench):
    page = " ".join(client.get("/jobs/1/verdicts/").content.decode().split())
    assert re.search(
        r"With the length as (found|left) and the offset angle on target, tracking error stays below", page
    )


def test_what_the_resonance_lacks_is_said(client, bench):
    assert "Needs the arm's effective mass" in client.get("/jobs/1/verdicts/").content.decode().replace("&#x27;", "'")


def test_a_fault_is_recorded_and_withdrawn_with_a_reason(client, bench):
    assert (
        client.post("/jobs/1/verdicts/fault/", {"text": "Play in <b>bearing</b>", "found": "as found"}).status_code
        == 302
    )
    page = client.get("/jobs/1/verdicts/").content.decode()
    assert "Play in &lt;b&gt;bearing&lt;/b&gt;" in page
    withdraw = f"/jobs/1/verdicts/fault/{Fault.objects.get().pk}/withdraw/"
    assert client.get(withdraw).status_code == 200
    assert client.post(withdraw, {"note": ""}).status_code == 422
    assert client.post(withdraw, {"note": "it was the counterweight"}).status_code == 302
    assert "Play in" not in client.get("/jobs/1/verdicts/").content.decode()
    assert client.post(withdraw, {"note": "again"}).status_code == 404


@pytest.mark.parametrize(
    ("entry", "sentence"),
    [
        ({"text": "", "found": "as found"}, "Say what is faulty."),
        ({"text": "x" * 3000, "found": "as found"}, "at most 2000 characters"),
        ({"text": "hum", "found": "never"}, "Select a valid choice"),
    ],
)
def test_a_wrong_fault_is_kept_and_mended(client, bench, entry, sentence):
    answer = client.post("/jobs/1/verdicts/fault/", entry)
    page = answer.content.decode()
    assert answer.status_code == 422
    assert sentence in page
    assert entry["text"] in page
    assert not Fault.objects.exists()


@pytest.mark.parametrize("address", ["", "fault/", "fault/1/withdraw/"])
def test_an_unknown_job_is_not_found(client, bench, address):
    method = client.get if address == "" else client.post
    assert method(f"/jobs/99/verdicts/{address}").status_code == 404


@pytest.mark.parametrize(("address", "method"), [("", "post"), ("fault/", "get"), ("fault/1/withdraw/", "put")])
def test_wrong_methods_are_refused(client, bench, address, method):
    assert getattr(client, method)(f"/jobs/1/verdicts/{address}").status_code == 405


def verdict(value, u, rule=None):
    quantity = Quantity.measured(value, "mm", standard_uncertainty=u, source="rule")
    return decide(quantity, Tolerance(-0.5, 0.5, "mm"), rule or DecisionRule(guard_factor=2))


def test_what_would_show_names_the_uncertainty_that_would_do():
    # 0.4 mm lies 0.1 mm inside the limit; a guard band of 2 u fits there when u is 0.05 mm.
    sentences = what_would_show(verdict(0.4, 0.2))
    assert "shown in tolerance with a standard uncertainty below 0.050 mm; now it is 0.20 mm" in sentences[0]
    assert "100 % of its square) comes from: rule" in sentences[1]
    assert "shown out of tolerance" in what_would_show(verdict(0.6, 0.2))[0]
    # With the uncertainty that was named, it is shown.
    assert verdict(0.4, 0.05).outcome == "in tolerance"


def test_what_is_settled_or_unknown_needs_no_advice():
    assert what_would_show(verdict(0.0, 0.05)) == ()
    unknown = Quantity.unknown_uncertainty(0.4, "mm", why="none was stated")
    assert what_would_show(decide(unknown, Tolerance(-0.5, 0.5, "mm"), DecisionRule())) == ()


def test_the_other_five_settings_stand_beside_length_and_force(client, bench):
    page = client.get("/jobs/1/verdicts/").content.decode()
    assert "The other five settings" in page
    for title in ("Side force", "Zenith", "Azimuth", "Stylus rake angle", "Vertical tracking angle"):
        assert f'<h3 class="setting-name">{title}</h3>' in page
    assert "What this rests on" not in page
