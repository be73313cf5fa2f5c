"""Quantities with uncertainty, in the words of JCGM 100, 101 and 106."""
