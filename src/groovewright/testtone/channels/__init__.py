"""Crosstalk, azimuth, balance and polarity of two channels."""
