"""A deck whose truth is known, and the recordings it would give. No verdict ever rests on it."""
