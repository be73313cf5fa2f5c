"""What a report prints of a quantity that is known to very many digits."""

import pytest

from groovewright.measurement.formatting import split_quantity
from groovewright.measurement.quantity import Quantity
from groovewright.report.cells import quantity_cell, quantity_text
from groovewright.report.sensible_digits import in_sensible_digits


@pytest.mark.parametrize(
    ("value", "uncertainty", "printed"),
    [
        (222.0049, 0.3, ("222.00", "0.30")),
        (239.29613, 0.05, ("239.296", "0.050")),
        (0.05598742, 3.4e-6, ("0.0559874", "0.0000034")),
        (0.0526414123, 4.1e-9, ("0.0526414", "0.0000010")),
        (-29.4933812, 2.0e-7, ("-29.4934", "0.0010")),
        (0.0, 1e-9, ("0.0000000000", "0.0000000010")),
    ],
)
def test_a_tiny_uncertainty_leaves_at_most_six_digits(value, uncertainty, printed):
    quantity = Quantity.measured(value, "%", standard_uncertainty=uncertainty, source="noise")
    assert split_quantity(in_sensible_digits(quantity))[:2] == printed


def test_an_exact_or_unknown_uncertainty_stays_so():
    for quantity in (Quantity.exact(1 / 3, "mm"), Quantity.unknown_uncertainty(1 / 3, "mm", why="no second reading")):
        assert in_sensible_digits(quantity) is quantity


def test_cells_and_lines_of_a_report_print_so():
    quantity = Quantity.measured(0.0526414123, "%", standard_uncertainty=4.1e-9, source="noise")
    assert (quantity_cell(quantity)["value"], quantity_cell(quantity)["spread"]) == ("0.0526414", "± 0.0000010")
    assert quantity_text(quantity) == "0.0526414 % ± 0.0000010 %"
