"""Bands found in a recording, its outline, and clipping."""
