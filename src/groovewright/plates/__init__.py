"""True-scale plates: one drawing in mm, written as PDF, SVG or DXF."""
