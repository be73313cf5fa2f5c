"""Noise, hum and rumble."""
