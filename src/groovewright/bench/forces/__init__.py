"""Tracking force and side force, from readings to quantities with notes and faults."""
