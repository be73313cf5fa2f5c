"""Readings and checks of the scale, with the result while typing."""
