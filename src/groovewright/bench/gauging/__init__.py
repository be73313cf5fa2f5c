"""Gauges compared, and what an arc trace says."""
