"""The report that is handed over with the player."""
