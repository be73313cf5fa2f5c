"""What the readings show, what they do not, and what was found faulty."""
