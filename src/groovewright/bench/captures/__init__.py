"""What the quantities of a capture mean: their limits and verdicts, what to do next, several plays, two compared."""
