"""Whether a recording confirms what its sheet says, and what happened on the way."""
