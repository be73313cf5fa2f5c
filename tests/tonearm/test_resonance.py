import math
import tomllib
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from groovewright.measurement.quantity import Quantity
from groovewright.tonearm.resonance import compliance_at_10_hz, moving_mass, resonance, resonance_frequency

PUBLISHED = tomllib.loads((Path(__file__).parents[1] / "published" / "force_resonance.toml").read_text("utf-8"))


def grams(value, u=None):
    if u is None:
        return Quantity.exact(value, "g")
    return Quantity.measured(value, "g", standard_uncertainty=u, source=f"mass {value}")


def compliance(value, u=1.0):
    return Quantity.measured(value, "um/mN", standard_uncertainty=u, source="maker's compliance")


@pytest.mark.parametrize("row", PUBLISHED["row"], ids=lambda row: f"{row['mass_g']} g, {row['compliance_um_mn']} um/mN")
def test_frequency_matches_the_worked_values(row):
    found = resonance_frequency(mass_g=row["mass_g"], compliance_um_mn=row["compliance_um_mn"])
    assert found == pytest.approx(row["frequency_hz"], abs=row["printed_to_hz"] / 2)


@settings(max_examples=50, deadline=None)
@given(st.floats(1, 60), st.floats(2, 60))
def test_at_resonance_spring_and_mass_balance(mass_g, compliance_um_mn):
    omega = 2 * math.pi * resonance_frequency(mass_g=mass_g, compliance_um_mn=compliance_um_mn)
    mass_kg, compliance_m_n = mass_g * 1e-3, compliance_um_mn * 1e-3
    assert omega**2 * mass_kg * compliance_m_n == pytest.approx(1.0, rel=1e-12)


def test_masses_add_with_their_uncertainties():
    mass = moving_mass(arm=grams(11, 0.3), cartridge=grams(6.5, 0.4), fasteners=grams(0.8))
    assert mass.value == pytest.approx(18.3)
    assert mass.standard_uncertainty == pytest.approx(0.5, rel=1e-6)


def test_frequency_carries_half_the_relative_uncertainty_of_mass_and_compliance():
    found = resonance(grams(20, 0.8), compliance(12, 0.6))
    assert found.frequency.standard_uncertainty / found.frequency.value == pytest.approx(
        math.hypot(0.8 / 20, 0.6 / 12) / 2, rel=1e-4
    )
    assert found.verdict.outcome == "in tolerance"
    assert found.notes == ()


def test_compliance_at_100_hz_is_raised_by_a_range_and_says_so():
    quoted = Quantity.exact(10, "um/mN")
    raised = compliance_at_10_hz(quoted, quoted_at_hz=100.0)
    assert raised.value == pytest.approx(17.5)
    # Rectangular from 15 to 20.
    assert raised.standard_uncertainty == pytest.approx(5 / math.sqrt(12), rel=1e-6)
    assert "1.5 to 2" in resonance(grams(12), quoted, compliance_quoted_at_hz=100.0).notes[0]


def test_an_unsaid_frequency_widens_more_and_10_hz_not_at_all():
    quoted = Quantity.exact(10, "um/mN")
    unsaid = compliance_at_10_hz(quoted, quoted_at_hz=None)
    assert (unsaid.value, unsaid.standard_uncertainty) == (15.0, pytest.approx(10 / math.sqrt(12), rel=1e-6))
    assert compliance_at_10_hz(quoted, quoted_at_hz=10.0) == quoted
    assert "does not say" in resonance(grams(12), quoted, compliance_quoted_at_hz=None).notes[0]


def test_a_compliance_without_uncertainty_gives_a_frequency_that_shows_nothing():
    found = resonance(grams(20), Quantity.unknown_uncertainty(12, "um/mN", why="the maker states none"))
    assert found.frequency.value == pytest.approx(10.27, abs=0.005)
    assert found.frequency.standard_uncertainty is None
    assert found.verdict.outcome == "undecided"


@pytest.mark.parametrize(
    ("mass_g", "outcome", "said"), [(8, "out of tolerance", "Above 12 Hz"), (60, "out of tolerance", "warps")]
)
def test_far_from_the_aim_the_remedy_is_named(mass_g, outcome, said):
    found = resonance(grams(mass_g, 0.1), compliance(12, 0.2))
    assert found.verdict.outcome == outcome
    assert any(said in note for note in found.notes)


def test_impossible_input_is_refused_with_its_value():
    with pytest.raises(ValueError, match="mass of 0 g"):
        resonance_frequency(mass_g=0, compliance_um_mn=12)
    with pytest.raises(ValueError, match="compliance of -2"):
        resonance(grams(20), Quantity.exact(-2, "um/mN"))
    with pytest.raises(ValueError, match="quoted at 50 Hz"):
        compliance_at_10_hz(compliance(10), quoted_at_hz=50.0)
    with pytest.raises(ValueError, match="-1 g for cartridge"):
        moving_mass(arm=grams(11), cartridge=grams(-1))


def test_a_mass_or_compliance_in_another_unit_is_refused():
    with pytest.raises(ValueError, match="the mass of the arm must be given in g, not in 'kg'"):
        moving_mass(arm=Quantity.exact(0.012, "kg"), cartridge=Quantity.exact(6, "g"))
    with pytest.raises(ValueError, match="the compliance must be given in um/mN, not in 'mm/N'"):
        resonance(Quantity.exact(20, "g"), Quantity.exact(12, "mm/N"))
