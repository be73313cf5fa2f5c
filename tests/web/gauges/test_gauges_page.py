import json
import re

import pytest

from groovewright.files.chain_sheet import chain_sheet_text, read_chain_sheet
from groovewright.gauges.ready_chains import READY_CHAINS
from groovewright.web.gauges_page.forms import ComparisonForms, starting_entries

pytestmark = pytest.mark.django_db

PAGE, PREVIEW = "/gauges/compare/", "/gauges/compare/preview/"
OWN = chain_sheet_text(READY_CHAINS["beam"]).replace('name = "Beam"', 'name = "Own beam"', 1)


def entries(**changes):
    return starting_entries() | {key.replace("__", "-"): value for key, value in changes.items()}


def picked_alone(key):
    return {name: value for name, value in starting_entries().items() if not name.endswith("-picked")} | {
        f"{key}-picked": "on"
    }


def order_of(answer):
    return [gauge.answer.chain.name for gauge in answer.context["gauges"]]


def test_the_page_opens_with_the_ready_gauges_ranked(client):
    answer = client.get(PAGE)
    assert answer.status_code == 200
    assert order_of(answer)[:2] == ["Beam", "Arc trace"]
    assert set(order_of(answer)) == {chain.name for chain in READY_CHAINS.values()}
    shown = answer.content.decode()
    assert 'aria-current="page"' in shown
    figure = json.loads(re.search(r'id="curves-numbers" type="application/json">(.*?)</script>', shown)[1])
    assert {trace["name"] for trace in figure["data"]} == {"Target", *order_of(answer)}


def test_starting_entries_are_the_ready_gauges_themselves():
    typed = ComparisonForms(starting_entries())
    assert typed.is_valid()
    assert typed.chains() == READY_CHAINS


def test_a_finer_play_is_ranked_anew(client):
    play = {f"single-point-play-{k}": "0.01 mm" for k in range(7)} | {"single-point-play-7": "0.05°"}
    answer = client.post(PREVIEW, entries() | play)
    assert answer.status_code == 200
    assert order_of(answer)[0] == "Single-point gauge"


def test_only_what_is_ticked_is_compared(client):
    assert order_of(client.post(PREVIEW, picked_alone("arc-trace"))) == ["Arc trace"]


def test_a_gauge_of_ones_own_is_compared(client):
    answer = client.post(PAGE, entries(own__sheet=OWN))
    assert answer.status_code == 200
    assert "Own beam" in order_of(answer)
    assert answer.content.decode().count("Own beam") > 3


def test_a_known_print_scale_is_carried_through(client):
    known = {"two-null-plate-known-0": "3 %", "target-length_limit": "3 mm", "target-zenith_limit": "3 deg"}
    answer = client.post(PREVIEW, picked_alone("two-null-plate") | known)
    figures = answer.context["gauges"][0].answer.found.figures
    # Null radii 3 % larger: L = sqrt(D^2 + 1.03^2 n1 n2), 1.012 mm above the target to three digits.
    assert figures["effective_length_error"].value == pytest.approx(1.012, abs=0.005)


BAD = [
    ("beam-play-0", "much", "beam-play-0", "much"),
    ("beam-play-0", "0.05 g", "beam-play-0", "0.05 g"),
    ("beam-play-0", "0.1 mm +- 0.01 mm", "beam-play-0", "leave the ± away"),
    ("beam-play-0", "80 mm", "beam-play-0", "outside what can be right"),
    ("beam-play-0", "", "beam-play-0", "Nothing was typed"),
    ("beam-spread-0", "gaussian", "beam-spread-0", "gaussian"),
    ("arc-trace-places", "two", "arc-trace-places", "whole number from 3 to 50"),
    ("two-null-plate-known-0", "90 %", "two-null-plate-known-0", "outside what can be right"),
    ("target-pivot_to_spindle", "222 kg", "target-pivot_to_spindle", "222 kg is a mass"),
    ("target-pivot_to_spindle", "120 mm", "target-pivot_to_spindle", "inside the outermost groove"),
    ("target-length_limit", "0 mm", "target-length_limit", "outside what can be right"),
    ("target-groove", "own", "target-own_range", "write them like 60.325:146.05"),
    ("own-sheet", "name = ", "own-sheet", "not valid TOML"),
    ("own-sheet", chain_sheet_text(READY_CHAINS["beam"]), "own-sheet", "give this one its own name"),
    ("own-sheet", OWN.replace('"0.05 mm"', '"0.05 s"', 1), "own-sheet", "[[joints]] number 1, clearance"),
]


@pytest.mark.parametrize(("name", "typed", "beside", "words"), BAD)
def test_a_bad_entry_is_kept_and_what_would_be_right_stands_beside_it(client, name, typed, beside, words):
    for address in (PAGE, PREVIEW):
        answer = client.post(address, entries() | {name: typed})
        assert answer.status_code == 422
        errors = {
            field.html_name: " ".join(field.errors)
            for form in answer.context["typed"].all
            for field in form
            if field.errors
        }
        assert list(errors) == [beside]
        assert words in errors[beside]
    kept = client.post(PAGE, entries() | {name: typed}).context["typed"]
    held = {field.html_name: field.value() for form in kept.all for field in form}
    assert held[name] == typed


def test_a_preview_that_is_refused_leaves_the_comparison_as_it_is(client):
    answer = client.post(PREVIEW, entries(beam__picked="on") | {"beam-play-0": "much"})
    assert answer["HX-Reswap"] == "none"
    shown = answer.content.decode()
    assert 'id="results"' not in shown
    assert 'id="words-id_beam-play-0" hx-swap-oob="true"' in shown


def test_a_bad_entry_of_a_gauge_that_is_not_ticked_is_not_in_the_way(client):
    answer = client.post(PREVIEW, picked_alone("beam") | {"single-point-play-0": "much"})
    assert answer.status_code == 200
    assert order_of(answer) == ["Beam"]


def test_nothing_ticked_is_said(client):
    nothing = {name: value for name, value in starting_entries().items() if not name.endswith("-picked")}
    answer = client.post(PAGE, nothing)
    assert answer.status_code == 422
    assert "No gauge is ticked" in answer.content.decode()


def test_a_gauge_too_loose_to_play_is_refused_in_words(client):
    loose = OWN.replace('clearance = "0.3 mm"', 'tolerance = "50 mm"', 1)
    answer = client.post(PAGE, entries(own__sheet=loose))
    assert answer.status_code == 422
    assert "of its set-ups the arm could not play the groove range" in answer.content.decode()


def test_nothing_typed_runs_as_markup(client):
    wild = OWN.replace("Own beam", "<b onclick=x>beam</b>").replace("Bush on", "<i>Bush</i> on")
    shown = client.post(PAGE, entries(own__sheet=wild)).content.decode()
    assert "<b onclick" not in shown
    assert "<i>Bush" not in shown


@pytest.mark.parametrize("key", READY_CHAINS)
def test_a_ready_gauge_is_given_as_a_sheet(client, key):
    answer = client.get(f"/gauges/compare/{key}.toml")
    assert answer["Content-Type"].startswith("text/plain")
    assert read_chain_sheet(answer.content.decode()) == READY_CHAINS[key]


def test_an_unknown_gauge_is_not_found(client):
    assert client.get("/gauges/compare/ruler.toml").status_code == 404


@pytest.mark.parametrize(
    ("method", "address"),
    [("put", PAGE), ("delete", PAGE), ("get", PREVIEW), ("post", "/gauges/compare/beam.toml")],
)
def test_the_wrong_method_is_refused(client, method, address):
    assert getattr(client, method)(address).status_code == 405


def test_looking_writes_nothing(client, django_assert_num_queries):
    client.get(PAGE)
    with django_assert_num_queries(0):
        client.post(PREVIEW, entries())
