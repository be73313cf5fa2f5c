"""Tracking error, vertical tracking angle and tracking ability."""
