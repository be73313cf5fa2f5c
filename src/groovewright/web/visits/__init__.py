"""The visits of a deck side by side: what changed, and whether it is shown to have changed."""
