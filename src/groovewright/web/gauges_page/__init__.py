"""Gauges compared: ready ones whose plays can be edited, and one of your own."""
