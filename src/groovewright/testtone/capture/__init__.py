"""A whole capture: one recording and its band sheet to every quantity that they can show."""
