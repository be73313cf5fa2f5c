"""Groovewright: geometry, forces, plates, verdicts and reports for setting up record players."""

__version__ = "0.1.0"
