"""The page on which the geometry of a deck is chosen."""
