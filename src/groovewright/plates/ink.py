"""Layers, inks and line widths of a plate.

What is aligned to is pure black, because a printer makes any other ink from dots and frays its edge.
"""

from __future__ import annotations

from groovewright.plates.scene import Stroke

ARCS, GRIDS, MARKS, TEXT, OUTLINE, HOLE = "ARCS", "GRIDS", "MARKS", "TEXT", "OUTLINE", "HOLE"
CUT, ETCH, DRILL = "CUT", "ETCH", "DRILL"

BLACK, INK, LACQUER, MARIGOLD = "#000000", "#13211e", "#0a5f5a", "#b26a00"

HAIRLINE = Stroke(0.07)
FINE = Stroke(0.10)
ARC = Stroke(0.14)
FRAME = Stroke(0.18, LACQUER)
RULE = Stroke(0.12, LACQUER)
GHOST = Stroke(0.09, LACQUER)
CUTTING = Stroke(0.10, MARIGOLD)
DRILLING = Stroke(0.10, LACQUER)
