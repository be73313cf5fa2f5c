"""Two visits of one deck compared."""
