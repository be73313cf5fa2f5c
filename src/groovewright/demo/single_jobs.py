"""Jobs of the invented workshop, each in the state that it is there to show. Owners and decks are made up."""

from __future__ import annotations

from groovewright.demo.capture import capture_as_found
from groovewright.demo.true_bench import TrueDeck, TrueScale
from groovewright.demo.workshop import VisitOnBench, Workshop
from groovewright.jobbook import entries
from groovewright.jobbook.models import ScaleCheck


def finished_job(workshop: Workshop) -> None:
    """Enter a job from taking in to handing over, with a capture."""
    visit = workshop.take_in(
        owner="Marlene Achterberg",
        contact="calls on Tuesdays",
        deck="Belt-drive deck, walnut plinth",
        arm="Nine-inch arm, straight tube, removable headshell",
        complaint="Voices turn harsh towards the end of a side.",
        truth=TrueDeck(222.3, 236.9, 1.52),
        days_ago=24,
    )
    targets = workshop.choose(visit)
    workshop.print_and_check(visit, targets)
    workshop.check_scale(visit, TrueScale(), ScaleCheck.When.BEFORE)
    workshop.read(visit, "as found")
    capture_as_found(visit.job, targets, effective_length_mm=visit.truth.effective_length_mm)
    aligned = TrueDeck(222.3, targets.effective_length.value + 0.05, 1.79)
    workshop.read(VisitOnBench(visit.job, visit.arm, visit.cartridge, aligned), "as left")
    workshop.check_scale(visit, TrueScale(), ScaleCheck.When.AFTER)


def job_with_a_force_difference(workshop: Workshop) -> None:
    """Enter a job whose arm is pulled aside near the centre."""
    visit = workshop.take_in(
        owner="Tobias Wennergren",
        contact="leaves the deck with his neighbour",
        deck="Idler-drive deck, grey hammered metal",
        arm="Nine-inch arm, curved tube",
        complaint="One side of the disc sounds duller than the other.",
        truth=TrueDeck(215.4, 232.8, 1.74, inner_excess_g=0.16),
        days_ago=17,
    )
    targets = workshop.choose(visit)
    workshop.print_and_check(visit, targets)
    workshop.check_scale(visit, TrueScale(), ScaleCheck.When.BEFORE)
    workshop.read(visit, "as found")
    entries.record_fault(visit.job, text="The arm cable is stiff and pulls on the arm near the centre.")


def job_with_a_drifting_scale(workshop: Workshop) -> None:
    """Enter a job whose scale changed between its two checks."""
    visit = workshop.take_in(
        owner="Philippa Oduya",
        contact="",
        deck="Direct-drive deck, black plinth with a lid",
        arm="Nine-inch arm, S-shaped tube",
        complaint="New cartridge to be fitted.",
        truth=TrueDeck(214.8, 232.3, 1.77),
        days_ago=11,
    )
    workshop.choose(visit)
    workshop.check_scale(visit, TrueScale(), ScaleCheck.When.BEFORE)
    workshop.read(visit, "as found")
    workshop.check_scale(visit, TrueScale(gain=1.035, offset_g=0.03), ScaleCheck.When.AFTER)


def job_out_of_tolerance(workshop: Workshop) -> None:
    """Enter a job that is out in length and force."""
    visit = workshop.take_in(
        owner="Henrik Solvang-Bae",
        contact="prefers letters",
        deck="Belt-drive deck, slate plinth, outboard motor",
        arm="Twelve-inch arm, straight tube",
        complaint="Bought second hand; never set up since.",
        truth=TrueDeck(295.1, 304.6, 2.18),
        days_ago=8,
    )
    targets = workshop.choose(visit)
    workshop.print_and_check(visit, targets)
    workshop.check_scale(visit, TrueScale(), ScaleCheck.When.BEFORE)
    workshop.read(visit, "as found")


def job_with_a_checked_plate(workshop: Workshop) -> None:
    """Enter a job whose plate was printed, measured and issued again."""
    visit = workshop.take_in(
        owner="Rosalind Tamura",
        contact="at the bakery until three",
        deck="Belt-drive deck, birch plinth, sprung",
        arm="Nine-inch arm, straight tube, fixed headshell",
        complaint="Skips on one record.",
        truth=TrueDeck(222.0, 239.0, 1.8),
        days_ago=5,
        mistracking=True,
    )
    workshop.print_and_check(visit, workshop.choose(visit))


def job_with_targets(workshop: Workshop) -> None:
    """Enter a job whose targets are chosen."""
    visit = workshop.take_in(
        owner="Casimir Leclercq-Horn",
        contact="",
        deck="Direct-drive deck, grey, from a radio studio",
        arm="Ten-inch arm, straight tube",
        complaint="Yearly check.",
        truth=TrueDeck(240.2, 256.0, 1.7),
        days_ago=3,
    )
    workshop.choose(visit)


def job_just_taken_in(workshop: Workshop) -> None:
    """Enter a job that has just come in."""
    workshop.take_in(
        owner="Aurelia Bensaid",
        contact="collects on Saturday",
        deck="Belt-drive deck, cherry plinth",
        arm="Nine-inch arm, straight tube",
        complaint="Hum, and the arm drifts outwards.",
        truth=TrueDeck(222.0, 238.0, 1.6),
        days_ago=0,
    )
