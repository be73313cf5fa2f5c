"""`groovewright resonance`: where arm and cartridge resonate."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from groovewright.cli.help_page import Command
from groovewright.cli.output import print_json, print_table, probability_text, quantity_json, quantity_text
from groovewright.cli.refusal import refusing
from groovewright.cli.values import QuantityValue, json_option

if TYPE_CHECKING:
    from groovewright.measurement.quantity import Quantity
    from groovewright.tonearm.resonance import Resonance

QUOTED_AT_HZ = {"10Hz": 10.0, "100Hz": 100.0, "unknown": None}


@click.command(cls=Command)
@click.option(
    "--mass",
    type=QuantityValue("mass", "moving mass as given", "20 g"),
    required=True,
    help="Effective mass of the arm with cartridge and fasteners, such as 20g.",
)
@click.option(
    "--compliance",
    type=QuantityValue("compliance", "compliance as given", "12 um/mN"),
    required=True,
    help="Dynamic compliance of the cartridge, such as 12um/mN.",
)
@click.option(
    "--quoted-at",
    type=click.Choice(list(QUOTED_AT_HZ), case_sensitive=False),
    default="10Hz",
    show_default=True,
    help="Frequency at which the compliance holds; at 100 Hz it is lower than at the resonance.",
)
@json_option
def resonance(*, mass: Quantity, compliance: Quantity, quoted_at: str, as_json: bool) -> None:
    """Give the resonance of a moving mass on a cartridge's compliance, against the aim of 8 to 12 Hz.

    For example:
      groovewright resonance --mass 20g --compliance 12um/mN
      groovewright resonance --mass "20 g +- 1 g" --compliance "12 um/mN +- 2 um/mN" --quoted-at 100Hz
    """
    from groovewright.tonearm.resonance import resonance as resonance_of

    with refusing(ValueError):
        found = resonance_of(mass, compliance, compliance_quoted_at_hz=QUOTED_AT_HZ[quoted_at])
    if as_json:
        print_json(_found(found))
        return
    print_table("Resonance of arm and cartridge", _rows(found), found.notes)


def _found(found: Resonance) -> dict[str, object]:
    return {
        "resonance_frequency": quantity_json(found.frequency),
        "mass": quantity_json(found.moving_mass),
        "compliance": quantity_json(found.compliance),
        "verdict": found.verdict.outcome,
        "probability_of_conformity": found.verdict.probability_of_conformity,
        "reason": found.verdict.reason,
        "notes": list(found.notes),
    }


def _rows(found: Resonance) -> list[tuple[str, str]]:
    return [
        ("moving mass", quantity_text(found.moving_mass)),
        ("compliance at 10 Hz", quantity_text(found.compliance)),
        ("resonance", quantity_text(found.frequency)),
        ("verdict", found.verdict.outcome),
        ("probability of conformity", probability_text(found.verdict.probability_of_conformity)),
        ("why", found.verdict.reason),
    ]
