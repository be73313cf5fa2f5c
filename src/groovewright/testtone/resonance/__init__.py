"""Resonance of the arm, and response from sweeps."""
