"""The geometry and mechanics of a record player's arm, computed from plain numbers and arrays."""
