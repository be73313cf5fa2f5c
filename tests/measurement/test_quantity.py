import json
import math
import pickle

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from groovewright.measurement.propagation import propagate
from groovewright.measurement.quantity import Quantity, Source, correlated_quantities, covariance

finite = st.floats(-1e6, 1e6)
sources = st.builds(
    Source,
    label=st.text(min_size=1, max_size=8).filter(str.strip),
    degrees_of_freedom=st.one_of(st.just(math.inf), st.floats(0.5, 100)),
    ensemble=st.sampled_from(["", "fit 3"]),
)
quantities = st.one_of(
    st.builds(Quantity, finite, st.just("mm"), st.dictionaries(sources, finite, max_size=4), how=st.text(max_size=9)),
    st.builds(Quantity.unknown_uncertainty, finite, st.just("mN"), why=st.text(min_size=1, max_size=9)),
)


@settings(max_examples=80)
@given(quantities)
def test_record_holds_everything_and_survives_json(quantity):
    assert Quantity.from_record(json.loads(json.dumps(quantity.as_record()))) == quantity


def test_a_record_written_before_there_were_ensembles_is_still_read():
    record = Quantity.measured(222, "mm", standard_uncertainty=0.3, source="rule").as_record()
    del record["components"][0]["ensemble"]
    assert Quantity.from_record(record).components == {Source("rule"): 0.3}


@pytest.mark.parametrize("rectangular", [True, False])
def test_a_record_keeps_whether_an_error_is_bounded_and_older_ones_say_nothing_of_it(rectangular):
    rounded = Quantity.measured(222, "mm", standard_uncertainty=0.3, source="rule", rectangular=rectangular)
    record = json.loads(json.dumps(rounded.as_record()))
    assert [source.rectangular for source in Quantity.from_record(record).components] == [rectangular]
    del record["components"][0]["rectangular"]
    assert [source.rectangular for source in Quantity.from_record(record).components] == [False]


def test_one_error_stays_one_whether_or_not_both_say_that_it_is_bounded():
    older = Quantity.measured(1.0, "mm", standard_uncertainty=0.3, source="rule")
    newer = Quantity.measured(2.0, "mm", standard_uncertainty=0.3, source="rule", rectangular=True)
    assert covariance(older, newer) == pytest.approx(0.09)


@settings(max_examples=80)
@given(quantities)
def test_json_has_exactly_the_three_agreed_keys(quantity):
    assert quantity.as_json() == {
        "value": quantity.value,
        "unit": quantity.unit,
        "standard_uncertainty": quantity.standard_uncertainty,
    }


def test_unknown_uncertainty_is_none_with_a_reason():
    unknown = Quantity.unknown_uncertainty(222, "mm", why="no certificate")
    assert unknown.standard_uncertainty is None
    assert unknown.why_unknown == "no certificate"


@pytest.mark.parametrize(
    ("make", "message"),
    [
        (lambda: Quantity(math.nan, "mm"), "finite value"),
        (lambda: Quantity(math.inf, "mm"), "finite value"),
        (lambda: Quantity(1, "mm", None), "needs a reason"),
        (lambda: Quantity(1, "mm", {}, "why"), "must not carry any"),
        (lambda: Quantity(1, "mm", {Source("rule"): math.nan}), "not finite"),
        (lambda: Quantity.measured(1, "mm", standard_uncertainty=-1, source="rule"), "0 or more"),
        (lambda: Quantity.measured(1, "mm", standard_uncertainty=math.nan, source="rule"), "0 or more"),
        (lambda: Quantity.measured(1, "mm", standard_uncertainty=math.inf, source="rule"), "0 or more"),
        (lambda: Source("  "), "needs a label"),
        (lambda: Source("rule", 0), "above 0"),
        (lambda: correlated_quantities([1, 2], [[1]], units=["mm", "mm"], source="fit"), "square covariance"),
        (lambda: correlated_quantities([1, 2], [[1, 2], [2, 1]], units=["a", "b"], source="fit"), "negative eigen"),
        (lambda: covariance(Quantity(1, "a"), Quantity.unknown_uncertainty(1, "b", why="lost")), "lost"),
    ],
)
def test_what_is_no_quantity_is_refused(make, message):
    with pytest.raises(ValueError, match=message):
        make()


def test_quantity_cannot_be_changed():
    quantity = Quantity.measured(1, "mm", standard_uncertainty=1, source="rule")
    with pytest.raises(TypeError):
        quantity.components[Source("other")] = 1.0


@settings(max_examples=60)
@given(st.lists(st.lists(st.floats(-5, 5), min_size=3, max_size=3), min_size=3, max_size=3))
def test_correlated_quantities_give_their_covariance_back(rows):
    matrix = np.array(rows) @ np.array(rows).T
    made = correlated_quantities([1, 2, 3], matrix, units=["a", "b", "c"], source="fit")
    back = [[covariance(first, second) for second in made] for first in made]
    np.testing.assert_allclose(back, matrix, rtol=0, atol=1e-6 * max(1.0, np.abs(matrix).max()))


def test_degrees_of_freedom_follow_welch_and_satterthwaite():
    quantity = Quantity(0, "mm", {Source("a", 4): 3.0, Source("b", 9): 4.0, Source("c"): 5.0})
    # u^4 / sum(u_i^4 / nu_i) with u^2 = 50.
    assert quantity.degrees_of_freedom == pytest.approx(2500 / (81 / 4 + 256 / 9))


def test_parts_of_one_fit_have_its_degrees_of_freedom_once():
    fitted, _ = correlated_quantities([1, 2], [[2, 1], [1, 2]], units=["a", "b"], source="fit", degrees_of_freedom=5)
    assert fitted.degrees_of_freedom == pytest.approx(5)
    separate = Quantity(0, "a", {Source("p", 5): 1.0, Source("q", 5): 1.0})
    assert separate.degrees_of_freedom == pytest.approx(10)


def test_one_label_with_two_degrees_of_freedom_is_not_taken_for_two_errors():
    stated = Quantity.measured(222, "mm", standard_uncertainty=0.3, source="rule")
    estimated = Quantity.measured(239, "mm", standard_uncertainty=0.3, source="rule", degrees_of_freedom=5)
    refusal = "source 'rule' comes with inf and with 5 degrees of freedom; one error has one"
    with pytest.raises(ValueError, match=refusal):
        covariance(stated, estimated)
    with pytest.raises(ValueError, match=refusal):
        propagate(lambda a, b: b - a, {"a": stated, "b": estimated}, unit="mm")


def test_equal_quantities_have_one_hash_and_those_that_differ_in_their_sources_are_told_apart():
    first, again = (Quantity.measured(222.0, "mm", standard_uncertainty=0.3, source="rule") for _ in range(2))
    other = Quantity.measured(222.0, "mm", standard_uncertainty=0.4, source="rule")
    assert {first: "remembered"}[again] == "remembered"
    assert other not in {first: "remembered"}


def test_a_quantity_passes_between_processes_as_it_is():
    shared = Source("steel rule")
    for quantity in (
        Quantity(222.0, "mm", {shared: 0.3, Source("reading"): -0.1}, how="read twice"),
        Quantity.unknown_uncertainty(1.0, "mN", why="none was stated"),
        Quantity.exact(2.0, "g"),
    ):
        assert pickle.loads(pickle.dumps(quantity)) == quantity
