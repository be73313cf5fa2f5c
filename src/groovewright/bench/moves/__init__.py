"""What to do next: the move that helps most, what it disturbs, and the order of work."""
