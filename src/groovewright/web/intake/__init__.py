"""Taking a deck in: owner, deck, arm, cartridge, complaint, records, tolerance and rule."""
