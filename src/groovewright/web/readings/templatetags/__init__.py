"""Template tags of results."""
