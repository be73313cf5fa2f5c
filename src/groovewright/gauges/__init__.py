"""Gauges and what is known of them: check weights, the scale they calibrate, and its drift."""
