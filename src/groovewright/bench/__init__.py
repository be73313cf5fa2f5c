"""What the readings of one deck mean together: targets, results, verdicts and what is still to do."""
