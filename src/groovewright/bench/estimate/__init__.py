"""All readings of a deck in one estimate of its seven settings, with a verdict for each."""
