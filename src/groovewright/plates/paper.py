"""Papers, what a printer leaves of them, and the refusal of a plate that does not fit."""

from __future__ import annotations

from dataclasses import dataclass

UNPRINTABLE_MARGIN_MM = 5.0
"""Strip along each edge that no plate uses, because many printers can't reach it. [mm]"""


@dataclass(frozen=True, slots=True)
class Paper:
    """A sheet, upright.

    Parameters
    ----------
    name : str
        Name as in the shop.
    width_mm, height_mm : float
        Size of the sheet, the shorter side first. [mm]
    """

    name: str
    width_mm: float
    height_mm: float

    def turned(self) -> Paper:
        """Return the sheet lying on its side."""
        return Paper(self.name, self.height_mm, self.width_mm)

    def holds(self, width_mm: float, height_mm: float) -> bool:
        """Return whether a drawing of this size lies inside the margins of the sheet as it stands."""
        left_mm = self.width_mm - 2 * UNPRINTABLE_MARGIN_MM, self.height_mm - 2 * UNPRINTABLE_MARGIN_MM
        return width_mm <= left_mm[0] and height_mm <= left_mm[1]


PAPERS: dict[str, Paper] = {
    paper.name: paper
    for paper in (
        Paper("A5", 148.0, 210.0),
        Paper("A4", 210.0, 297.0),
        Paper("A3", 297.0, 420.0),
        Paper("Letter", 215.9, 279.4),
    )
}
"""By name, in the order in which they are offered. Sizes by ISO 216 and ANSI/ASME Y14.1."""


def page_for(paper_name: str, *, width_mm: float, height_mm: float) -> Paper:
    """Return the sheet, upright or on its side, on which a drawing of this size fits.

    Parameters
    ----------
    paper_name : str
        A key of `PAPERS`.
    width_mm, height_mm : float
        Size of the drawing on the page. [mm]

    Raises
    ------
    ValueError
        If the paper is unknown or too small; the message names the paper that would do.
    """
    if paper_name not in PAPERS:
        raise ValueError(f"There is no paper called {paper_name!r} here; choose {', '.join(PAPERS)}.")
    paper = PAPERS[paper_name]
    lying = width_mm > height_mm
    for page in (paper.turned(), paper) if lying else (paper, paper.turned()):
        if page.holds(width_mm, height_mm):
            return page
    shown = paper.turned() if lying else paper
    refusal = (
        f"The plate is {width_mm:.0f} x {height_mm:.0f} mm; {paper.name} leaves "
        f"{shown.width_mm - 2 * UNPRINTABLE_MARGIN_MM:.0f} x {shown.height_mm - 2 * UNPRINTABLE_MARGIN_MM:.0f} mm."
    )
    for other in PAPERS.values():
        if other.holds(width_mm, height_mm) or other.turned().holds(width_mm, height_mm):
            raise ValueError(f"{refusal} Choose {other.name}: plates are never scaled to fit.")
    raise ValueError(
        f"{refusal} No paper here holds it, and plates are never scaled to fit: "
        "take fewer neighbouring arcs or a smaller groove range."
    )
