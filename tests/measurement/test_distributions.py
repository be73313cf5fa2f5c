import math

import numpy as np
import pytest
from scipy import stats

from groovewright.measurement.distributions import (
    Arcsine,
    CurvilinearTrapezoid,
    Normal,
    Rectangular,
    StudentT,
    Triangular,
)

CASES = [
    (Normal(2, 0.5), stats.norm(2, 0.5)),
    (StudentT(2, 0.5, 7), stats.t(7, 2, 0.5)),
    (StudentT(2, 0.5, math.inf), stats.norm(2, 0.5)),
    (Rectangular(1, 4), stats.uniform(1, 3)),
    (Triangular(1, 4), stats.triang(0.5, 1, 3)),
    (Arcsine(1, 4), stats.arcsine(1, 3)),
]


@pytest.mark.parametrize(("ours", "theirs"), CASES, ids=lambda case: type(case).__name__)
def test_figures_and_draws_agree_with_scipy(ours, theirs):
    assert ours.mean == pytest.approx(theirs.mean())
    assert ours.standard_deviation == pytest.approx(theirs.std())
    drawn = ours.draw(np.random.default_rng(8), 20_000)
    assert drawn.shape == (20_000,)
    assert stats.kstest(drawn, theirs.cdf).pvalue > 0.001


def test_curvilinear_trapezoid_has_the_moments_of_the_guide():
    trapezoid = CurvilinearTrapezoid(9.0, 11.0, 0.4)
    drawn = trapezoid.draw(np.random.default_rng(9), 1_000_000)
    # JCGM 101, 6.4.3.3: (b - a)^2 / 12 + d^2 / 9.
    assert trapezoid.standard_deviation == pytest.approx(math.sqrt(4 / 12 + 0.16 / 9))
    assert drawn.std() == pytest.approx(trapezoid.standard_deviation, rel=0.003)
    assert drawn.mean() == pytest.approx(10, abs=0.003)
    assert drawn.min() >= 8.6
    assert drawn.max() <= 11.4
    # Flat between a + d and b - d.
    counts, _ = np.histogram(drawn, bins=6, range=(9.4, 10.6))
    assert counts.max() / counts.min() < 1.03


def test_curvilinear_trapezoid_has_the_degrees_of_freedom_of_its_inexactness():
    # JCGM 100, H.1.6: 10 % and 50 % inexact give 50 and 2 degrees of freedom.
    assert CurvilinearTrapezoid(-1e-6, 1e-6, 1e-7).degrees_of_freedom == pytest.approx(50)
    assert CurvilinearTrapezoid(-0.05, 0.05, 0.025).degrees_of_freedom == pytest.approx(2)


def test_t_distribution_of_two_degrees_of_freedom_has_no_standard_deviation():
    assert math.isinf(StudentT(0, 1, 2).standard_deviation)
    assert StudentT(0, 1, 2).standard_uncertainty == 1


@pytest.mark.parametrize("distribution", [Normal(0, 2), Rectangular(0, 2), Triangular(0, 2), Arcsine(0, 2)])
def test_known_distribution_has_infinite_degrees_of_freedom(distribution):
    assert math.isinf(distribution.degrees_of_freedom)
    assert distribution.standard_uncertainty == distribution.standard_deviation


@pytest.mark.parametrize(
    ("make", "message"),
    [
        (lambda: Normal(0, -1), "never negative"),
        (lambda: Normal(math.nan, 1), "finite"),
        (lambda: StudentT(0, 1, 0), "degrees of freedom above 0"),
        (lambda: StudentT(0, -1, 5), "scale of 0 or more"),
        (lambda: Rectangular(2, 1), "must be below"),
        (lambda: Triangular(1, 1), "must be below"),
        (lambda: Arcsine(0, math.inf), "finite"),
        (lambda: CurvilinearTrapezoid(0, 2, 1.5), "inexactness"),
        (lambda: CurvilinearTrapezoid(0, 2, 0), "use a rectangular"),
    ],
)
def test_what_is_no_distribution_is_refused(make, message):
    with pytest.raises(ValueError, match=message):
        make()
